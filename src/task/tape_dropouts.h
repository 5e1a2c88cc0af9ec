/*
 * Dropouts of a steady tone in one channel or two: looks of 2 ms against the level around them.
 *
 *   dropout  6 dB and more under the running level (0.5 s); common practice, no source
 *   gone     a tone that stays away for longer than 0.5 s was not a dropout: the deck stood still
 *   rt       never allocates; a plain value
 */
#ifndef ES_TASK_TAPE_DROPOUTS_H
#define ES_TASK_TAPE_DROPOUTS_H

#include "evenspool/base/tape_result.h"

#include <stddef.h>

#define ES_TAPE_DROPOUTS_CHANNELS 2

/* One channel's. */
typedef struct es_tape_dropouts_tally {
    double slow; /* running power; 0: not settled */
    double under_s, under_deepest;
    double settled_s;
    double seconds, longest_s, deepest;
    size_t count;
} es_tape_dropouts_tally;

typedef struct es_tape_dropouts_meter {
    double rate_hz;
    size_t channels;
    size_t look, filled;                      /* frames */
    float sum[4 * ES_TAPE_DROPOUTS_CHANNELS]; /* power of the look, frame by frame in turn */
    es_tape_dropouts_tally tally[ES_TAPE_DROPOUTS_CHANNELS];
} es_tape_dropouts_meter;

/* channels: 1 or 2 */
es_tape_dropouts_meter es_tape_dropouts_start(double rate_hz, size_t channels);

/* Another stretch of tone begins. */
void es_tape_dropouts_break(es_tape_dropouts_meter *meter);
void es_tape_dropouts_push(es_tape_dropouts_meter *meter, const float *frames, size_t count);
es_tape_dropouts es_tape_dropouts_of(const es_tape_dropouts_meter *meter, size_t channel);

#endif
