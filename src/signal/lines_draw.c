/* The mean spectrum on a logarithmic axis: the largest within each step, read between the bins. */
#include "signal/lines_found.h"

#include <math.h>

#define WORTH_READING 4.0 /* floors; below that a bin is as good as what lies beside it */

static double smooth_at(const es_lines_mean *m, double place)
{
    size_t k = (size_t)place;
    double part = place - (double)k, a = (double)m->power[k], b = (double)m->power[k + 1];
    return a > 0.0 && b > 0.0 ? exp(log(a) + part * log(b / a)) : 0.0;
}

static double height_of(const es_lines_mean *m, size_t k)
{
    double here = (double)m->power[k], place;
    if (!(m->power[k] > m->power[k - 1] && m->power[k] >= m->power[k + 1]) ||
        here < WORTH_READING * es_lines_floor_at(m->floor, (double)k))
        return here;
    return es_lines_top(m, k, &place);
}

static double largest_within(const es_lines_mean *m, double from, double to)
{
    size_t low = (size_t)ceil(from), high = (size_t)floor(to);
    double best = smooth_at(m, sqrt(from * to));
    for (size_t k = low; k <= high && k <= m->band.high; k++)
        best = fmax(best, height_of(m, k));
    return best;
}

static float percent_of(double power, double length)
{
    return (float)(100.0 * sqrt(es_lines_peak_squared(power, length)));
}

void es_lines_draw(const es_lines_mean *m, es_flutter_spectrum *out)
{
    double low_hz = 0.1, high_hz = m->bin_hz * (double)m->band.high;
    double ratio = log(high_hz / low_hz) / (ES_SPECTRUM_POINTS - 1), half = exp(ratio / 2.0);
    out->count = ES_SPECTRUM_POINTS;
    for (size_t i = 0; i < ES_SPECTRUM_POINTS; i++) {
        double rate = low_hz * exp(ratio * (double)i), place = rate / m->bin_hz;
        int known = place >= (double)m->band.low - 1.0;
        out->rate_hz[i] = (float)rate;
        out->peak_percent[i] = out->floor_percent[i] = NAN;
        if (!known)
            continue;
        out->peak_percent[i] = percent_of(largest_within(m, place / half, place * half), m->length);
        out->floor_percent[i] = percent_of(es_lines_floor_at(m->floor, place), m->length);
    }
}
