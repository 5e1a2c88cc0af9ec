/*
 * Level: how loud the input is, in words for the hand at the knob.
 *
 *   in      blocks of interleaved frames
 *   out     a sentence, "" when the level is right
 *   how     what was largest within the last two seconds; a sample at the limit counts as clipped
 *   levels  common practice, no source: quiet below -30 dB, close to the limit above -1 dB
 */
#ifndef ES_LIVE_LEVEL_H
#define ES_LIVE_LEVEL_H

#include <stddef.h>

#define ES_LEVEL_PARTS 8 /* of the time looked back on */

typedef struct es_level_watch {
    size_t part_frames, at; /* frames of a part; frames in the one in hand */
    int part, full;         /* full: the whole time has been seen          */
    float peak[ES_LEVEL_PARTS];
    int clipped[ES_LEVEL_PARTS];
} es_level_watch;

es_level_watch es_level_watch_of(double rate_hz);

/* channel 0: all of them; else 1 .. channels */
void es_level_watch_push(es_level_watch *watch, const float *frames, size_t count, int channels,
                         int channel);

const char *es_level_words(const es_level_watch *watch);

#endif
