/*
 * Swing: the strongest steady swings of the speed (capstan, roller, belt, reels), found in the last
 * seconds and taken off again, so that a hand's small step stands out of what is left. Their
 * long-term mean is nothing: taking them off moves no average, it only makes it certain sooner.
 *
 * A turning part keeps pace with the tape, so its phase is counted along the tape's way and not in
 * time: it runs through steps of the trimmer.
 */
#ifndef ES_TASK_TRIM_SWING_H
#define ES_TASK_TRIM_SWING_H

#define ES_SWINGS_MOST 6
#define ES_SWING_SPAN 800  /* ticks looked at, at most */
#define ES_SWING_LEAST 300 /* and at least             */
#define ES_SWING_LOW_HZ 0.3
#define ES_SWING_HIGH_HZ 16.0
#define ES_SWING_RATES 320

typedef struct es_swing_point {
    double way;    /* of the tape, in seconds of nominal speed */
    double value;  /* speed less the mean about it [fraction]  */
    double weight; /* 1; 0: not steady                         */
} es_swing_point;

typedef struct es_swing { /* value at way w: along cos(2 pi rate w) + across sin(2 pi rate w) */
    double rate;          /* per second of nominal speed */
    double along, across;
} es_swing;

typedef struct es_swings {
    int count;
    es_swing at[ES_SWINGS_MOST]; /* strongest first */
} es_swings;

/* Finds them in `count` points (their values are used up). */
void es_swings_find(es_swings *swings, es_swing_point *point, int count);

/* What they add up to at a way. */
double es_swings_value(const es_swings *swings, double way);

#endif
