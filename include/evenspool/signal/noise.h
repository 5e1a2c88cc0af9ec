/*
 * Noise: what is left when nothing is recorded, unweighted and as the ear hears it.
 *
 *   in       one or two channels [FS] of a silent section
 *   out      rms [FS] over 20 Hz .. 20 kHz, A-weighted (IEC 61672-1), weighted by ITU-R BS.468-4 as
 *            rms and by its quasi-peak meter; lines at the mains frequency and its multiples
 *   how      rms figures from averaged spectra, weighted bin by bin, so that the curves hold at any
 *            sample rate; the quasi-peak meter listens to a filter of that curve
 *            (docs/methods.md#noise)
 *   error    curves within 0.1 dB of the tables at every tabulated frequency up to 16 kHz;
 *            quasi-peak within the limits of BS.468-4 table 2 and 3
 *   thread   one object, one thread at a time
 *   rt       only _create allocates
 */
#ifndef ES_SIGNAL_NOISE_H
#define ES_SIGNAL_NOISE_H

#include "evenspool/base/status.h"

#include <stddef.h>

#define ES_NOISE_LINES_MOST 12

/* The curves [dB], 0 dB at 1 kHz; -HUGE_VAL at 0 Hz. */
double es_weight_a_db(double hz);
double es_weight_468_db(double hz);

typedef struct es_noise es_noise;

typedef struct es_noise_line {
    double hz;
    double mains_hz; /* 50 or 60: the nominal frequency it is a multiple of */
    int multiple;    /* 1 .. */
    double rms_fs;
} es_noise_line;

typedef struct es_noise_figures {
    int known;            /* 0: less than one frame (1.1 .. 2.2 s); the rest is NaN */
    double seconds;       /* looked at                                              */
    double unweighted_fs; /* rms, 20 Hz .. 20 kHz                                   */
    double a_fs;          /* rms                                                    */
    double itu468_fs;     /* rms                                                    */
    double
        itu468_peak_fs; /* quasi-peak, mean of the needle: the rms of a 1 kHz tone that shows the same;
                              NaN under 4 s                                             */
    double u_db;        /* standard uncertainty of the unweighted figure, from its scatter */
    size_t line_count;
    es_noise_line line[ES_NOISE_LINES_MOST]; /* by frequency */
} es_noise_figures;

/* rate_hz 8000 .. 384000. ES_ERR_ARG, ES_ERR_NOMEM; *out is NULL on error. */
es_status es_noise_create(double rate_hz, es_noise **out);
void es_noise_destroy(es_noise *noise);
void es_noise_reset(es_noise *noise);

/* Consumes left[0], left[stride] ... and the same of right (NULL: one channel). */
void es_noise_push(es_noise *noise, const float *left, const float *right, size_t stride,
                   size_t frames);

/* channel: 0 left, 1 right. */
es_noise_figures es_noise_figures_of(const es_noise *noise, int channel);

#endif
