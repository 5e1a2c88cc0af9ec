#include "signal/biquad.h"

#include "evenspool/base/units.h"

#include <math.h>

void es_biquads_reset(es_biquad *s, size_t count)
{
    for (size_t i = 0; i < count; i++)
        s[i].z1 = s[i].z2 = 0.0;
}

/* One section of the prototype 1 / (p^2 + p / q + 1), low or high pass; k = tan(pi f / rate). */
static es_biquad second_order(double k, double damping, int high)
{
    double norm = 1.0 / (1.0 + k * damping + k * k);
    double gain = (high ? 1.0 : k * k) * norm;
    return (es_biquad){.b0 = gain,
                       .b1 = high ? -2.0 * gain : 2.0 * gain,
                       .b2 = gain,
                       .a1 = 2.0 * (k * k - 1.0) * norm,
                       .a2 = (1.0 - k * damping + k * k) * norm};
}

static es_biquad first_order(double k, int high)
{
    double norm = 1.0 / (1.0 + k), gain = (high ? 1.0 : k) * norm;
    return (es_biquad){.b0 = gain, .b1 = high ? -gain : gain, .a1 = (k - 1.0) * norm};
}

static size_t butterworth(es_biquad *s, int order, double corner_hz, double rate_hz, int high)
{
    double k = tan(ES_PI * corner_hz / rate_hz);
    size_t count = 0;
    for (int i = 0; i < order / 2; i++)
        s[count++] = second_order(k, 2.0 * sin(ES_PI * (2 * i + 1) / (2.0 * order)), high);
    if (order % 2)
        s[count++] = first_order(k, high);
    return count;
}

size_t es_butterworth_low(es_biquad *s, int order, double corner_hz, double rate_hz)
{
    return butterworth(s, order, corner_hz, rate_hz, 0);
}

size_t es_butterworth_high(es_biquad *s, int order, double corner_hz, double rate_hz)
{
    return butterworth(s, order, corner_hz, rate_hz, 1);
}
