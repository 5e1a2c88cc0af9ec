/*
 * Record of both channels at one moment, as the coach shows them beside azimuth, level and balance.
 * Plain data without pointers. NaN: not known, never 0.
 */
#ifndef ES_BASE_PAIR_VIEW_H
#define ES_BASE_PAIR_VIEW_H

#include <stddef.h>

#define ES_PAIR_PHASES 24
#define ES_PAIR_DOTS 96

typedef struct es_pair_phase { /* of the right channel against the left */
    double hz, degrees;        /* -180 .. 180; NaN: nothing in common there */
    double coherence;          /* 0 .. 1 */
} es_pair_phase;

typedef struct es_pair_view {
    int known; /* 0: nothing is known of both channels; the rest is not set      */
    double level_dbfs
        [2]; /* left, right, over the last fifth of a second [dBFS of a sine]; NaN: silent */
    double balance_db;     /* right minus left                                               */
    double reference_dbfs; /* level: what counts as 0 dB                                     */
    int channel;           /* level: the one that is followed, 1 left, 2 right; else 0       */
    double delay_us;       /* of the figure shown, or live; + right later                    */
    double angle_arcmin, phase_10k_deg; /* that it means for the head, and at 10 kHz         */
    double sum_db;    /* left + right against what they would be without any delay, at most 0 */
    double coherence; /* of what is compared, 0 .. 1                                         */
    double tone_hz;   /* NaN: no single tone                                                 */
    int turn_known;   /* 1: the delay is not a whole turn of the tone off                    */
    int opposed;      /* right channel's polarity reversed                                   */

    size_t phase_count; /* thirds of an octave */
    es_pair_phase phase[ES_PAIR_PHASES];
    size_t dot_count; /* the X-Y figure: left and right at one moment, percent of the largest */
    signed char dot[ES_PAIR_DOTS][2];
} es_pair_view;

#endif
