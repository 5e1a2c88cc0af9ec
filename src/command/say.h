/* What the program says to people: errors, wrapped text, and the end of standard output. */
#ifndef ES_COMMAND_SAY_H
#define ES_COMMAND_SAY_H

#include "evenspool/base/error.h"

#include <stdio.h>

#define ES_LINE 80 /* columns of text for people */

/* "evenspool: about: sentence" on standard error; about NULL: left out. */
void es_say_error(const char *about, const es_error *error);
void es_say(const char *about, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The name with a question mark for each character that a terminal would obey instead of show. */
const char *es_shown(const char *name, char *room, size_t size);

/* 1: there is something to say, and it is not what was kept before; it is kept. */
int es_is_new(const char *text, char *kept, size_t room);

/* A file that is read, by its name: "-" is "standard input". */
const char *es_input_name(const char *file);

/* Text in lines of at most ES_LINE columns, also one with lines and control characters of its own; first and rest stand before the first line and others. */
void es_wrap(FILE *out, const char *first, const char *rest, const char *text);

/*
 * Flushes standard output: the code that the program is to end with, ES_EXIT_AROUND and a sentence
 * when something did not get out.
 */
int es_end_of_output(int code);

#endif
