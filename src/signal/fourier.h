/*
 * Fourier: the discrete transforms of complex and of real samples, by FFTW.
 *
 *   in       es_fourier: samples in re and im, apart from each other; overwritten
 *            es_fourier_real: samples; kept
 *   out      X[k] = sum of x[n] exp(-2 pi i k n / length), k in natural order
 *            es_fourier: out_re, out_im, all of it; es_fourier_real: bin, k = 0 .. length / 2
 *   error    as float: about 1e-7 of the largest bin
 *   same     the plan is FFTW's estimate, which depends on the length and not on timing
 *   thread   one object, one thread at a time; FFTW's planner, which all share, locks itself
 *   rt       _run never allocates
 */
#ifndef ES_SIGNAL_FOURIER_H
#define ES_SIGNAL_FOURIER_H

#include "evenspool/base/status.h"

#include <fftw3.h>
#include <stddef.h>

typedef struct es_fourier {
    size_t length;
    float *re, *im;         /* to be filled before each run */
    float *out_re, *out_im; /* valid after it               */
    float *memory;
    fftwf_plan plan;
} es_fourier;

/* 1 when `length` is a multiple of 16 without a prime factor above 5: these are fast. */
int es_fourier_suits(size_t length);

/* length: suits. ES_ERR_NOMEM; stop it in any case. */
typedef struct es_fourier_bin {
    float re, im;
} es_fourier_bin;

typedef struct es_fourier_real {
    size_t length;
    float *samples;      /* length, to be filled before each run */
    es_fourier_bin *bin; /* length / 2 + 1, valid after it       */
    fftwf_plan plan;
} es_fourier_real;

es_status es_fourier_start(es_fourier *fourier, size_t length);
void es_fourier_stop(es_fourier *fourier);
void es_fourier_run(es_fourier *fourier);

/* length: even, at least 2. ES_ERR_NOMEM; stop it in any case. */
es_status es_fourier_real_start(es_fourier_real *fourier, size_t length);
void es_fourier_real_stop(es_fourier_real *fourier);
void es_fourier_real_run(es_fourier_real *fourier);

#endif
