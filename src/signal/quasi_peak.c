#include "signal/quasi_peak.h"

#include "evenspool/base/units.h"

#include <math.h>
#include <string.h>

#define SMOOTHING_S 0.033
#define CHARGE_S 0.031
#define LEAK_S 0.630
#define INERTIA_S 0.270

/*
 * Rates at which each section turns by a quarter [Hz]; chains take turns. They make the difference of
 * the chains ripple evenly about a quarter turn, by 0.64 degrees, over 0.2 .. 200 Hz at 1201 readings a
 * second: with k' = tan(0.2 pi / 1201) / tan(200 pi / 1201), tan(pi f / 1201) is the geometric mean of both
 * tangents times sqrt(k') sn/cn of (i + 1/2) K / 10 for i = 0 .. 9 (Jacobi's functions of modulus
 * sqrt(1 - k'^2), K its quarter period). Envelope of a sine: 0.56 % of ripple at most.
 */
static const double quarter_hz[ES_QUADRATURE_SECTIONS][2] = {
    {0.08639998, 0.3236972}, {0.8026340, 1.880748}, {4.363018, 10.10458},
    {23.41787, 54.56866},    {130.8703, 354.7407},
};

static double per_sample(double time_s, double rate_hz)
{
    return 1.0 - exp(-1.0 / (rate_hz * time_s));
}

es_quasi_peak es_quasi_peak_at(double rate_hz)
{
    es_quasi_peak d = {.smoothing = per_sample(SMOOTHING_S, rate_hz),
                       .charge = per_sample(CHARGE_S, rate_hz),
                       .leak = per_sample(LEAK_S, rate_hz),
                       .inertia = per_sample(INERTIA_S, rate_hz)};
    for (int i = 0; i < ES_QUADRATURE_SECTIONS; i++)
        for (int chain = 0; chain < 2; chain++) {
            double k = tan(ES_PI * quarter_hz[i][chain] / rate_hz);
            d.turn[i][chain] = (k - 1.0) / (k + 1.0);
        }
    return d;
}

void es_quasi_peak_reset(es_quasi_peak *d)
{
    memset(d->held, 0, sizeof d->held);
    d->smooth = d->stored = d->needle = 0.0;
}

/* Both chains side by side: each section is (turn + 1/z) / (1 + turn/z). */
static double envelope(es_quasi_peak *d, double weighted)
{
    double at[2] = {weighted, weighted};
    for (int i = 0; i < ES_QUADRATURE_SECTIONS; i++)
        for (int chain = 0; chain < 2; chain++) {
            double in = at[chain], turn = d->turn[i][chain];
            at[chain] = turn * in + d->held[i][chain];
            d->held[i][chain] = in - turn * at[chain];
        }
    return sqrt(at[0] * at[0] + at[1] * at[1]);
}

double es_quasi_peak_reading(const es_quasi_peak *d)
{
    return d->needle;
}

double es_quasi_peak_step(es_quasi_peak *d, double weighted)
{
    double size = envelope(d, weighted), now = fabs(weighted);
    if (now > size)
        size = now;
    d->smooth += (size - d->smooth) * d->smoothing;
    if (d->smooth > d->stored)
        d->stored += (d->smooth - d->stored) * d->charge;
    else
        d->stored -= d->stored * d->leak;
    if (d->stored > d->needle)
        d->needle += (d->stored - d->needle) * d->inertia;
    else
        d->needle = d->stored;
    return d->needle;
}
