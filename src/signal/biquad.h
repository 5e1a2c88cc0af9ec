/* Second-order sections, transposed direct form II, in double. Plain values; no memory of their own. */
#ifndef ES_SIGNAL_BIQUAD_H
#define ES_SIGNAL_BIQUAD_H

#include <stddef.h>

typedef struct es_biquad {
    double b0, b1, b2, a1, a2; /* a0 = 1 */
    double z1, z2;             /* state  */
} es_biquad;

static inline double es_biquad_step(es_biquad *s, double x)
{
    double y = s->b0 * x + s->z1;
    s->z1 = s->b1 * x - s->a1 * y + s->z2;
    s->z2 = s->b2 * x - s->a2 * y;
    return y;
}

static inline double es_biquads_step(es_biquad *s, size_t count, double x)
{
    for (size_t i = 0; i < count; i++)
        x = es_biquad_step(&s[i], x);
    return x;
}

void es_biquads_reset(es_biquad *s, size_t count);

/*
 * Butterworth filters by the bilinear transform, corner pre-warped: order 1 .. 6, -3 dB at corner_hz.
 * Fills (order + 1) / 2 sections and returns their number.
 */
size_t es_butterworth_low(es_biquad *s, int order, double corner_hz, double rate_hz);
size_t es_butterworth_high(es_biquad *s, int order, double corner_hz, double rate_hz);

#endif
