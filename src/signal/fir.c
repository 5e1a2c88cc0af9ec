#include "signal/fir.h"

#include "evenspool/base/units.h"
#include "signal/wide.h"

#include <math.h>
#include <string.h>

double es_kaiser_beta(double attenuation_db)
{
    return 0.1102 * (attenuation_db - 8.7); /* Kaiser 1974, for 50 dB and more; from memory */
}

/* Modified Bessel function of order 0 by its power series; x up to 20 here. */
static double bessel_i0(double x)
{
    double term = 1.0, total = 1.0, quarter = x * x / 4.0;
    for (int k = 1; term > total * 1e-17; k++) {
        term *= quarter / ((double)k * k);
        total += term;
    }
    return total;
}

double es_kaiser(double x, double beta)
{
    double inside = 1.0 - x * x;
    return inside < 0.0 ? 0.0 : bessel_i0(beta * sqrt(inside)) / bessel_i0(beta);
}

size_t es_kaiser_taps(double attenuation_db, double transition)
{
    double taps = (attenuation_db - 7.95) / (14.357 * transition) + 1.0;
    return ((size_t)ceil(taps) + ES_FIR_LANES - 1) / ES_FIR_LANES * ES_FIR_LANES;
}

static double sinc(double x)
{
    return fabs(x) < 1e-9 ? 1.0 : sin(ES_PI * x) / (ES_PI * x);
}

void es_fir_lowpass(double *taps, size_t count, double cutoff, double attenuation_db)
{
    double beta = es_kaiser_beta(attenuation_db), middle = ((double)count - 1.0) / 2.0, total = 0.0;
    for (size_t i = 0; i < count; i++) {
        double at = (double)i - middle;
        taps[i] = sinc(2.0 * cutoff * at) * es_kaiser(at / (middle + 0.5), beta);
        total += taps[i];
    }
    for (size_t i = 0; i < count; i++)
        taps[i] /= total;
}

/* Eight floats that may start anywhere; compilers without such vectors split them. */
typedef float lanes
    __attribute__((vector_size(ES_FIR_LANES * sizeof(float)), aligned(sizeof(float)), may_alias));

typedef float half __attribute__((vector_size(4 * sizeof(float))));

static inline half folded(const lanes *v)
{
    return __builtin_shufflevector(*v, *v, 0, 1, 2, 3) +
           __builtin_shufflevector(*v, *v, 4, 5, 6, 7);
}

/* {sum v, sum v', sum w, sum w'}: first and second halves of what is left to be added. */
static inline half halved(const lanes *v, const lanes *w)
{
    half a = folded(v), b = folded(w);
    return __builtin_shufflevector(a, b, 0, 1, 4, 5) + __builtin_shufflevector(a, b, 2, 3, 6, 7);
}

/* Sums of the lanes of two accumulators at once, always in this order. */
static inline void add_lanes(const lanes *v, const lanes *w, float *sum_v, float *sum_w)
{
    half both = halved(v, w);
    *sum_v = both[0] + both[1];
    *sum_w = both[2] + both[3];
}

/* The same, with the same bits, of four accumulators. */
static inline void add_lanes_of_four(const lanes v[4], float sums[4])
{
    half low = halved(&v[0], &v[1]), high = halved(&v[2], &v[3]);
    half all = __builtin_shufflevector(low, high, 0, 2, 4, 6) +
               __builtin_shufflevector(low, high, 1, 3, 5, 7);
    memcpy(sums, &all, sizeof all);
}

#define LANES_AT(place) (*(const lanes *)(place))

/*
 * n outputs at a time share the loads of the taps: x[j] = sum a[j step + i] p[i], y[j] = sum
 * b[j step + i] q[i]. Each is summed in the same order as an output alone, so the bits don't depend on
 * where a run begins. Inlined with n a constant, and what is the same pointer is loaded once.
 */
