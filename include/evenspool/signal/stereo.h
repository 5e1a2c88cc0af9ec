/*
 * Stereo: delay, level and polarity between two channels that carry the same tone.
 *
 *   in      phasors of both channels from equally tuned basebands, hop by hop
 *   out     phase of the right against the left, from it a delay within a quarter period and the
 *           polarity (a single tone can't tell half a period from a reversed channel: the smaller delay
 *           is taken); level difference
 *   error   delay within 0.1 us for a clean 3150 Hz tone
 *   rt      never allocates; a plain value
 */
#ifndef ES_SIGNAL_STEREO_H
#define ES_SIGNAL_STEREO_H

#include "evenspool/signal/baseband.h"

#include <stddef.h>

typedef struct es_stereo {
    double cross_re, cross_im, left_power, right_power; /* sums */
    size_t count;
} es_stereo;

typedef struct es_stereo_figures {
    int known;        /* 0: nothing in common between the channels, or one dead; the rest is NaN */
    double phase_rad; /* right minus left, -pi .. pi                                            */
    double delay_s;   /* + right later, within a quarter period                                 */
    int opposed;      /* polarity                                                               */
    double level_ratio; /* right / left                                                           */
} es_stereo_figures;

void es_stereo_push(es_stereo *stereo, const es_phasor *left, const es_phasor *right, size_t count);

/* tone_hz: what the tone really was. */
es_stereo_figures es_stereo_figures_of(const es_stereo *stereo, double tone_hz);

#endif
