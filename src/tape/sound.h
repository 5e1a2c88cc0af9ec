/*
 * Sound: what the heads and the electronics make of the moving tape.
 *
 *   tone      recorded on the tape as a wave of length speed x (1 + tape error) / tone; its phase
 * is the way of the tape in such waves, so that any mean speed can be read off exactly channels the
 * right track is heard azimuth x track spacing further along the tape: a delay without any rounding
 * to frames losses    spacing exp(-2 pi d / wavelength), azimuth sin(x) / x with x = pi w tan(a) /
 * wavelength rt        nothing here allocates
 */
#ifndef ES_TAPE_SOUND_H
#define ES_TAPE_SOUND_H

#include "evenspool/tape/scenario.h"

#include "tape/motion.h"
#include "tape/noise.h"
#include "tape/recorded.h"
#include "tape/wideband.h"

#include <stdint.h>

typedef struct es_dropouts {
    es_rng rng;
    int64_t next, end; /* frames: begin of the coming one, end of the present one */
    int64_t from;      /* begin of the present one                                */
    int64_t begun;     /* how many so far                                         */
    double floor;      /* amplitude at the bottom                                 */
} es_dropouts;

typedef struct es_heads {   /* what the heads make of the tape, as the screws stand */
    double amplitude[2][3]; /* of each channel's harmonics, after head losses; signed */
    double gain[2];         /* of each channel's broadband sound or recording, signed */
    double lag;             /* of the right channel [waves]                         */
    double spread;          /* of tape under a leaning gap [waves]                  */
} es_heads;

typedef struct es_sound {
    const es_scenario *scenario;
    const es_gauss *gauss;
    double rate_hz, true_rate_hz;
    const es_wideband *wideband;  /* NULL: the tape carries something else           */
    es_recorded *recorded;        /* the same; both NULL: the tone                   */
    es_trimmer azimuth, level[2]; /* the screws                                      */
    int turned;                   /* one of them, since the last chunk               */
    double waves_per_step;        /* waves that pass in a frame at nominal speed     */
    es_heads heads, heads_before; /* at the end of the chunk, and where it began     */
    double noise;                 /* rms in each channel                                    */
    es_rng noise_rng[2];
    double hum_turns, hum_step, hum, buzz;
    es_dropouts dropouts;
    float limit;

    int64_t waves; /* whole waves before the chunk */

    /* the chunk */
    double at[ES_CHUNK + 1]; /* waves since those, at each frame and at the chunk's end */
    double envelope[ES_CHUNK];
    double channel[2][ES_CHUNK];
    float stereo[2 * ES_CHUNK];
} es_sound;

void es_sound_start(es_sound *sound, const es_scenario *scenario, double rate_hz,
                    const es_gauss *gauss, const es_wideband *wideband, es_recorded *recorded);

/* The screws were turned: from the next chunk on, within its length. */
void es_sound_turned(es_sound *sound);
void es_sound_chunk(es_sound *sound, const es_motion *motion, int64_t first);

#endif
