/*
 * Delay: how much later the right channel is than the left, from sound that covers many frequencies.
 *
 *   in       both channels [FS] of a broadband section (or of music)
 *   out      delay, its standard uncertainty, polarity, whether a rival delay fits nearly as well
 *   how      averaged cross spectrum; coarse from the generalised cross-correlation, then the maximum
 *            likelihood delay of its phase, each frequency weighted with coherence / (1 - coherence)
 *            (Knapp and Carter 1976, IEEE Trans. ASSP-24; docs/methods.md#delay)
 *   range    +-widest_s; no whole turns off as long as the sound covers more than an octave
 *   error    0.3 us at 40 dB SNR, 1.5 us at 20 dB, in 2 s and more (bench_delay)
 *   thread   one object, one thread at a time
 *   rt       _push, _reset, _figures_of and _curve never allocate, lock or call the system
 */
#ifndef ES_SIGNAL_DELAY_H
#define ES_SIGNAL_DELAY_H

#include "evenspool/base/status.h"

#include <stddef.h>

typedef struct es_delay es_delay;

typedef struct es_delay_config {
    double rate_hz;         /* 8000 .. 384000                                      */
    double low_hz, high_hz; /* what of the sound counts; 20 <= low < high <= 0.48 rate */
    double widest_s;        /* delays beyond it are not looked for; 1e-5 .. 5e-3   */
} es_delay_config;

typedef struct es_delay_figures {
    int known;        /* 0: nothing in common, one channel dead, less than 0.1 s; the rest is NaN */
    double delay_s;   /* + right later                                                    */
    double u_s;       /* standard uncertainty                                             */
    int opposed;      /* right channel's polarity reversed                                */
    double coherence; /* mean magnitude squared where the sound is, 0 .. 1                */
    double level_ratio; /* right / left, amplitude, of what both have in common             */
    double rival;       /* height of the best other delay against this one, 0 .. 1          */
    int sure;           /* no rival comes near: not a whole turn off                        */
} es_delay_figures;

/* 200 Hz .. 16 kHz (or 0.45 rate), +-2 ms. */
es_delay_config es_delay_defaults(double rate_hz);

/* ES_ERR_ARG: a field out of range. ES_ERR_NOMEM. *out is NULL on error. */
es_status es_delay_create(const es_delay_config *config, es_delay **out);
void es_delay_destroy(es_delay *delay);
void es_delay_reset(es_delay *delay);

/* Consumes left[0], left[stride] ... and the same of right; samples that are not finite count as 0. */
void es_delay_push(es_delay *delay, const float *left, const float *right, size_t stride,
                   size_t frames);

/* Of all frames since create or reset; may be asked at any time. */
es_delay_figures es_delay_figures_of(es_delay *delay);

/* Phase of the right channel against the left, in bands of a third of an octave. */
typedef struct es_delay_point {
    double hz;
    double phase_rad; /* -pi .. pi; NaN: nothing in common there */
    double coherence;
} es_delay_point;
#define ES_DELAY_POINTS_MOST 32
size_t es_delay_curve(const es_delay *delay, es_delay_point *out, size_t room);

/*
 * Joins what a steady tone says (phase of right minus left [rad], its standard uncertainty) to what
 * the broadband sound said. The tone's whole turns are taken from the latter; `sure` becomes 0 when
 * the latter's uncertainty leaves it open which turn. Both are weighted by their uncertainties.
 * Figures that are not known, or a tone that is NaN, leave everything as it was.
 */
es_delay_figures es_delay_refine(const es_delay_figures *figures, double tone_hz, double phase_rad,
                                 double u_rad);

#endif
