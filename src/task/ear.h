/*
 * Ear: waits for a steady tone in any of the channels, picks the channel, and afterwards looks in now and
 * then. Frame by frame through the finder; three alike frames in a row make a tone.
 */
#ifndef ES_TASK_EAR_H
#define ES_TASK_EAR_H

#include "evenspool/base/status.h"
#include "evenspool/signal/finder.h"

#include <stddef.h>

typedef struct es_ear es_ear;

typedef struct es_ear_config {
    double rate_hz;
    int channels;
    int channel;            /* 0: any */
    double low_hz, high_hz; /* where the tone must be */
} es_ear_config;

typedef struct es_ear_tally { /* frames looked at while no tone was being followed */
    size_t frames, silent, other, astray;
    size_t tones;     /* votes for one and the same pair of tones */
    double tones_hz;  /* the stronger of them                     */
    double astray_hz; /* steady tone outside low .. high */
} es_ear_tally;

typedef struct es_ear_pick {
    int channel; /* 1 .. */
    es_finding finding;
    char why[96];
} es_ear_pick;

es_status es_ear_create(const es_ear_config *config, es_ear **out);
void es_ear_destroy(es_ear *ear);

/* From now on only this channel (1 ..), and tones within low .. high count. */
void es_ear_settle_on(es_ear *ear, int channel, double low_hz, double high_hz);

/* Forgets the frame being collected. */
void es_ear_restart(es_ear *ear);

/* Takes interleaved frames. Returns the number of finder frames completed. */
size_t es_ear_push(es_ear *ear, const float *frames, size_t count);

/* A tone that has lasted three frames, and the channel to take it from: the cleanest, by SNR; of those within
 * 1 dB the loudest; of those within 3 dB the first. 0: none now. */
int es_ear_pick_now(const es_ear *ear, es_ear_pick *pick);

/* The last finder frame of a channel (1 ..). */
es_finding es_ear_last(const es_ear *ear, int channel);

/* Length of a finder frame [s]. */
double es_ear_frame_s(const es_ear *ear);

es_ear_tally es_ear_tally_of(const es_ear *ear);

#endif
