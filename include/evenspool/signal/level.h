/*
 * Level: how strong a tone and its harmonics are, in both channels.
 *
 *   in       one or two channels [FS] that carry a tone, and about where it is
 *   out      frequency, peak amplitude with uncertainty, harmonics 2 .. 5, noise beside them
 *   how      windowed spectra, half overlapping; power over the tone's lobe and the width that
 *            flutter gives it, less the noise beside it; frames far under the median (dropouts) are
 *            left out (docs/methods.md#level)
 *   range    tones 20 Hz .. 0.46 rate; flutter up to 1 %
 *   error    0.05 dB at 40 dB SNR in 2 s; third harmonic 0.1 dB at 1 % and 3 % (bench_level)
 *   frame    ES_LEVEL_FRAME_S at least, twice that below 90 Hz: give it 1.5 s of a tone, or 3 s
 *   thread   one object, one thread at a time
 *   rt       only _create allocates
 */
#ifndef ES_SIGNAL_LEVEL_H
#define ES_SIGNAL_LEVEL_H

#include "evenspool/base/status.h"

#include <stddef.h>

#define ES_LEVEL_HARMONICS 5
#define ES_LEVEL_FRAME_S 0.3

typedef struct es_level es_level;

/* Amplitudes of sines are their peaks. What is not known is NaN. */
typedef struct es_level_figures {
    int known;           /* 0: no tone above the noise, or too short           */
    double hz;           /* where the tone stands                              */
    double amplitude_fs; /* of the tone                                        */
    double u_db;         /* its standard uncertainty; HUGE_VAL: too few frames */
    double floor_fs;     /* of a tone just as strong as the noise in its place */
    /* Against the fundamental, index 1 .. 5; NaN: beyond the band or under the noise. */
    double harmonic[ES_LEVEL_HARMONICS + 1];
    double harmonic_floor[ES_LEVEL_HARMONICS + 1]; /* what the noise there would look like */
    size_t frames, left_out;                       /* that count; that were dropouts */
} es_level_figures;

/* rate_hz 8000 .. 384000. ES_ERR_ARG, ES_ERR_NOMEM; *out is NULL on error. Untuned. */
es_status es_level_create(double rate_hz, es_level **out);
void es_level_destroy(es_level *level);

/* Sets the tone, within 1 % of where it will be heard (nominal x speed), and resets. ES_ERR_ARG. */
es_status es_level_tune(es_level *level, double tone_hz);

/* Consumes left[0], left[stride] ... and the same of right (NULL: one channel). Never tuned: nothing. */
void es_level_push(es_level *level, const float *left, const float *right, size_t stride,
                   size_t frames);

/* channel: 0 left, 1 right. Of all frames since tune; may be asked at any time. */
es_level_figures es_level_figures_of(es_level *level, int channel);

#endif
