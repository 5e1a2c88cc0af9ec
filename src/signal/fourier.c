#include "signal/fourier.h"

#include "evenspool/base/units.h"

#include <math.h>
#include <stdlib.h>

#define AT_ONCE 4
#define RADIX_MOST 5
#define GAP                                                                                        \
    16 /* between arrays that are read together: powers of two would share a cache's places */

/* --- life ------------------------------------------------------------------------------- */

int es_fourier_suits(size_t length)
{
    static const size_t primes[] = {2, 3, 5};
    if (length == 0 || length % (AT_ONCE * AT_ONCE) != 0)
        return 0;
    for (size_t i = 0; i < sizeof primes / sizeof *primes; i++)
        while (length % primes[i] == 0)
            length /= primes[i];
    return length == 1;
}

/* Fours first: the passes that come after them then work on runs of fours. */
static void choose_passes(es_fourier *f)
{
    static const unsigned char radices[] = {4, 2, 3, 5};
    size_t left = f->length;
    for (size_t i = 0; i < sizeof radices; i++)
        for (; left % radices[i] == 0; left /= radices[i])
            f->radix[f->pass_count++] = radices[i];
}

/* The factors exp(-2 pi i p j / n) of all passes, in the order in which they are used. The first pass
 * takes those of four p at a time. */
static void fill_turns(es_fourier *f)
{
    float *to = f->turns;
    size_t n = f->length, group = AT_ONCE;
    for (size_t pass = 0; pass < f->pass_count; pass++) {
        size_t radix = f->radix[pass];
        for (size_t p = 0; p < n / radix; p += group)
            for (size_t j = 1; j < radix; j++, to += 2 * group)
                for (size_t k = 0; k < group; k++) {
                    double angle = ES_TWO_PI * (double)((p + k) * j) / (double)n;
                    to[k] = (float)cos(angle);
                    to[group + k] = (float)-sin(angle);
                }
        n /= radix;
        group = 1;
    }
}

es_status es_fourier_start(es_fourier *f, size_t length)
{
    *f = (es_fourier){.length = length};
    choose_passes(f);
    f->memory = calloc(6 * length + 4 * GAP, sizeof *f->memory); /* all turns: under 2 length */
    if (!f->memory)
        return ES_ERR_NOMEM;
    f->re = f->memory;
    f->im = f->re + length + GAP;
    f->other_re = f->im + length + GAP;
    f->other_im = f->other_re + length + GAP;
    f->turns = f->other_im + length + GAP;
    f->out_re = f->pass_count % 2 ? f->other_re : f->re;
    f->out_im = f->pass_count % 2 ? f->other_im : f->im;
    fill_turns(f);
    return ES_OK;
}

void es_fourier_stop(es_fourier *f)
{
    free(f->memory);
    *f = (es_fourier){0};
}

/* --- passes ----------------------------------------------------------------------------- */

typedef float four
    __attribute__((vector_size(AT_ONCE * sizeof(float)), aligned(sizeof(float)), may_alias));

#define FOUR_AT(place) (*(four *)(place))

typedef struct fours {
    four re, im;
} fours;

typedef struct pass {
    const float *re, *im;
    float *to_re, *to_im;
    const float *turns;
    size_t parts, run; /* butterflies that differ in their turns; samples alike in each */
} pass;

static inline fours load(const pass *s, size_t at)
{
    return (fours){*(const four *)(s->re + at), *(const four *)(s->im + at)};
}

static inline void store(const pass *s, size_t at, fours z)
{
    FOUR_AT(s->to_re + at) = z.re;
    FOUR_AT(s->to_im + at) = z.im;
}

static inline fours plus(fours a, fours b)
{
    return (fours){a.re + b.re, a.im + b.im};
}

static inline fours minus(fours a, fours b)
{
    return (fours){a.re - b.re, a.im - b.im};
}

/* a - i b */
static inline fours minus_turned(fours a, fours b)
{
    return (fours){a.re + b.im, a.im - b.re};
}

static inline fours plus_turned(fours a, fours b)
{
    return (fours){a.re - b.im, a.im + b.re};
}

static inline fours times(fours z, four re, four im)
{
    return (fours){z.re * re - z.im * im, z.re * im + z.im * re};
}

static inline four all(float x)
{
    return (four){x, x, x, x};
}

