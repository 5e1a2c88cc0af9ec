/*
 * The text of an SVG on its way to the file. Cairo draws letters as outlines and numbers its
 * surfaces through the life of the process; so the text is kept until it is complete, is given a
 * title and a description for screen readers and searches, and the running number is taken out.
 */
#ifndef ES_PAPER_SVG_TEXT_H
#define ES_PAPER_SVG_TEXT_H

#include "paper/out_file.h"

typedef struct es_svg_text {
    char *at; /* not terminated */
    size_t count, room;
} es_svg_text;

/* 0: no memory; nothing was added. */
int es_svg_text_add(es_svg_text *text, const unsigned char *bytes, size_t count);
/* Writes it with its title and description (plain, sound UTF-8); 0 when the file refused. */
int es_svg_text_write(const es_svg_text *text, const char *title, const char *description,
                      es_out_file *file);
void es_svg_text_free(es_svg_text *text);

#endif
