/*
 * Motion: how fast the rehearsal deck pulls the tape, from frame to frame.
 *
 *   speed = ramp x (1 + slow) x (1 + flutter), as a multiple of the nominal speed
 *   slow      speed error, straight drift, warm-up, trimmer; a straight line within a chunk
 *   flutter   harmonics of the turning parts, wobbles, two bands of noise
 *   sampled   speed[i] holds for the whole step from frame i to frame i + 1 and is taken at its
 *             middle: the sum of the steps is the way of the tape, exactly, by definition
 *   rt        nothing here allocates
 */
#ifndef ES_TAPE_MOTION_H
#define ES_TAPE_MOTION_H

#include "evenspool/tape/scenario.h"

#include "tape/noise.h"
#include "tape/trimmer.h"

#include <stdint.h>

#define ES_CHUNK 64 /* frames made at a time; begins at multiples of it, whatever is asked for */

/* Frames at which the deck starts, is up to speed, begins to stop, stands still. */
typedef struct es_marks {
    int64_t start, steady, stopping, still;
} es_marks;

typedef struct es_turning {
    es_part part;
    double turns;                         /* since the start                         */
    double rate_hz;                       /* now, per second of true time            */
    double offset[ES_SCENARIO_HARMONICS]; /* phase [turns]     */
} es_turning;

typedef struct es_motion {
    const es_scenario *scenario;
    const es_gauss *gauss;
    double true_rate_hz; /* frames per second of true time      */
    es_marks marks;
    es_trimmer trimmer;
    double keep;    /* of the way to go that the motor leaves after a chunk */
    double slow;    /* where the last chunk ended             */
    double moved_m; /* tape since the start                   */
    size_t part_count;
    es_turning parts[ES_SCENARIO_PARTS];
    es_band random_band, scrape_band;

    /* the chunk */
    double ramp[ES_CHUNK], flutter[ES_CHUNK], random[ES_CHUNK], scrape[ES_CHUNK], speed[ES_CHUNK];
} es_motion;

/* The scenario and the table must outlive the motion. */
void es_motion_start(es_motion *motion, const es_scenario *scenario, double rate_hz,
                     const es_gauss *gauss);

/* Makes the chunk that begins at that frame; chunks follow one another. */
void es_motion_chunk(es_motion *motion, int64_t first);

/* Error towards which the deck tends at that frame: all but flutter, trimmer followed. */
double es_motion_settled(const es_motion *motion, int64_t frame);

#endif
