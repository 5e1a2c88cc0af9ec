/*
 * What a hand on a screw can adjust under the coach's guidance, and the unit of each quantity.
 *
 *   speed    [%]    speed error, + fast
 *   azimuth  [us]   delay of the right channel against the left, + right later
 *   level    [dB]   level of one channel against a reference, + louder
 *   balance  [dB]   level of the right channel against the left, + right louder
 */
#ifndef ES_BASE_ADJUST_H
#define ES_BASE_ADJUST_H

#include "evenspool/base/status.h"

typedef enum es_adjust {
    ES_ADJUST_SPEED,
    ES_ADJUST_AZIMUTH,
    ES_ADJUST_LEVEL,
    ES_ADJUST_BALANCE,
    ES_ADJUST_COUNT
} es_adjust;

typedef struct es_adjust_facts {
    const char *name; /* one word, as in `trim --adjust`                         */
    const char *unit; /* as it is printed: "%", "us", "dB"                       */
    int decimals;     /* worth showing at the usual tolerance                    */
    double tolerance; /* the usual one [unit] (docs/methods.md#azimuth-coach)    */
    double tolerance_least, tolerance_most, target_most;
    const char *low, *high; /* what is below and above the target: "slow", "fast"      */
    const char *down, *up;  /* the same in one word of at most six letters, for a scale */
    const char *even;       /* neither                                                 */
    const char *zero;       /* what a target of 0 is                                   */
} es_adjust_facts;

/* Out of range: as speed. */
const es_adjust_facts *es_adjust_facts_of(es_adjust adjust);

/*
 * So many of the quantity's unit make 1 in the coach, where the usual tolerance of every quantity is
 * 0.001: what is learned about hands, steps and scatter with one serves all. Speed: 100 (percent).
 */
double es_adjust_scale(es_adjust adjust);

/* ES_ERR_ARG: no quantity of that name; *out is then the speed. */
es_status es_adjust_from_name(const char *name, es_adjust *out);

#endif