/* The transform of four, out[0 .. 3]; `step` apart in the source. */
static inline void butterfly(const pass *s, size_t at, size_t step, fours out[4])
{
    fours a = load(s, at), b = load(s, at + step), c = load(s, at + 2 * step),
          d = load(s, at + 3 * step);
    fours even = plus(a, c), even_off = minus(a, c), odd = plus(b, d), odd_off = minus(b, d);
    out[0] = plus(even, odd);
    out[1] = minus_turned(even_off, odd_off);
    out[2] = minus(even, odd);
    out[3] = plus_turned(even_off, odd_off);
}

/* Rows become columns, and lie one behind the other. */
static inline void store_across(float *to, four a, four b, four c, four d)
{
    four ab_low = __builtin_shufflevector(a, b, 0, 4, 1, 5);
    four ab_high = __builtin_shufflevector(a, b, 2, 6, 3, 7);
    four cd_low = __builtin_shufflevector(c, d, 0, 4, 1, 5);
    four cd_high = __builtin_shufflevector(c, d, 2, 6, 3, 7);
    FOUR_AT(to) = __builtin_shufflevector(ab_low, cd_low, 0, 1, 4, 5);
    FOUR_AT(to + 4) = __builtin_shufflevector(ab_low, cd_low, 2, 3, 6, 7);
    FOUR_AT(to + 8) = __builtin_shufflevector(ab_high, cd_high, 0, 1, 4, 5);
    FOUR_AT(to + 12) = __builtin_shufflevector(ab_high, cd_high, 2, 3, 6, 7);
}

/* The first pass has runs of one: four parts are done at once instead. */
static void run_first(const pass *s)
{
    const float *turn = s->turns;
    for (size_t p = 0; p < s->parts; p += AT_ONCE, turn += 6 * AT_ONCE) {
        fours z[4];
        butterfly(s, p, s->parts, z);
        for (size_t j = 1; j < 4; j++) {
            const float *w = turn + 2 * AT_ONCE * (j - 1);
            z[j] = times(z[j], *(const four *)w, *(const four *)(w + AT_ONCE));
        }
        store_across(s->to_re + 4 * p, z[0].re, z[1].re, z[2].re, z[3].re);
        store_across(s->to_im + 4 * p, z[0].im, z[1].im, z[2].im, z[3].im);
    }
}

static void run_fours(const pass *s)
{
    const float *w = s->turns;
    size_t step = s->parts * s->run;
    for (size_t p = 0; p < s->parts; p++, w += 6)
        for (size_t q = 0; q < s->run; q += AT_ONCE) {
            fours z[4];
            size_t to = q + 4 * s->run * p;
            butterfly(s, q + s->run * p, step, z);
            store(s, to, z[0]);
            for (size_t j = 1; j < 4; j++)
                store(s, to + j * s->run, times(z[j], all(w[2 * j - 2]), all(w[2 * j - 1])));
        }
}

/* 2, 3 or 5, each output by its definition. */
static void run_few(const pass *s, size_t radix)
{
    const float *w = s->turns;
    float cosine[RADIX_MOST], sine[RADIX_MOST];
    for (size_t i = 0; i < radix; i++) {
        cosine[i] = (float)cos(ES_TWO_PI * (double)i / (double)radix);
        sine[i] = (float)-sin(ES_TWO_PI * (double)i / (double)radix);
    }
    for (size_t p = 0; p < s->parts; p++, w += 2 * (radix - 1))
        for (size_t q = 0; q < s->run; q += AT_ONCE)
            for (size_t j = 0; j < radix; j++) {
                fours sum = load(s, q + s->run * p);
                for (size_t i = 1; i < radix; i++)
                    sum = plus(sum, times(load(s, q + s->run * (p + i * s->parts)),
                                          all(cosine[i * j % radix]), all(sine[i * j % radix])));
                if (j > 0)
                    sum = times(sum, all(w[2 * j - 2]), all(w[2 * j - 1]));
                store(s, q + s->run * (radix * p + j), sum);
            }
}

void es_fourier_run(es_fourier *f)
{
    pass s = {.turns = f->turns, .run = 1};
    for (size_t i = 0, n = f->length; i < f->pass_count; i++) {
        size_t radix = f->radix[i], back = i % 2;
        s.parts = n / radix;
        s.re = back ? f->other_re : f->re;
        s.im = back ? f->other_im : f->im;
        s.to_re = back ? f->re : f->other_re;
        s.to_im = back ? f->im : f->other_im;
        if (i == 0)
            run_first(&s);
        else if (radix == 4)
            run_fours(&s);
        else
            run_few(&s, radix);
        s.turns += 2 * (radix - 1) * s.parts;
        s.run *= radix;
        n = s.parts;
    }
}
