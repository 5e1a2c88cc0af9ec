#include "task/trim_swing.h"

#include "evenspool/base/units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define STANDS_OUT                                                                                 \
    16.0 /* times the median power: chance alone comes so far once in a hundred looks */
#define CYCLES_LEAST 2.5 /* of a swing in the span */
#define LEAST 1e-6       /* smaller swings don't matter [fraction] */

#define STEP ((ES_SWING_HIGH_HZ - ES_SWING_LOW_HZ) / (ES_SWING_RATES - 1))

typedef struct sum {
    double re, im;
} sum;

static double window(int i, int count)
{
    return 0.5 - 0.5 * cos(ES_TWO_PI * (i + 0.5) / count);
}

/* Transform of the windowed values along the way, at all rates of the grid. */
static void transform(const es_swing_point *p, int count, sum *out)
{
    memset(out, 0, ES_SWING_RATES * sizeof *out);
    for (int i = 0; i < count; i++) {
        double value = p[i].weight * p[i].value * window(i, count);
        if (value == 0.0)
            continue;
        double first = ES_TWO_PI * ES_SWING_LOW_HZ * (p[i].way - p[0].way);
        double step = ES_TWO_PI * STEP * (p[i].way - p[0].way);
        double x = value * cos(first), y = value * sin(first), c = cos(step), s = sin(step);
        for (int k = 0; k < ES_SWING_RATES; k++) {
            out[k].re += x;
            out[k].im += y;
            double next = x * c - y * s;
            y = x * s + y * c;
            x = next;
        }
    }
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Index of the strongest rate of at least `low`, if it stands out; -1: none does. */
static int strongest(const sum *z, double low, double *power)
{
    double sorted[ES_SWING_RATES];
    int best = -1, first = (int)ceil((low - ES_SWING_LOW_HZ) / STEP);
    first = first < 1 ? 1 : first;
    for (int k = 0; k < ES_SWING_RATES; k++)
        sorted[k] = power[k] = z[k].re * z[k].re + z[k].im * z[k].im;
    for (int k = first; k < ES_SWING_RATES - 1; k++)
        if (power[k] >= power[k - 1] && power[k] >= power[k + 1] &&
            (best < 0 || power[k] > power[best]))
            best = k;
    qsort(sorted, ES_SWING_RATES, sizeof *sorted, by_size);
    return best > 0 && power[best] > STANDS_OUT * sorted[ES_SWING_RATES / 2] ? best : -1;
}

/* Between the steps of the grid, by the parabola through the logarithms. */
static double refined(const double *power, int k)
{
    double a = log(power[k - 1]), b = log(power[k]), c = log(power[k + 1]);
    double bend = a - 2.0 * b + c;
    return ES_SWING_LOW_HZ + STEP * (k + (bend < 0.0 ? 0.5 * (a - c) / bend : 0.0));
}

/* Size and phase by weighted least squares of level, cosine and sine. */
static es_swing fitted(const es_swing_point *p, int count, double rate)
{
    double w = 0.0, c = 0.0, s = 0.0, cc = 0.0, ss = 0.0, cs = 0.0, v = 0.0, vc = 0.0, vs = 0.0;
    for (int i = 0; i < count; i++) {
        double weight = p[i].weight * window(i, count);
        double x = cos(ES_TWO_PI * rate * p[i].way), y = sin(ES_TWO_PI * rate * p[i].way);
        w += weight, c += weight * x, s += weight * y;
        cc += weight * x * x, ss += weight * y * y, cs += weight * x * y;
        v += weight * p[i].value, vc += weight * p[i].value * x, vs += weight * p[i].value * y;
    }
    cc -= c * c / w, ss -= s * s / w, cs -= c * s / w;
    vc -= v * c / w, vs -= v * s / w;
    double scale = cc * ss - cs * cs;
    return (es_swing){rate, (vc * ss - vs * cs) / scale, (vs * cc - vc * cs) / scale};
}

static double value_of(const es_swing *s, double way)
{
    double angle = ES_TWO_PI * s->rate * way;
    return s->along * cos(angle) + s->across * sin(angle);
}

void es_swings_find(es_swings *out, es_swing_point *p, int count)
{
    sum z[ES_SWING_RATES];
    double power[ES_SWING_RATES];
    out->count = 0;
    if (count < ES_SWING_LEAST)
        return;
    double low = CYCLES_LEAST / (p[count - 1].way - p[0].way);
    while (out->count < ES_SWINGS_MOST) {
        transform(p, count, z);
        int best = strongest(z, low, power);
        if (best < 0)
            break;
        es_swing s = fitted(p, count, refined(power, best));
        if (!(hypot(s.along, s.across) > LEAST))
            break;
        for (int i = 0; i < count; i++)
            p[i].value -= value_of(&s, p[i].way);
        out->at[out->count++] = s;
    }
}

double es_swings_value(const es_swings *s, double way)
{
    double value = 0.0;
    for (int i = 0; i < s->count; i++)
        value += value_of(&s->at[i], way);
    return value;
}
