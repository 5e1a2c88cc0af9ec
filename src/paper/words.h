/*
 * Figures and findings as words of the page. A figure that is not known is a dash, never 0.
 * Minus is the true minus sign; a figure that rounds to nothing carries no sign.
 */
#ifndef ES_PAPER_WORDS_H
#define ES_PAPER_WORDS_H

#include "evenspool/base/check_result.h"
#include "evenspool/base/text.h"

/* Which way a deck runs, as far as the uncertainty lets one say. */
typedef enum es_direction {
    ES_DIRECTION_UNKNOWN, /* no speed was found                                */
    ES_DIRECTION_SLOW,
    ES_DIRECTION_FAST,
    ES_DIRECTION_NEITHER /* zero lies inside the uncertainty, or is the figure */
} es_direction;

es_direction es_direction_of(const es_speed_facts *speed);
/* "slow", "fast", "on speed", "speed not known" */
const char *es_direction_word(es_direction direction);

/* "+1.24" when sign, "1.24", "-0.30"; a dash for NaN and infinities. */
void es_word_number(es_text *text, double value, int decimals, int sign);
/* Decimals that show two digits of an uncertainty, 1 .. 4; 2 when it is not known
 * (two digits: JCGM 100:2008, 7.2.6). */
int es_word_decimals(double uncertainty);
/* A flutter figure in percent, about three digits, with its unit. */
void es_word_flutter(es_text *text, double percent);
/* "± 0.021"; never rounded down to nothing. A dash when it is not known. */
void es_word_plus_minus(es_text *text, double u95, int decimals);
/* "-1.238 ± 0.021 %": value and expanded uncertainty, rounded alike, at most `most` decimals. */
void es_word_percent(es_text *text, double value, double u95, int most);
/* A rate in Hz, three digits. */
void es_word_rate(es_text *text, double rate_hz);

/* The verdict and the direction in one line, and what to make of it in a sentence. */
void es_word_headline(es_text *text, const es_check_result *result);
const char *es_word_advice(const es_check_result *result);

/* "61.4 s", "12 min 5 s", "3 h 10 min" */
void es_word_duration(es_text *text, double seconds);

/* How it was measured: tone, channel, length, format. */
void es_word_method(es_text *text, const es_check_result *result);

#endif
