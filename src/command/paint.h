/*
 * Emphasis on a terminal. Never carries meaning by itself: the words say it all.
 * auto: only when the stream is a terminal, TERM is set and not "dumb", and NO_COLOR is empty.
 */
#ifndef ES_COMMAND_PAINT_H
#define ES_COMMAND_PAINT_H

#include <stdio.h>

typedef struct es_paint {
    FILE *out;
    int on;
} es_paint;

typedef enum es_emphasis { ES_PLAIN, ES_STRONG, ES_GOOD, ES_CAREFUL, ES_WRONG } es_emphasis;

/* when: "auto", "always", "never"; NULL is auto. */
es_paint es_paint_for(FILE *out, const char *when);
void es_paint_text(const es_paint *paint, es_emphasis how, const char *text);

#endif
