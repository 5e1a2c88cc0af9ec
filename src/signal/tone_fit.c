#include "evenspool/signal/tone_fit.h"

#include "evenspool/base/units.h"

#include <math.h>

double es_tone_fit_weight(size_t i, size_t count)
{
    double n = (double)count, a = (double)i + 1.0;
    return 6.0 * a * (n + 1.0 - a) / (n * (n + 1.0) * (n + 2.0));
}

void es_tone_fit_push(es_tone_fit *e, double value)
{
    double a = (double)e->count + 1.0;
    e->sum += value;
    e->sum_i += a * value;
    e->sum_ii += a * a * value;
    e->count++;
}

double es_tone_fit_value(const es_tone_fit *e)
{
    double n = (double)e->count;
    if (e->count == 0)
        return (double)NAN;
    return 6.0 * ((n + 1.0) * e->sum_i - e->sum_ii) / (n * (n + 1.0) * (n + 2.0));
}

double es_frequency_bound_hz(double rate_hz, double window_s, double snr)
{
    double n = rate_hz * window_s;
    return sqrt(12.0 * rate_hz * rate_hz / (ES_TWO_PI * ES_TWO_PI * snr * n * (n * n - 1.0)));
}
