/*
 * Twin: windowed spectra of two channels at once, frame by overlapping frame.
 *
 * One complex transform carries both real channels; the two are taken apart bin by bin. Whoever owns
 * a twin pushes until it is full, transforms, reads the bins, and goes on.
 */
#ifndef ES_SIGNAL_TWIN_H
#define ES_SIGNAL_TWIN_H

#include "evenspool/base/status.h"
#include "signal/fourier.h"

#include <stddef.h>

typedef enum es_twin_window { ES_TWIN_HANN, ES_TWIN_BLACKMAN_HARRIS } es_twin_window;

typedef struct es_twin {
    size_t frame, hop, bins; /* bins = frame / 2 + 1                                 */
    double power_scale;      /* bin power x this, summed over a sine's lobe = A^2 / 2 */
    float *window;
    float *left, *right; /* samples, `filled` of them     */
    es_fourier fourier;  /* of left + i right, windowed */
    size_t filled;
} es_twin;

/* Power and cross power of one bin; cross = right x conj(left). */
typedef struct es_twin_bin {
    double left, right, cross_re, cross_im;
} es_twin_bin;

/* frame: suits es_fourier; 0 < hop <= frame. ES_ERR_NOMEM; stop it in any case. */
es_status es_twin_start(es_twin *twin, size_t frame, size_t hop, es_twin_window window);
void es_twin_stop(es_twin *twin);
void es_twin_reset(es_twin *twin);

/* Takes frames until the next spectrum is due and returns how many. right NULL: silent. Samples that
 * are not finite count as 0. */
size_t es_twin_push(es_twin *twin, const float *left, const float *right, size_t stride,
                    size_t frames);
int es_twin_is_full(const es_twin *twin);

/* One channel out of interleaved frames, 0 for what is not finite; from NULL: silence. */
void es_twin_copy(float *to, const float *from, size_t stride, size_t count);

/* Transforms a full frame and moves on by a hop. */
void es_twin_transform(es_twin *twin);
/* Only moves on: bins stay those of the last transform. */
void es_twin_pass(es_twin *twin);

/* Of the last transform; bin < bins. */
static inline es_twin_bin es_twin_look(const es_twin *t, size_t bin)
{
    const float *re = t->fourier.out_re, *im = t->fourier.out_im;
    size_t mirror = bin ? t->frame - bin : 0;
    double lr = 0.5 * ((double)re[bin] + (double)re[mirror]);
    double li = 0.5 * ((double)im[bin] - (double)im[mirror]);
    double rr = 0.5 * ((double)im[bin] + (double)im[mirror]);
    double ri = 0.5 * ((double)re[mirror] - (double)re[bin]);
    return (es_twin_bin){.left = lr * lr + li * li,
                         .right = rr * rr + ri * ri,
                         .cross_re = rr * lr + ri * li,
                         .cross_im = ri * lr - rr * li};
}

#endif
