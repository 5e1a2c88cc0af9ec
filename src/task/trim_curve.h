/*
 * Curve: the last 40 s of the speed in ticks of twelve tracker readings (about 10 ms), as heard and
 * with the steady swings taken off, with sums from which the mean over any span follows at once.
 * Ticks are numbered from 0 and never renumbered.
 */
#ifndef ES_TASK_TRIM_CURVE_H
#define ES_TASK_TRIM_CURVE_H

#include "evenspool/base/status.h"
#include "evenspool/signal/tone_tracker.h"
#include "task/trim_swing.h"

#include <stdint.h>

#define ES_TICK_READINGS 12
#define ES_TICKS_HZ (ES_READINGS_HZ / ES_TICK_READINGS)
#define ES_CURVE_TICKS 4096 /* kept */

static inline int64_t es_ticks_of(double seconds)
{
    return (int64_t)(seconds * ES_TICKS_HZ);
}

static inline double es_tick_seconds(int64_t ticks)
{
    return (double)ticks / ES_TICKS_HZ;
}

typedef struct es_tick {
    double heard;  /* speed as heard [fraction]; NaN: no good tone           */
    double value;  /* the same less the swings                               */
    double way;    /* of the tape up to here, in seconds of nominal speed     */
    double time_s; /* end of the tick                                         */
    double sum;    /* of the values of all good ticks before                  */
    int64_t good;  /* number of them                                          */
} es_tick;

typedef struct es_curve {
    es_tick *tick; /* ring of ES_CURVE_TICKS */
    int64_t end;   /* number of the next tick */
    double sum, way;
    int64_t good;
    double part_sum; /* of the tick being made */
    int part_good, part;
    int spoiled; /* ticks after a bad one that are not to be trusted either */
    es_swings swings;
} es_curve;

es_status es_curve_create(es_curve *curve);
void es_curve_destroy(es_curve *curve);

/* The readings that follow don't join on to those before: the tick being made and the swings go. */
void es_curve_break(es_curve *curve);

/* deviation: speed as heard [fraction]. 1: a tick was completed. */
int es_curve_push(es_curve *curve, double deviation, int good, double time_s);

/* A whole tick at once; heard must be a number, bridged where it is not good. */
void es_curve_push_tick(es_curve *curve, double heard, int good, double time_s);

/* Other swings from now on and back to tick `from`. */
void es_curve_set_swings(es_curve *curve, const es_swings *swings, int64_t from);

/* Mean over ticks from .. to - 1; NaN: outside what is kept, or less than half of them good. */
double es_curve_mean(const es_curve *curve, int64_t from, int64_t to);

/* The same as the efficient estimate (signal/tone_fit.h) makes it, weighted with a parabola. */
double es_curve_fit(const es_curve *curve, int64_t from, int64_t to);

/* The plain mean as heard, swings and all. */
double es_curve_heard(const es_curve *curve, int64_t from, int64_t to);

/* NULL: not kept. */
const es_tick *es_curve_tick(const es_curve *curve, int64_t tick);

#endif
