#include "signal/quasi_peak.h"

#include <math.h>

static const double charge_s[2] = {0.018, 0.106};
static const double leak_s[2] = {0.157, 0.881};

#define GAIN 1.51951   /* so that a steady 4 Hz sine reads its peak         */
#define LOPSIDED 0.072 /* share of the difference between the polarities */

es_quasi_peak es_quasi_peak_at(double rate_hz)
{
    es_quasi_peak d = {0};
    for (int i = 0; i < 2; i++) {
        d.charge[i] = 1.0 - exp(-1.0 / (rate_hz * charge_s[i]));
        d.leak[i] = 1.0 - exp(-1.0 / (rate_hz * leak_s[i]));
    }
    return d;
}

void es_quasi_peak_reset(es_quasi_peak *d)
{
    d->up[0] = d->up[1] = d->down[0] = d->down[1] = 0.0;
}

static void follow(const es_quasi_peak *d, double *stage, double in)
{
    for (int i = 0; i < 2; i++) {
        if (in > stage[i])
            stage[i] += (in - stage[i]) * d->charge[i];
        else
            stage[i] -= stage[i] * d->leak[i];
        in = stage[i];
    }
}

double es_quasi_peak_reading(const es_quasi_peak *d)
{
    double up = d->up[1], down = d->down[1];
    return GAIN * 0.5 * (up + down + LOPSIDED * fabs(up - down));
}

double es_quasi_peak_step(es_quasi_peak *d, double weighted)
{
    follow(d, d->up, fmax(weighted, 0.0));
    follow(d, d->down, fmax(-weighted, 0.0));
    return es_quasi_peak_reading(d);
}
