/*
 * Clock watch: listens to an input for a while and compares how many frames came with the computer's
 * clock, which is looked at as well: does a time server keep it?
 *
 *   clock   CLOCK_MONOTONIC: it is steered to true rate where a time server keeps the computer's clock,
 *           and never jumps. CLOCK_MONOTONIC_RAW, the quartz itself, is compared with it
 *           meanwhile and tells how much steering was in force
 *   lost    an interruption is counted and never averaged across (task/clock.h)
 *   thread  the caller's, for as long as it takes
 */
#ifndef ES_LIVE_CLOCK_WATCH_H
#define ES_LIVE_CLOCK_WATCH_H

#include "evenspool/base/clock_result.h"
#include "evenspool/base/error.h"

#define ES_CLOCK_WATCH_LEAST_S 3.0
#define ES_CLOCK_WATCH_MOST_S 86400.0

typedef struct es_clock_wish {
    const char *input; /* as in device/device.h; "" the preferred one */
    double
        seconds; /* ES_CLOCK_WATCH_LEAST_S .. _MOST_S, without the second that it takes to settle */
    void *who;
    int (*stop)(void *who); /* 1: end now, with what there is; NULL: never */
    void (*progress)(void *who, double done_s, double share); /* NULL: nobody looks */
} es_clock_wish;

/*
 * ES_ERR_ARG: seconds out of range. ES_ERR_DEVICE: as es_input_open(); "device-gone": it vanished and
 * did not come back within ten seconds; "too-little": no stretch without interruption was long
 * enough. ES_ERR_NOMEM.
 */
es_status es_clock_watch(const es_clock_wish *wish, es_clock_result *out, es_error *error);

#endif
