/*
 * Stretches: which readings of a tone speak of a deck running steadily.
 *
 *   in      readings of the tone tracker, in order
 *   out     the same readings, delayed, each with its role: lead-in for filters, counts, bridged
 *   how     a stretch begins where the tone is good and the speed has settled (start-up ramps are
 *           left out), and ends where the tone is missing for more than 0.25 s (the last half second
 *           before is left out as far as the speed already runs away: a deck that is stopped).
 *           Shorter gaps are bridged by a straight line between both shores and do not count.
 *           A stretch opens with its own first seconds mirrored in time, so that filters settle
 *           on something like the deck instead of on a step (docs/methods.md#stretches).
 *   delay   4 s at the beginning of a stretch, 0.75 s inside
 *   thread  one object, one thread at a time
 *   rt      no call but _create allocates
 */
#ifndef ES_SIGNAL_STRETCH_H
#define ES_SIGNAL_STRETCH_H

#include "evenspool/base/status.h"
#include "evenspool/signal/tone_tracker.h"

typedef struct es_stretch es_stretch;

typedef enum es_steady_role {
    ES_ROLE_BREAK, /* a new stretch begins; hz is the speed about its beginning */
    ES_ROLE_LEAD,  /* mirrored: settles filters, never counts                   */
    ES_ROLE_COUNTS,
    ES_ROLE_BRIDGED, /* inside a short gap                                        */
    ES_ROLE_OUTSIDE  /* belongs to no stretch; hz is NaN                          */
} es_steady_role;

typedef struct es_steady {
    es_steady_role role;
    double time_s, hz;
} es_steady;

/* What to do with each of them; `who` is handed through. */
typedef void es_steady_sink(void *who, const es_steady *steady);

/* ES_ERR_NOMEM; *out is NULL on error. */
es_status es_stretch_create(es_steady_sink *sink, void *who, es_stretch **out);
void es_stretch_destroy(es_stretch *stretch);
void es_stretch_reset(es_stretch *stretch);

void es_stretch_push(es_stretch *stretch, const es_tone_reading *reading);

/* Another part of the capture follows: hands out what is held; the pause is no loss of the tone. */
void es_stretch_part(es_stretch *stretch);

/* The capture is over: hands out what is held. */
void es_stretch_end(es_stretch *stretch);

/* Losses of the tone from which it came back, short or long, so far. */
size_t es_stretch_gaps(const es_stretch *stretch);

#endif
