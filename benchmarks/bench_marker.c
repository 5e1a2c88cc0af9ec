/*
 * How surely markers are found, and how surely nothing else is taken for one.
 *
 * 1000 captures of one burst each, every one of them at the limits: speed anywhere in -12 .. +12 %, flutter of
 * 1 % peak, noise 15 dB under the burst within the band, band 300 Hz - 5 kHz, dropouts once a second,
 * one channel dead in two of three, polarity reversed in half of them; rates 44.1 to 192 kHz. Then ten hours of music, speech-like sound, noise
 * and rows of tones that are meant to mislead.
 */
#include "evenspool/signal/marker.h"
#include "signal/biquad.h"
#include "tone.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TRIALS 1000
#define HOURS 10
#define BLOCK 4096
#define WOBBLES 3

static double uniform(uint64_t *seed, double low, double high)
{
    return low + (high - low) * test_uniform(seed);
}

/* --- captures at the limits ---------------------------------------------------------------- */

typedef struct way {
    double speed, rate_hz[WOBBLES], peak[WOBBLES], phase[WOBBLES];
} way;

/* Tape time after t seconds of capture: the integral of the speed. */
static double tape_time(const way *w, double t)
{
    double at = w->speed * t;
    for (int i = 0; i < WOBBLES; i++) {
        double turn = TONE_TWO_PI * w->rate_hz[i];
        at += w->speed * w->peak[i] * (cos(w->phase[i]) - cos(turn * t + w->phase[i])) / turn;
    }
    return at;
}

static way any_way(uint64_t *seed)
{
    way w = {.speed = 1.0 + uniform(seed, -0.12, 0.12)};
    double rest = 0.01;
    for (int i = 0; i < WOBBLES; i++) {
        w.rate_hz[i] = exp(uniform(seed, log(0.3), log(60.0)));
        w.peak[i] = i + 1 < WOBBLES ? rest * test_uniform(seed) : rest;
        w.phase[i] = uniform(seed, 0.0, TONE_TWO_PI);
        rest -= w.peak[i];
    }
    return w;
}

/* When the tape time is `wanted`. */
static double capture_time(const way *w, double wanted)
{
    double t = wanted / w->speed;
    for (int i = 0; i < 60; i++)
        t -= (tape_time(w, t) - wanted) / w->speed;
    return t;
}

typedef struct trial {
    uint64_t seed;
    double rate_hz, start_s, length_s, level;
    way way;
    es_marker_code code;
    double gain[2]; /* of the burst; 0: dead */
    double from_s[8], to_s[8], depth[8];
    int dropouts;
} trial;

static trial any_trial(unsigned n)
{
    static const double rates[] = {48000, 44100, 96000, 48000, 192000, 48000};
    trial t = {.seed = 1000 + n, .rate_hz = rates[n % 6]};
    uint64_t *s = &t.seed;
    t.way = any_way(s);
    t.start_s = uniform(s, 0.2, 3.0);
    t.length_s = t.start_s + 2.208 / 0.87 + uniform(s, 0.0, 1.0);
    t.level = exp(uniform(s, log(0.01), log(0.5)));
    t.code = (es_marker_code){(unsigned)uniform(s, 0, 65536), (unsigned)uniform(s, 0, 4),
                              (unsigned)uniform(s, 0, 256)};
    int dead = (int)uniform(s, 0, 3);
    for (int c = 0; c < 2; c++)
        t.gain[c] = dead == c ? 0.0 : test_uniform(s) < 0.5 ? -1.0 : uniform(s, 0.7, 1.0);
    for (double at = 0.0; t.dropouts < 8;) {
        at += -log(test_uniform(s)); /* one a second */
        if (at > t.length_s)
            break;
        t.from_s[t.dropouts] = at;
        t.to_s[t.dropouts] = at + uniform(s, 0.01, 0.15);
        t.depth[t.dropouts++] = pow(10.0, -uniform(s, 10.0, 60.0) / 20.0);
    }
    return t;
}

static double dropout(const trial *t, double time_s)
{
    double gain = 1.0;
    for (int i = 0; i < t->dropouts; i++)
        if (time_s > t->from_s[i] && time_s < t->to_s[i])
            gain = fmin(gain, t->depth[i]);
    return gain;
}

