/*
 * The coach on one screen of text, 80 columns and 24 lines (less when there are less): the figure
 * large enough to be read from two metres, direction in words and as an arrow, the tolerance as a
 * scale, what to do next as one sentence.
 *
 *   pure    lines of text from what is shown; writing them is the terminal's
 *   colour  says nothing that the words don't
 */
#ifndef ES_COMMAND_SCREEN_H
#define ES_COMMAND_SCREEN_H

#include "command/paint.h"
#include "evenspool/base/trim_snapshot.h"
#include "live/session.h"

#define ES_SCREEN_LINES 32
#define ES_SCREEN_ROOM 400 /* bytes of a line: a column may take three */

typedef struct es_screen_view {
    const es_trim_snapshot *now;
    const es_session_facts *facts;
    const char *remark; /* one line of ours; "" : none */
    int columns, lines;
    int utf8;
} es_screen_view;

typedef struct es_screen_line {
    es_emphasis how;
    char text[ES_SCREEN_ROOM];
} es_screen_line;

typedef struct es_screen {
    int count;
    es_screen_line at[ES_SCREEN_LINES];
} es_screen;

void es_screen_compose(const es_screen_view *view, es_screen *out);

#endif
