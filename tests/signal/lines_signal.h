/* Deviation signals for the tests of the lines: seeded noise, steady and sliding lines. */
#ifndef ES_TESTS_LINES_SIGNAL_H
#define ES_TESTS_LINES_SIGNAL_H

#include "evenspool/base/units.h"
#include "evenspool/signal/lines.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#define LINES_RATE_HZ 1201.0
#define LINES_HIGH_HZ 200.0
#define LINES_MOST (1201 * 1200)

static double lines_signal[LINES_MOST];
static size_t lines_count;

static inline es_lines *new_lines(void)
{
    es_lines *l;
    es_lines_config c = {.rate_hz = LINES_RATE_HZ, .high_hz = LINES_HIGH_HZ};
    assert_int_equal(es_lines_create(&c, &l), ES_OK);
    return l;
}

/* xorshift64* */
static inline double lines_uniform(uint64_t *s)
{
    *s ^= *s >> 12;
    *s ^= *s << 25;
    *s ^= *s >> 27;
    return ((double)((*s * 2685821657736338717u) >> 11) + 0.5) / 9007199254740992.0;
}

/* Begins a new signal: white noise. */
static inline void fill_noise(double length_s, double sigma, uint64_t seed)
{
    uint64_t s = seed * 0x9E3779B97F4A7C15u + 1u;
    lines_count = (size_t)(length_s * LINES_RATE_HZ);
    assert_true(lines_count <= LINES_MOST);
    for (size_t i = 0; i < lines_count; i++) {
        double radius = sqrt(-2.0 * log(lines_uniform(&s)));
        lines_signal[i] = sigma * radius * cos(ES_TWO_PI * lines_uniform(&s));
    }
}

/* 0: as it is; 1: falls with the square of the rate above 0.2 Hz, flat from some 20 Hz on;
 * 2: a broad hump around 6 Hz. */
static inline void colour_noise(int shape)
{
    double low = 0.0, band = 0.0, decay = exp(-ES_TWO_PI * 0.2 / LINES_RATE_HZ);
    double f = 2.0 * sin(ES_PI * 6.0 / LINES_RATE_HZ);
    for (size_t i = 0; i < lines_count && shape; i++) {
        double x = lines_signal[i];
        if (shape == 1) {
            low = decay * low + x;
            lines_signal[i] = x + 0.1 * low;
        } else { /* state-variable filter, quality 0.8 */
            low += f * band;
            band += f * (x - low - band / 0.8);
            lines_signal[i] = x + 30.0 * f * band;
        }
    }
}

/* Rate in the middle of length_s and its slope. */
static inline void add_line(double length_s, double hz, double hz_per_min, double peak,
                            double turns)
{
    for (size_t i = 0; i < lines_count; i++) {
        double t = (double)i / LINES_RATE_HZ - length_s / 2.0;
        double phase = turns + (hz + hz_per_min / 120.0 * t) * t;
        lines_signal[i] += peak * sin(ES_TWO_PI * phase);
    }
}

static inline size_t measure(es_lines *l, es_component *out, size_t room,
                             es_flutter_spectrum *spectrum)
{
    es_lines_reset(l);
    es_lines_push(l, lines_signal, lines_count);
    return es_lines_finish(l, out, room, spectrum);
}

#endif
