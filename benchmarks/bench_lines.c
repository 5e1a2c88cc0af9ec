/*
 * Study of the lines: how often noise alone is taken for a line, how often a line is found, how
 * well its rate and peak are read, and what a sample costs. All seeds are fixed.
 *
 *   bench_lines [captures per row]
 */
#include "evenspool/base/units.h"
#include "evenspool/signal/lines.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#define RATE_HZ 1201.0
#define HIGH_HZ 200.0
#define POLES 6
#define FOUND 12

/* --- noise of a known spectrum ----------------------------------------------------- */

typedef struct source {
    uint64_t state;
    double pole[POLES], gain[POLES], memory[POLES];
    int poles;
} source;

static double uniform(source *s)
{
    s->state ^= s->state >> 12;
    s->state ^= s->state << 25;
    s->state ^= s->state >> 27;
    return ((double)((s->state * 2685821657736338717u) >> 11) + 0.5) / 9007199254740992.0;
}

static double gauss(source *s)
{
    double radius = sqrt(-2.0 * log(uniform(s)));
    return radius * cos(ES_TWO_PI * uniform(s));
}

static void add_pole(source *s, double corner_hz, double level)
{
    s->pole[s->poles] = exp(-ES_TWO_PI * corner_hz / RATE_HZ);
    s->gain[s->poles] = level * (1.0 - s->pole[s->poles]);
    s->poles++;
}

static source new_source(const char *shape, uint64_t seed)
{
    source s = {.state = seed * 0x9E3779B97F4A7C15u + 88172645463325252u};
    add_pole(&s, 1e4, 1e-4);
    if (shape[0] == 'w')
        return s;
    s.gain[0] = 3e-5;
    if (shape[0] == 'b') /* brown: falls with the square from 0.05 Hz on */
        add_pole(&s, 0.05, 2e-2);
    for (double hz = 0.05; shape[0] == 'p' && hz < 200.0; hz *= 8.0) /* about 1/f */
        add_pole(&s, hz, 1e-3 / sqrt(hz));
    return s;
}

static double noise(source *s)
{
    double sum = 0.0;
    for (int i = 0; i < s->poles; i++) {
        s->memory[i] = s->pole[i] * s->memory[i] + s->gain[i] * gauss(s);
        sum += s->memory[i];
    }
    return sum;
}

/* Power of the noise per bin of a Hann-windowed transform over the sum of squared weights. */
static double power_at(const source *s, double hz)
{
    double sum = 0.0, w = ES_TWO_PI * hz / RATE_HZ;
    for (int i = 0; i < s->poles; i++)
        sum +=
            s->gain[i] * s->gain[i] / (1.0 - 2.0 * s->pole[i] * cos(w) + s->pole[i] * s->pole[i]);
    return sum;
}

/* --- one capture --------------------------------------------------------------------- */

typedef struct line {
    double hz, slope_hz_min, peak, phase;
} line;

static size_t capture(es_lines *l, source *s, double length_s, const line *one, es_component *out)
{
    double block[512];
    size_t total = (size_t)(length_s * RATE_HZ);
    double middle = length_s / 2.0, slope = one->slope_hz_min / 60.0;
    es_lines_reset(l);
    for (size_t at = 0; at < total;) {
        size_t n = total - at < 512 ? total - at : 512;
        for (size_t i = 0; i < n; i++, at++) {
            double t = (double)at / RATE_HZ - middle;
            double turns = (one->hz + 0.5 * slope * t) * t + one->phase;
            block[i] = noise(s) + (one->peak > 0.0 ? one->peak * sin(ES_TWO_PI * turns) : 0.0);
        }
        es_lines_push(l, block, n);
    }
    return es_lines_finish(l, out, FOUND, NULL);
}

static es_lines *new_lines(void)
{
    es_lines *l;
    if (es_lines_create(&(es_lines_config){RATE_HZ, HIGH_HZ}, &l) != ES_OK)
        exit(5);
    return l;
}

/* --- rows ------------------------------------------------------------------------------- */

static void false_lines(const char *shape, double length_s, int captures)
{
    es_lines *l = new_lines();
    es_component out[FOUND];
    int false_count = 0;
    double lowest = HUGE_VAL, highest = 0.0;
    for (int i = 0; i < captures; i++) {
        source s = new_source(shape, (uint64_t)i + 1);
        size_t n = capture(l, &s, length_s, &(line){0}, out);
        false_count += (int)n;
        for (size_t k = 0; k < n; k++) {
            lowest = fmin(lowest, out[k].rate_hz);
            highest = fmax(highest, out[k].rate_hz);
        }
    }
    printf("false  %-6s %6.0f s  %d in %d captures", shape, length_s, false_count, captures);
    if (false_count)
        printf("  (%.2f .. %.2f Hz)", lowest, highest);
    putchar('\n');
    es_lines_destroy(l);
}

typedef struct errors {
    int found, slope_told, slope_zero;
    double rate, rate_squares, peak, peak_squares, slope_squares;
} errors;

