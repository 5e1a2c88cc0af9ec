/*
 * Twin: windowed spectra of two channels at once, frame by overlapping frame.
 *
 * One complex transform carries both real channels; the two are taken apart bin by bin. Whoever owns
 * a twin pushes until it is full, transforms, reads the bins, and goes on.
 */
#ifndef ES_SIGNAL_TWIN_H
#define ES_SIGNAL_TWIN_H

#include "evenspool/base/status.h"

#include <kissfft/kiss_fft.h>

#include <stddef.h>

typedef enum es_twin_window { ES_TWIN_HANN, ES_TWIN_BLACKMAN_HARRIS } es_twin_window;

typedef struct es_twin {
    size_t frame, hop, bins; /* bins = frame / 2 + 1                                 */
    double power_scale;      /* bin power x this, summed over a sine's lobe = A^2 / 2 */
    float *window;
    kiss_fft_cpx *samples; /* left + i right, `filled` of them */
    kiss_fft_cpx *windowed, *spectrum;
    kiss_fft_cfg fft;
    void *fft_memory;
    size_t filled;
} es_twin;

/* Power and cross power of one bin; cross = right x conj(left). */
typedef struct es_twin_bin {
    double left, right, cross_re, cross_im;
} es_twin_bin;

/* 1 when `frame` has no prime factor above 5: the transform then needs no memory while it runs. */
int es_twin_suits(size_t frame);

/* frame: suits, even; 0 < hop <= frame. ES_ERR_NOMEM; stop it in any case. */
es_status es_twin_start(es_twin *twin, size_t frame, size_t hop, es_twin_window window);
void es_twin_stop(es_twin *twin);
void es_twin_reset(es_twin *twin);

/* Takes frames until the next spectrum is due and returns how many. right NULL: silent. Samples that
 * are not finite count as 0. */
size_t es_twin_push(es_twin *twin, const float *left, const float *right, size_t stride,
                    size_t frames);
int es_twin_is_full(const es_twin *twin);

/* Transforms a full frame and moves on by a hop. */
void es_twin_transform(es_twin *twin);
/* Only moves on: bins stay those of the last transform. */
void es_twin_pass(es_twin *twin);

/* Of the last transform; bin < bins. */
static inline es_twin_bin es_twin_look(const es_twin *t, size_t bin)
{
    kiss_fft_cpx a = t->spectrum[bin], b = t->spectrum[bin ? t->frame - bin : 0];
    double lr = 0.5 * ((double)a.r + (double)b.r), li = 0.5 * ((double)a.i - (double)b.i);
    double rr = 0.5 * ((double)a.i + (double)b.i), ri = 0.5 * ((double)b.r - (double)a.r);
    return (es_twin_bin){.left = lr * lr + li * li,
                         .right = rr * rr + ri * ri,
                         .cross_re = rr * lr + ri * li,
                         .cross_im = ri * lr - rr * li};
}

#endif
