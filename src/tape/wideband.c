#include "tape/wideband.h"

#include "evenspool/base/units.h"
#include "tape/noise.h"

#include <math.h>
#include <stdlib.h>

enum { STREAM_LINES = 24 };

#define STEPS 131072 /* of the loop */
#define STEPS_HZ 192000.0
#define LINES 384
#define LOW_HZ 100.0
#define HIGH_HZ 16000.0
#define SPREAD_LEAST 0.5 /* steps: narrower gaps make no difference, but for rounding */

struct es_wideband {
    double value[STEPS], sum[STEPS]; /* sum: integral of the value up to the step [steps] */
};

/* A line that makes `turns` whole turns in the loop. */
static void add_line(es_wideband *b, double turns, double amplitude, double phase)
{
    double step = ES_TWO_PI * turns / STEPS;
    double c = cos(phase), s = sin(phase), turn_c = cos(step), turn_s = sin(step);
    for (size_t i = 0; i < STEPS; i++) {
        b->value[i] += amplitude * c;
        b->sum[i] += amplitude * s / step;
        double next = c * turn_c - s * turn_s;
        s = c * turn_s + s * turn_c;
        c = next;
    }
}

/* Half of the lines evenly over the octaves, half evenly over the hertz, so that no stretch is empty. */
static double place_of(int line, double high_hz, double share)
{
    double at = ((double)(line / 2) + share) / (LINES / 2);
    return line % 2 ? LOW_HZ * pow(high_hz / LOW_HZ, at) : LOW_HZ + (high_hz - LOW_HZ) * at;
}

static void add_lines(es_wideband *b, const es_scenario *s, double rate_hz)
{
    es_rng rng = es_rng_seeded(s->seed, STREAM_LINES);
    double high_hz = fmin(HIGH_HZ, 0.45 * rate_hz), powers = 0.0;
    double dull = ES_TWO_PI * s->head_spacing_m / s->geometry.speed_m_s;
    double hz[LINES], amplitude[LINES];
    for (int i = 0; i < LINES; i++) {
        hz[i] = place_of(i, high_hz, es_rng_uniform(&rng));
        amplitude[i] = i % 2 ? 1.0 : sqrt((high_hz - LOW_HZ) / log(high_hz / LOW_HZ) / hz[i]);
        powers += 0.5 * amplitude[i] * amplitude[i];
    }
    for (int i = 0; i < LINES; i++) {
        double turns = round(hz[i] * STEPS / STEPS_HZ);
        add_line(b, turns, amplitude[i] / sqrt(powers) * exp(-dull * hz[i]),
                 ES_TWO_PI * es_rng_uniform(&rng));
    }
}

es_status es_wideband_create(const es_scenario *scenario, double rate_hz, es_wideband **out)
{
    *out = calloc(1, sizeof **out);
    if (!*out)
        return ES_ERR_NOMEM;
    add_lines(*out, scenario, rate_hz);
    return ES_OK;
}

void es_wideband_destroy(es_wideband *b)
{
    free(b);
}

/* Integral up to a place in steps. */
static double sum_at(const es_wideband *b, double place)
{
    double whole = floor(place), x = place - whole;
    size_t i = (size_t)((int64_t)whole & (STEPS - 1)), j = (i + 1) & (STEPS - 1);
    double rise = b->sum[j] - b->sum[i];
    double bend = b->value[i] + b->value[j] - 2.0 * rise;
    return b->sum[i] + x * (b->value[i] + x * (rise - b->value[i] - bend + x * bend));
}

double es_wideband_at(const es_wideband *b, double at_s, double spread_s)
{
    double place = at_s * STEPS_HZ, half = 0.5 * fmax(spread_s * STEPS_HZ, SPREAD_LEAST);
    return (sum_at(b, place + half) - sum_at(b, place - half)) / (2.0 * half);
}