typedef struct band {
    es_biquad high[2], low[2];
} band;

static void band_start(band *b, double rate_hz)
{
    memset(b, 0, sizeof *b);
    es_butterworth_high(b->high, 4, 300.0, rate_hz);
    es_butterworth_low(b->low, 4, 5000.0, rate_hz);
}

static double band_step(band *b, double x)
{
    return es_biquads_step(b->low, 2, es_biquads_step(b->high, 2, x));
}

/* Renders the capture into the finder and returns the number of finds; the first in *find. */
static size_t run_trial(trial *t, es_marker_find *find)
{
    static float sound[2][BLOCK];
    es_marker_finder *finder;
    es_marker_burst burst;
    band bands[2];
    if (es_marker_finder_create(t->rate_hz, &finder) != ES_OK ||
        es_marker_burst_make(t->code, &burst) != ES_OK)
        exit(1);
    band_start(&bands[0], t->rate_hz);
    band_start(&bands[1], t->rate_hz);
    /* white noise such that within 4700 Hz it is 15 dB under a sine of peak 1 */
    double noise = sqrt(0.5 * pow(10.0, -1.5) * (t->rate_hz / 2.0) / 4700.0);
    size_t total = (size_t)(t->length_s * t->rate_hz), found = 0;
    es_marker_find got[4];
    for (size_t at = 0; at < total; at += BLOCK) {
        for (size_t i = 0; i < BLOCK; i++) {
            double time_s = (double)(at + i) / t->rate_hz;
            double x = es_marker_burst_at(&burst, tape_time(&t->way, time_s - t->start_s));
            x *= dropout(t, time_s);
            for (int c = 0; c < 2; c++)
                sound[c][i] =
                    (float)(t->level *
                            band_step(&bands[c], t->gain[c] * x + noise * test_gauss(&t->seed)));
        }
        es_marker_finder_push(finder, sound[0], sound[1], 1, BLOCK);
    }
    es_marker_finder_finish(finder);
    found = es_marker_finder_take(finder, got, 4);
    *find = got[0];
    es_marker_finder_destroy(finder);
    return found;
}

typedef struct tally {
    int found, wrong, extra;
    double worst_ms, worst_speed, square_ms, square_speed, least_clarity;
} tally;

static void judge(tally *sum, const trial *t, size_t count, const es_marker_find *f)
{
    if (count == 0)
        return;
    sum->extra += count > 1;
    if (f->code.programme != t->code.programme || f->code.side != t->code.side ||
        f->code.section != t->code.section) {
        sum->wrong++;
        return;
    }
    double length_s = capture_time(&t->way, ES_MARKER_S), speed = ES_MARKER_S / length_s;
    double start = 1e3 * (f->start_s - t->start_s), end = 1e3 * (f->end_s - t->start_s - length_s);
    double ms = fmax(fabs(start), fabs(end)), off = fabs(f->speed / speed - 1.0);
    sum->found++;
    sum->square_ms += 0.5 * (start * start + end * end);
    sum->square_speed += off * off;
    sum->worst_ms = fmax(sum->worst_ms, ms);
    sum->worst_speed = fmax(sum->worst_speed, off);
    sum->least_clarity = fmin(sum->least_clarity, f->clarity);
}

static int find_markers(void)
{
    tally sum = {.least_clarity = 1.0};
    for (unsigned n = 0; n < TRIALS; n++) {
        trial t = any_trial(n);
        es_marker_find find;
        size_t count = run_trial(&t, &find);
        int before = sum.found;
        judge(&sum, &t, count, &find);
        if (sum.found == before)
            printf("  missed: capture %u, speed %+.1f %%, %.0f Hz\n", n,
                   100.0 * (t.way.speed - 1.0), t.rate_hz);
    }
    int kept = sum.found >= 0.995 * TRIALS && sum.wrong == 0 && sum.extra == 0;
    printf("Markers at the limits: %d of %d found, %d wrong, %d twice; start and end rms %.2f ms, "
           "worst %.2f ms; speed rms %.3f %%, worst %.3f %%; least clarity %.2f\n"
           "  promise: 99.5 %%, none wrong: %s\n",
           sum.found, TRIALS, sum.wrong, sum.extra, sqrt(sum.square_ms / sum.found), sum.worst_ms,
           100.0 * sqrt(sum.square_speed / sum.found), 100.0 * sum.worst_speed, sum.least_clarity,
           kept ? "kept" : "BROKEN");
    return kept;
}

