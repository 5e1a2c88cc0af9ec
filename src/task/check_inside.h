/* The insides of a check, shared by check.c (the flow) and check_report.c (the figures). */
#ifndef ES_TASK_CHECK_INSIDE_H
#define ES_TASK_CHECK_INSIDE_H

#include "evenspool/signal/flutter.h"
#include "evenspool/signal/lines.h"
#include "evenspool/signal/stereo.h"
#include "evenspool/signal/stretch.h"
#include "evenspool/signal/tone_tracker.h"
#include "evenspool/signal/trend.h"
#include "evenspool/task/check.h"
#include "task/ear.h"

#include <stdint.h>

#define ES_CHECK_CHUNK 1024 /* decisions fall only at multiples of this many frames */

typedef struct es_check_tone { /* sums over looks and readings while the tone is followed */
    double signal_power, noise_power;
    double level_sum;
    double level_slow, beat_square; /* running mean; squared swings about it */
    size_t levels;
} es_check_tone;

struct es_check {
    es_check_config config;
    es_notes warnings;

    es_ear *ear;
    es_tone_tracker *tracker;
    es_baseband *mate; /* the other channel of a pair; NULL when there is none */
    es_stretch *stretch;
    es_trend *trend;
    es_flutter *flutter;
    es_lines *lines;
    es_stereo stereo;

    double nominal_hz;   /* NaN: not known */
    double reference_hz; /* deviations are taken from this; 0: no stretch yet */
    double offset;       /* this stretch's first deviation: spares the filters a step */
    int opening;
    int channel, mate_channel; /* 1 ..; 0: none yet, or none */
    char channel_why[96];

    uint64_t frames, begin, end; /* seen so far; the part that is measured */
    uint64_t skipped;            /* of frames: passed over                     */
    uint64_t tuned_at, mate_from, next_look;
    int mate_on, following, looking;
    double missing_s; /* of tone, when last decided: in between, blocks would show */

    uint64_t bad_frames, full_scale, watched_samples;
    es_check_tone tone;

    float *clean; /* a chunk without what is not finite */
    es_phasor *mate_phasors;
    es_tone_reading *readings;
    es_speed_sample *speed; /* ring */
    size_t speed_first, speed_count;
};

/* Everything after the last frame. */
void es_check_report(es_check *check, es_check_result *result);

/* Why nothing could be measured: fills *error. */
es_status es_check_refuse(const es_check *check, es_error *error);

/* 1: what was heard carries a measurement. */
int es_check_is_sound(es_check *check);

#endif
