#include "signal/fourier.h"

#include <stdlib.h>

_Static_assert(sizeof(es_fourier_bin) == sizeof(fftwf_complex), "a bin is FFTW's own pair");

#define GAP 16 /* between the arrays: powers of two would share a cache's places */

int es_fourier_suits(size_t length)
{
    static const size_t primes[] = {2, 3, 5};
    if (length == 0 || length % 16 != 0)
        return 0;
    for (size_t i = 0; i < sizeof primes / sizeof *primes; i++)
        while (length % primes[i] == 0)
            length /= primes[i];
    return length == 1;
}

es_status es_fourier_start(es_fourier *f, size_t length)
{
    fftwf_iodim all = {.n = (int)length, .is = 1, .os = 1};
    *f = (es_fourier){.length = length};
    f->memory = calloc(4 * (length + GAP), sizeof *f->memory);
    if (!f->memory)
        return ES_ERR_NOMEM;
    f->re = f->memory;
    f->im = f->re + length + GAP;
    f->out_re = f->im + length + GAP;
    f->out_im = f->out_re + length + GAP;
    fftwf_make_planner_thread_safe();
    f->plan = fftwf_plan_guru_split_dft(1, &all, 0, NULL, f->re, f->im, f->out_re, f->out_im,
                                        FFTW_ESTIMATE | FFTW_DESTROY_INPUT);
    return f->plan ? ES_OK : ES_ERR_NOMEM;
}

void es_fourier_stop(es_fourier *f)
{
    if (f->plan)
        fftwf_destroy_plan(f->plan);
    free(f->memory);
    *f = (es_fourier){0};
}

void es_fourier_run(es_fourier *f)
{
    fftwf_execute(f->plan);
}

/* --- of real samples -------------------------------------------------------------------------- */

es_status es_fourier_real_start(es_fourier_real *f, size_t length)
{
    *f = (es_fourier_real){.length = length};
    f->samples = calloc(length, sizeof *f->samples);
    f->bin = calloc(length / 2 + 1, sizeof *f->bin);
    if (!f->samples || !f->bin)
        return ES_ERR_NOMEM;
    fftwf_make_planner_thread_safe();
    f->plan = fftwf_plan_dft_r2c_1d((int)length, f->samples, (fftwf_complex *)f->bin,
                                    FFTW_ESTIMATE | FFTW_PRESERVE_INPUT);
    return f->plan ? ES_OK : ES_ERR_NOMEM;
}

void es_fourier_real_stop(es_fourier_real *f)
{
    if (f->plan)
        fftwf_destroy_plan(f->plan);
    free(f->samples);
    free(f->bin);
    *f = (es_fourier_real){0};
}

void es_fourier_real_run(es_fourier_real *f)
{
    fftwf_execute(f->plan);
}
