/*
 * Fourier: the discrete transform of complex samples, four at a time whatever the machine.
 *
 *   in       samples in re and im, apart from each other; overwritten
 *   out      out_re, out_im: X[k] = sum of x[n] exp(-2 pi i k n / length), k in natural order
 *   how      Stockham's self-sorting passes of radix 4, then 2, 3 and 5 (Van Loan 1992, Computational
 *            Frameworks for the Fast Fourier Transform; from memory)
 *   error    as float: about 1e-7 of the largest bin
 *   rt       _run never allocates
 */
#ifndef ES_SIGNAL_FOURIER_H
#define ES_SIGNAL_FOURIER_H

#include "evenspool/base/status.h"

#include <stddef.h>

#define ES_FOURIER_PASSES 24

typedef struct es_fourier {
    size_t length, pass_count;
    unsigned char radix[ES_FOURIER_PASSES];
    float *re, *im;         /* to be filled before each run */
    float *out_re, *out_im; /* valid after it               */
    float *other_re, *other_im;
    float *turns; /* factors between the passes   */
    float *memory;
} es_fourier;

/* 1 when `length` is a multiple of 16 without a prime factor above 5. */
int es_fourier_suits(size_t length);

/* length: suits. ES_ERR_NOMEM; stop it in any case. */
es_status es_fourier_start(es_fourier *fourier, size_t length);
void es_fourier_stop(es_fourier *fourier);
void es_fourier_run(es_fourier *fourier);

#endif