static void add_errors(errors *e, const line *one, const es_component *c)
{
    double rate = c->rate_hz - one->hz, peak = c->peak_percent / 100.0 / one->peak - 1.0;
    e->found++;
    e->rate += rate, e->rate_squares += rate * rate;
    e->peak += peak, e->peak_squares += peak * peak;
    if (!isfinite(c->rate_slope_hz_per_min))
        return;
    double slope = c->rate_slope_hz_per_min - one->slope_hz_min;
    e->slope_told += c->rate_slope_hz_per_min != 0.0;
    e->slope_zero += c->rate_slope_hz_per_min == 0.0;
    e->slope_squares += slope * slope;
}

static void found_lines(const char *shape, double length_s, double over_db, double hz,
                        double slope_hz_min, int captures)
{
    es_lines *l = new_lines();
    es_component out[FOUND];
    errors e = {0};
    int others = 0;
    for (int i = 0; i < captures; i++) {
        source s = new_source(shape, (uint64_t)i + 70001);
        line one = {hz * (1.0 + 0.01 * uniform(&s)), slope_hz_min, 0.0, uniform(&s)};
        double height = pow(10.0, over_db / 10.0) * power_at(&s, one.hz);
        one.peak = sqrt(height * 6.0 / (length_s * RATE_HZ));
        size_t n = capture(l, &s, length_s, &one, out), hit = n;
        for (size_t k = 0; k < n; k++)
            if (fabs(out[k].rate_hz - one.hz) < 1.5 / fmin(length_s, 55.0))
                hit = k;
        if (hit < n)
            add_errors(&e, &one, &out[hit]);
        others += (int)n - (hit < n);
    }
    double n = fmax(1.0, e.found), t = fmin(length_s, 54.6);
    printf("line   %-6s %5.0f s %3.0f dB %7.2f Hz %+6.3f/min  found %5.1f %%  rate off %+.3f rms "
           "%.3f /T  peak off %+.1f rms %.1f %%  slope told %3.0f %% zero %3.0f %% rms off %.4f  "
           "others %d\n",
           shape, length_s, over_db, hz, slope_hz_min, 100.0 * e.found / captures, e.rate / n * t,
           sqrt(e.rate_squares / n) * t, 100.0 * e.peak / n, 100.0 * sqrt(e.peak_squares / n),
           100.0 * e.slope_told / n, 100.0 * e.slope_zero / n,
           sqrt(e.slope_squares / fmax(1.0, e.slope_told + e.slope_zero)), others);
    es_lines_destroy(l);
}

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Noise and eight lines, best of several runs. */
static void cost(double length_s)
{
    static double block[600 * 1201];
    static const double hz[8] = {0.45, 0.9, 1.5, 4.5, 7.51, 15.02, 40.1, 120.3};
    size_t room = sizeof block / sizeof *block, count = (size_t)(length_s * RATE_HZ);
    source s = new_source("pink", 7);
    for (size_t i = 0; i < room; i++) {
        block[i] = noise(&s);
        for (int k = 0; k < 8; k++)
            block[i] += 3e-4 * sin(ES_TWO_PI * hz[k] * (double)i / RATE_HZ);
    }
    es_lines *l = new_lines();
    es_component out[FOUND];
    es_flutter_spectrum spectrum;
    double best = HUGE_VAL, best_end = HUGE_VAL;
    for (int run = 0; run < 7; run++) {
        double begin = now_s();
        es_lines_reset(l);
        for (size_t at = 0; at < count; at += 1201)
            es_lines_push(l, block + at % room, 1201);
        double middle = now_s();
        es_lines_finish(l, out, FOUND, &spectrum);
        best = fmin(best, middle - begin);
        best_end = fmin(best_end, now_s() - middle);
    }
    printf("cost   %6.0f s  %5.1f ns a sample, finish %.2f ms\n", length_s,
           1e9 * best / (double)count, 1e3 * best_end);
    es_lines_destroy(l);
}

int main(int argc, char **argv)
{
    int captures = argc > 1 ? atoi(argv[1]) : 100;
    int few = captures / 10 + 1;
    static const char *const shapes[] = {"white", "pink", "brown"};
    cost(60.0);
    cost(600.0);
    cost(3600.0);
    for (int i = 0; i < 3; i++) {
        false_lines(shapes[i], 6.0, captures);
        false_lines(shapes[i], 60.0, captures);
        false_lines(shapes[i], 200.0, captures / 4 + 1);
        false_lines(shapes[i], 1200.0, few);
    }
    static const double rates[] = {0.3, 0.45, 1.5, 7.5, 40.0, 150.0};
    for (int i = 0; i < 6; i++) {
        found_lines(shapes[i % 2], 60.0, 15.0, rates[i], 0.0, captures);
        found_lines(shapes[i % 2], 60.0, 20.0, rates[i], 0.0, captures);
        found_lines(shapes[i % 2], 60.0, 30.0, rates[i], 0.02, captures);
    }
    found_lines("white", 6.0, 20.0, 7.5, 0.0, captures);
    found_lines("white", 600.0, 25.0, 7.5, 0.0, few);
    found_lines("pink", 600.0, 40.0, 0.45, 0.01, few);
    return 0;
}