/* --- hours of other sound ---------------------------------------------------------------------- */

#define RATE_HZ 12000.0
#define VOICES 6

typedef struct voice {
    double turns, step, level, decay, harmonics, vibrato;
    size_t left;
} voice;

static void next_note(voice *v, uint64_t *seed, int kind)
{
    double hz = kind == 3 ? 800.0 * pow(1.1, floor(uniform(seed, 0, 16)))
                          : 55.0 * pow(2.0, floor(uniform(seed, 0, 66)) / 12.0);
    double length = kind == 3 ? 0.048 : exp(uniform(seed, log(0.04), log(1.5)));
    v->step = hz / RATE_HZ;
    v->level = uniform(seed, 0.02, 0.2);
    v->decay = exp(-1.0 / (RATE_HZ * uniform(seed, 0.05, 2.0)));
    v->harmonics = floor(uniform(seed, 1, 5));
    v->vibrato = uniform(seed, 0.0, 0.01);
    v->left = (size_t)(length * RATE_HZ);
}

static double sound_of(voice *v, double time_s, int kind)
{
    double x = 0.0, wobble = 1.0 + v->vibrato * sin(TONE_TWO_PI * 5.5 * time_s);
    v->turns += v->step * (kind == 3 ? 1.0 : wobble);
    v->turns -= floor(v->turns);
    for (int k = 1; k <= (kind == 3 ? 1 : (int)v->harmonics) && k * v->step < 0.45; k++)
        x += sin(TONE_TWO_PI * k * v->turns) / k;
    v->level *= kind == 3 ? 1.0 : v->decay;
    return v->level * x;
}

/* kind 0: many voices; 1: few voices and drums; 2: noise that swells like speech; 3: one voice on
 * the markers' own tones and times. */
static void fill_sound(float *out, size_t from, voice *v, uint64_t *seed, int kind)
{
    int voices = kind == 0 ? VOICES : kind == 1 ? 2 : kind == 2 ? 0 : 1;
    for (size_t i = 0; i < BLOCK; i++) {
        double time_s = (double)(from + i) / RATE_HZ, x = 0.0;
        for (int k = 0; k < voices; k++) {
            if (v[k].left-- == 0)
                next_note(&v[k], seed, kind);
            x += sound_of(&v[k], time_s, kind);
        }
        double swell = kind == 2 ? fabs(sin(TONE_TWO_PI * 2.1 * time_s)) * 0.3 : 0.002;
        if (kind == 1)
            swell += 0.3 * exp(-20.0 * fmod(time_s, 0.43));
        out[i] = (float)(x + swell * test_gauss(seed));
    }
}

static int find_nothing(void)
{
    static float sound[BLOCK];
    size_t finds = 0;
    for (int hour = 0; hour < HOURS; hour++) {
        es_marker_finder *finder;
        voice v[VOICES] = {0};
        uint64_t seed = 77 + (uint64_t)hour;
        if (es_marker_finder_create(RATE_HZ, &finder) != ES_OK)
            exit(1);
        for (size_t at = 0; at < (size_t)(3600 * RATE_HZ); at += BLOCK) {
            es_marker_find find;
            fill_sound(sound, at, v, &seed, hour % 4);
            es_marker_finder_push(finder, sound, NULL, 1, BLOCK);
            finds += es_marker_finder_take(finder, &find, 1);
        }
        es_marker_finder_destroy(finder);
    }
    printf("False finds in %d h of music, speech-like sound, noise and rows of tones: %zu\n"
           "  promise: none: %s\n",
           HOURS, finds, finds == 0 ? "kept" : "BROKEN");
    return finds == 0;
}

int main(void)
{
    int found = find_markers(), none = find_nothing();
    return !(found && none);
}
