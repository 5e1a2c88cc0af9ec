/*
 * Pen: text and lines on a cairo context, in points. One font family, no hinting, so that all
 * three kinds of picture look alike and come out the same on every run.
 */
#ifndef ES_PAPER_PEN_H
#define ES_PAPER_PEN_H

#include "evenspool/base/error.h"
#include "paper/labels.h"

#include <pango/pangocairo.h>

/* The palette. As text on white every one of these but `hair`, `band`, `zone` and `hills` has a
 * contrast of at least 4.5 : 1 (WCAG 2.2, 1.4.3). Nothing is told by colour alone. */
typedef enum es_ink {
    ES_INK_DARK,  /* words and figures              */
    ES_INK_QUIET, /* captions, units                */
    ES_INK_CURVE, /* measured line                  */
    ES_INK_MARK,  /* mean, components               */
    ES_INK_CALM,  /* plaque of "leave"              */
    ES_INK_HAIR,  /* rules and grids, never text    */
    ES_INK_BAND,  /* slowest to fastest             */
    ES_INK_ZONE,  /* tolerance                      */
    ES_INK_HILLS, /* under the spectrum             */
    ES_INK_FLOOR, /* noise floor                    */
    ES_INK_WHITE,
    ES_INK_COUNT
} es_ink;

/* Boxes of all text that was written, for tests; text beyond the room is counted only. */
typedef struct es_text_log {
    size_t count, room;
    es_box *boxes;
    char (*words)[40]; /* beginnings; NULL: not wanted */
} es_text_log;

typedef struct es_pen {
    cairo_t *cr;
    PangoContext *context;
    es_text_log *log; /* NULL: none */
} es_pen;

typedef struct es_style {
    double size; /* [pt]                                                         */
    int bold;
    es_ink ink;
    double align; /* 0 left of x .. 0.5 centred on x .. 1 ends at x               */
    double width; /* [pt]; 0: as wide as it comes                                 */
    int lines;    /* with a width: cut after so many; 0: never; -1: one, cut in its middle   */
} es_style;

typedef struct es_extent {
    double width, height;
} es_extent;

/* Its own font map: nothing global is taken. ES_ERR_NOMEM; ES_ERR_IO "no-font": the fonts of this
 * machine can't show the letters and signs of the page. On error it need not be closed. */
es_status es_pen_open(es_pen *pen, cairo_t *cr, es_text_log *log, es_error *error);
void es_pen_close(es_pen *pen);

/* Sound UTF-8 without control characters: titles come from file names, which may be anything.
 * To be given back with g_free(). */
char *es_pen_sound_text(const char *text);

es_extent es_pen_measure(es_pen *pen, es_style style, const char *text);
/* Writes with its top at y; returns what it took. */
es_extent es_pen_write(es_pen *pen, es_style style, double x, double y, const char *text);
/* Writes upward (turned by 90 degrees), centred on (x, y). */
void es_pen_write_up(es_pen *pen, es_style style, double x, double y, const char *text);

void es_pen_ink(es_pen *pen, es_ink ink);
void es_pen_line(es_pen *pen, es_ink ink, double width, es_point from, es_point to);
/* dash: length of strokes and gaps [pt], 0 = solid */
void es_pen_dashed(es_pen *pen, es_ink ink, double width, double dash, es_point from, es_point to);
void es_pen_fill(es_pen *pen, es_ink ink, es_box box);
void es_pen_frame(es_pen *pen, es_ink ink, double width, es_box box);
/* Slanting hairlines: an area that says nothing. */
void es_pen_hatch(es_pen *pen, es_ink ink, es_box box);

#endif
