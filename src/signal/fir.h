/*
 * FIR building blocks: Kaiser-windowed low passes and the one inner product everything runs on.
 *
 * The inner product adds in eight fixed lanes, so that it gives the same bits whatever vector
 * unit the compiler uses.
 */
#ifndef ES_SIGNAL_FIR_H
#define ES_SIGNAL_FIR_H

#include <stddef.h>

#define ES_FIR_LANES 8

/* Kaiser's shape parameter for a stop band `attenuation_db` down (50 dB and more). */
double es_kaiser_beta(double attenuation_db);

/* Kaiser window at -1 <= x <= 1; 0 outside. */
double es_kaiser(double x, double beta);

/* Taps needed for that attenuation and transition [cycles/sample], Kaiser 1974; a multiple of
 * ES_FIR_LANES. */
size_t es_kaiser_taps(double attenuation_db, double transition);

/* Linear-phase low pass, cutoff (middle of the transition) [cycles/sample], gain 1 at 0. */
void es_fir_lowpass(double *taps, size_t count, double cutoff, double attenuation_db);

/* *re = sum a[i] b[i], *im = sum a[i] c[i]; count a multiple of ES_FIR_LANES. */
void es_fir_dot2(const float *a, const float *b, const float *c, size_t count, float *re,
                 float *im);

/*
 * A run of outputs, `step` samples apart, for decimating: taps a multiple of ES_FIR_LANES.
 * split: one signal through two filters, x[j] = sum in[j step + i] p[i], y[j] = sum in[j step + i] q[i].
 * both: two signals through one filter, x[j] = sum a[j step + i] p[i], y[j] = sum b[j step + i] p[i].
 * An output has the same bits whichever run it is in.
 */
void es_fir_split(const float *in, size_t step, size_t outputs, const float *p, const float *q,
                  size_t taps, float *x, float *y);
void es_fir_both(const float *a, const float *b, size_t step, size_t outputs, const float *p,
                 size_t taps, float *x, float *y);

/* sum over i of in[i] times sum over k of by[k] rows[k taps + i], k = 0 .. 3; taps as above. */
float es_fir_between(const float *rows, const float *by, const float *in, size_t taps);

/* sum a[i] b[i], count a multiple of ES_FIR_LANES. */
float es_fir_dot(const float *a, const float *b, size_t count);

#endif
