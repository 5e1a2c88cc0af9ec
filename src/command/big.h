/*
 * Big: letters and figures seven lines high, to be read from across the room. Made of one character
 * each dot, twice as wide where that fits.
 */
#ifndef ES_COMMAND_BIG_H
#define ES_COMMAND_BIG_H

#include "evenspool/base/text.h"

#define ES_BIG_LINES 7

/* Capitals, figures, + - . and space; what else is in it is left blank. Columns it takes when
 * drawn into `columns`; 0: it does not fit. */
int es_big_columns(const char *text, int columns);

/* Line 0 .. ES_BIG_LINES - 1 of it; dot: what a dot is made of, one column wide. */
void es_big_line(es_text *out, const char *text, int line, int columns, const char *dot);

#endif
