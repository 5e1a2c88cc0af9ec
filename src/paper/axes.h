/*
 * Scales and ticks: where a value stands on the page, and which values to write beside it.
 * Pure geometry; the plots do the drawing.
 */
#ifndef ES_PAPER_AXES_H
#define ES_PAPER_AXES_H

#include <stddef.h>

#define ES_TICKS_MOST 24

typedef struct es_scale {
    double low, high; /* values, low < high; both > 0 when logarithmic */
    double from, to;  /* where low and high stand on the page [pt]     */
    int logarithmic;
} es_scale;

typedef struct es_ticks {
    size_t count;
    double at[ES_TICKS_MOST];
    char text[ES_TICKS_MOST][16]; /* "" : a tick without a number */
} es_ticks;

/* Place of a value [pt]; values beyond the ends stand beyond the ends. */
double es_scale_at(const es_scale *scale, double value);
/* The same, held to the ends. */
double es_scale_held(const es_scale *scale, double value);

/* Round values between low and high, at most `most` (2 .. 12); + and - written when `sign`. */
es_ticks es_ticks_linear(double low, double high, size_t most, int sign);
/* 1-2-5 between low and high (> 0); numbers at all of them, or else at decades only. */
es_ticks es_ticks_logarithmic(double low, double high, int all_numbers);
/* Whole seconds, minutes or hours of 0 .. duration_s. *unit says what the numbers are. */
es_ticks es_ticks_time(double duration_s, size_t most, const char **unit);

#endif
