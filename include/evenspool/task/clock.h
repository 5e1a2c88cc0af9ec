/*
 * Clock: how fast a device samples, from how many frames came by when.
 *
 *   in      (time, frames in all) at the end of each block, and where frames were lost
 *   out     error of the sample rate against the clock that gave the times, with its uncertainty
 *   how     blocks come late, never early: of each slot of time the least late one counts. A straight
 *           line through means of those slots; its uncertainty from their scatter about the line
 *           (docs/methods.md#clock)
 *   lost    a line never runs across an interruption: the longest stretch without one counts. A
 *           jump of 5 ms that stays is one, too, told or not
 *   memory  constant whatever the length
 *   thread  one object, one thread at a time
 *   rt      _push, _lost and _reset never allocate
 */
#ifndef ES_TASK_CLOCK_H
#define ES_TASK_CLOCK_H

#include "evenspool/base/clock_result.h"
#include "evenspool/base/status.h"

typedef struct es_clock es_clock;

#define ES_CLOCK_LEAST_S 2.0 /* shorter stretches tell nothing */

/* rate_hz: nominal, 1000 .. 1e6. ES_ERR_ARG, ES_ERR_NOMEM; *out is NULL on error. */
es_status es_clock_create(double rate_hz, es_clock **out);
void es_clock_destroy(es_clock *clock); /* NULL is fine */
void es_clock_reset(es_clock *clock);

/* By time_s `frames` had come in all. Neither goes backward; what does is left out. */
void es_clock_push(es_clock *clock, double time_s, int64_t frames);

/* Frames were lost; what was pushed beyond `certain` frames is taken back (INT64_MAX: nothing). */
void es_clock_lost(es_clock *clock, int64_t certain);

/* Of all that was pushed; ppm are NaN under ES_CLOCK_LEAST_S. */
es_clock_figures es_clock_figures_of(const es_clock *clock);

/* Expanded uncertainty (95 %) with a reference whose rate may be off by +-limit_ppm (0: exact). */
double es_clock_u95_ppm(const es_clock_figures *figures, double limit_ppm);

#endif