#define GROUP_MOST 4
static inline __attribute__((always_inline)) void group(size_t n, const float *a, const float *b,
                                                        size_t step, const float *p, const float *q,
                                                        size_t taps, float *x, float *y)
{
    lanes of_x[GROUP_MOST] = {0}, of_y[GROUP_MOST] = {0};
    for (size_t i = 0; i < taps; i += ES_FIR_LANES)
        for (size_t j = 0; j < n; j++) {
            of_x[j] += LANES_AT(a + j * step + i) * LANES_AT(p + i);
            of_y[j] += LANES_AT(b + j * step + i) * LANES_AT(q + i);
        }
    if (n == 4) {
        add_lanes_of_four(of_x, x);
        add_lanes_of_four(of_y, y);
        return;
    }
    for (size_t j = 0; j < n; j++)
        add_lanes(&of_x[j], &of_y[j], &x[j], &y[j]);
}

static inline __attribute__((always_inline)) void sweep(size_t n, const float *a, const float *b,
                                                        size_t step, size_t outputs, const float *p,
                                                        const float *q, size_t taps, float *x,
                                                        float *y)
{
    size_t j = 0;
    for (; j + n <= outputs; j += n)
        group(n, a + j * step, b + j * step, step, p, q, taps, x + j, y + j);
    for (; j < outputs; j++)
        group(1, a + j * step, b + j * step, step, p, q, taps, x + j, y + j);
}

WIDE void es_fir_split(const float *in, size_t step, size_t outputs, const float *p, const float *q,
                       size_t taps, float *x, float *y)
{
    sweep(4, in, in, step, outputs, p, q, taps, x, y);
}

WIDE void es_fir_both(const float *a, const float *b, size_t step, size_t outputs, const float *p,
                      size_t taps, float *x, float *y)
{
    sweep(2, a, b, step, outputs, p, p, taps, x, y);
}

WIDE void es_fir_dot2(const float *a, const float *b, const float *c, size_t count, float *re,
                      float *im)
{
    lanes x = {0}, y = {0}, more_x = {0}, more_y = {0};
    size_t i = 0;
    for (; i + 2 * ES_FIR_LANES <= count; i += 2 * ES_FIR_LANES) {
        lanes common = *(const lanes *)(a + i), next = *(const lanes *)(a + i + ES_FIR_LANES);
        x += common * *(const lanes *)(b + i);
        y += common * *(const lanes *)(c + i);
        more_x += next * *(const lanes *)(b + i + ES_FIR_LANES);
        more_y += next * *(const lanes *)(c + i + ES_FIR_LANES);
    }
    if (i < count) {
        x += *(const lanes *)(a + i) * *(const lanes *)(b + i);
        y += *(const lanes *)(a + i) * *(const lanes *)(c + i);
    }
    x += more_x;
    y += more_y;
    add_lanes(&x, &y, re, im);
}

WIDE float es_fir_between(const float *rows, const float *by, const float *in, size_t taps)
{
    const float *r0 = rows, *r1 = rows + taps, *r2 = rows + 2 * taps, *r3 = rows + 3 * taps;
    float b0 = by[0], b1 = by[1], b2 = by[2], b3 = by[3], sum, none;
    lanes total = {0};
    for (size_t i = 0; i < taps; i += ES_FIR_LANES) {
        lanes early = LANES_AT(r0 + i) * b0 + LANES_AT(r1 + i) * b1;
        lanes late = LANES_AT(r2 + i) * b2 + LANES_AT(r3 + i) * b3;
        total += (early + late) * LANES_AT(in + i);
    }
    add_lanes(&total, &total, &sum, &none);
    return sum;
}

WIDE float es_fir_dot(const float *a, const float *b, size_t count)
{
    lanes even = {0}, odd = {0};
    size_t i = 0;
    for (; i + 2 * ES_FIR_LANES <= count; i += 2 * ES_FIR_LANES) {
        even += *(const lanes *)(a + i) * *(const lanes *)(b + i);
        odd += *(const lanes *)(a + i + ES_FIR_LANES) * *(const lanes *)(b + i + ES_FIR_LANES);
    }
    if (i < count)
        even += *(const lanes *)(a + i) * *(const lanes *)(b + i);
    float sum, none;
    even += odd;
    add_lanes(&even, &even, &sum, &none);
    return sum;
}
