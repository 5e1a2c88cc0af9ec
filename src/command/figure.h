/* Figures within text for people. */
#ifndef ES_COMMAND_FIGURE_H
#define ES_COMMAND_FIGURE_H

#include "evenspool/base/adjust.h"
#include "evenspool/base/text.h"

/* "+0.400", eight columns wide; no sign at zero. */
void es_figure_add(es_text *text, double value, int decimals, int sign);

/* "+0.400 % +- 0.080 %" in columns; "not known" for NaN. */
void es_figure_error(es_text *text, double error_percent, double u95_percent);

/* "    +0.400 % +- 0.080 %  words", the words in as many lines as they need. */
void es_figure_row(double error_percent, double u95_percent, const char *words);

/* "+0.400 %" as it comes, with as many decimals as a speed has. */
void es_figure_percent(es_text *text, double percent);

/* The same of any quantity: "+50.02 us", "-3.400 dB". */
void es_figure_adjusted(es_text *text, es_adjust adjust, double value);

#endif
