/*
 * Scatter: how far the mean speed over n turns of the capstan lies from the long-term speed,
 * learned while the deck is left alone. Two-sample (Allan) variances for doubled lengths: half the
 * mean square difference of neighbouring means. Slow changes of speed, such as a hand's, don't get
 * in; wow and flutter do.
 */
#ifndef ES_TASK_TRIM_SCATTER_H
#define ES_TASK_TRIM_SCATTER_H

#include "task/trim_curve.h"

#define ES_SCATTER_LENGTHS 7 /* 1, 2, 4 ... 64 turns */

typedef struct es_scatter {
    double square[ES_SCATTER_LENGTHS]; /* sums of half squared differences      */
    double count[ES_SCATTER_LENGTHS];  /* of them; old ones fade                */
    double
        fitted; /* variances are so many times too small, since swings were fitted and taken off */
    int64_t steps; /* turns learned from since the last reset */
} es_scatter;

void es_scatter_reset(es_scatter *scatter);

/* Learns from the turn that ends at tick `end` of an undisturbed span that begins at `start`. */
void es_scatter_learn(es_scatter *scatter, const es_curve *curve, int64_t start, int64_t end,
                      int64_t turn);

/* A mistake was made for believing it too small. */
void es_scatter_widen(es_scatter *scatter);

/* Variance of the mean over `turns` (> 0) turns; *dof its degrees of freedom. NaN:
 * nothing known. */
double es_scatter_variance(const es_scatter *scatter, double turns, double *dof);

/* The same for telling steps: a usual deck's scatter is assumed until this one's is known. */
double es_scatter_guess(const es_scatter *scatter, double turns);

#endif
