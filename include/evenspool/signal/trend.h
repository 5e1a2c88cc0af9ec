/*
 * Trend: the slow side of a speed curve: mean and how well it is known, drift, start, end, picture.
 *
 *   in      steady readings that count (time, value), in order of time, gaps allowed
 *   out     time average and its standard uncertainty; robust slope; first and last part; the curve in
 *           at most ES_TREND_BLOCKS equal steps
 *   how     block means, merged in pairs when they become too many. The uncertainty of the average
 *           comes from the power that the curve, less its straight line, has in its slowest cosine
 *           terms (2 .. 13 half-waves over the capture): what could as well have been in the average.
 *           Slope by Theil and Sen's median of pairwise slopes (docs/methods.md#speed)
 *   memory  constant
 *   thread  one object, one thread at a time
 *   rt      _push never allocates; nothing but _create does
 */
#ifndef ES_SIGNAL_TREND_H
#define ES_SIGNAL_TREND_H

#include "evenspool/base/status.h"

#include <stddef.h>

#define ES_TREND_BLOCKS 1024

typedef struct es_trend es_trend;

typedef struct es_trend_figures {
    double counted_s; /* time that counts                                                   */
    double first_s, last_s;
    double mean;        /* time average                                                       */
    double mean_u;      /* its standard uncertainty from flutter and noise; NaN: too short    */
    double mean_dof;    /* degrees of freedom of mean_u                                       */
    double slope_per_s; /* NaN under 5 s                                                      */
    double start, end;  /* means over the first and last tenth, 1 .. 10 s of it; NaN under 4 s */
} es_trend_figures;

typedef struct es_trend_block {
    double sum, low, high;
    size_t count;
} es_trend_block;

/* sample_s: time that one reading stands for [s]. ES_ERR_ARG, ES_ERR_NOMEM. */
es_status es_trend_create(double sample_s, es_trend **out);
void es_trend_destroy(es_trend *trend);
void es_trend_reset(es_trend *trend);

void es_trend_push(es_trend *trend, double time_s, double value);

es_trend_figures es_trend_figures_of(es_trend *trend);

/* The curve: *count blocks of *step_s, block i from i * step_s of the capture; count 0: empty. */
const es_trend_block *es_trend_blocks(const es_trend *trend, size_t *count, double *step_s);

#endif
