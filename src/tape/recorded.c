#include "tape/recorded.h"

#include "evenspool/base/units.h"
#include "tape/wave.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ROOM 8192      /* frames kept of each channel: a power of two */
#define BLOCK 256      /* frames taken from the recording at once */
#define HALF_MOST 512  /* taps on each side of the filter's middle ... */
#define HALF_CLEAN 128 /* ... which are enough for a head that touches the tape */
#define BANDS 2048     /* frequencies of which the filter is made */
#define TOP_HZ 24000.0
#define REACH 8 /* taps on each side between two frames */
#define PHASES 512

struct es_recorded {
    es_recording from;
    double top_hz;
    double cube, loudest, gain; /* of the tape's curve, with reference level at 1 */
    int half;                   /* of the filter's taps, but the middle */
    double taps[HALF_MOST + 1]; /* from the middle on */
    double between[PHASES + 1][2 * REACH];
    double raw[2][BLOCK + 2 * HALF_MOST]; /* the newest last */
    double kept[2][ROOM];                 /* after the head; frame i at i modulo ROOM */
    int64_t ready;                        /* frames before this one are there */
};

/* Four-term Blackman-Harris window, 1 in the middle, 0 at x = +-1. */
static double window(double x)
{
    double turn = ES_PI * x;
    return 0.35875 + 0.48829 * cos(turn) + 0.14128 * cos(2.0 * turn) + 0.01168 * cos(3.0 * turn);
}

/* The same, flat for longer: spacing loss has a corner at 0 Hz, which a window rounds. */
static double flat_window(double x)
{
    double rest = 1.0 - window(x), square = rest * rest;
    return 1.0 - square * square;
}

static double sinc(double x)
{
    return fabs(x) < 1e-9 ? 1.0 : sin(ES_PI * x) / (ES_PI * x);
}

_Static_assert(HALF_CLEAN % 4 == 0 && HALF_MOST % 4 == 0, "filter() takes four taps at a time");

static void fill_between(es_recorded *r)
{
    for (int p = 0; p <= PHASES; p++)
        for (int k = 0; k < 2 * REACH; k++) {
            double t = (double)(k - REACH + 1) - (double)p / PHASES;
            r->between[p][k] = sinc(t) * window(t / REACH);
        }
}

/* A sine of amplitude 1 through x - c x^3 has the fundamental 1 - 3 c / 4 and the third harmonic c / 4. */
static void bend(es_recorded *r, double third)
{
    r->cube = 4.0 * third / (1.0 + 3.0 * third);
    r->loudest = third > 0.0 ? 1.0 / sqrt(3.0 * r->cube) : HUGE_VAL;
    r->gain = 1.0 / (1.0 - 0.75 * r->cube);
}

es_status es_recorded_create(const es_recording *recording, double third, double rate_hz,
                             es_recorded **out)
{
    es_recorded *r = *out = calloc(1, sizeof *r);
    if (!r)
        return ES_ERR_NOMEM;
    r->from = *recording;
    r->top_hz = fmin(TOP_HZ, 0.5 * rate_hz);
    r->half = HALF_CLEAN;
    r->ready = -HALF_MOST;
    bend(r, third);
    fill_between(r);
    return ES_OK;
}

void es_recorded_destroy(es_recorded *r)
{
    free(r);
}

double es_recorded_reference(const es_recorded *r)
{
    return r->from.reference_fs;
}

/* The inverse transform of what the head does, by the middles of bands, under a window. */
void es_recorded_head(es_recorded *r, double spread_s, double dull_s)
{
    double step_hz = r->top_hz / BANDS;
    memset(r->taps, 0, sizeof r->taps);
    r->half = dull_s > 0.0 ? HALF_MOST : HALF_CLEAN;
    for (int b = 0; b < BANDS; b++) {
        double hz = ((double)b + 0.5) * step_hz, turn = hz / ES_RECORDING_RATE_HZ;
        double share =
            2.0 * step_hz / ES_RECORDING_RATE_HZ * sinc(hz * spread_s) * exp(-hz * dull_s);
        for (int n = 0; n <= r->half; n++)
            r->taps[n] += share * es_sine(es_wrap(0.25 + turn * (double)n));
    }
    for (int n = 0; n <= r->half; n++)
        r->taps[n] *= flat_window((double)n / (double)(r->half + 1));
}

/* The frames that lie HALF_MOST before the newest. Four taps at a time, so that sums stay in registers. */
static void filter(const es_recorded *r, const double *restrict raw, double *restrict out)
{
    const double *middle = raw + HALF_MOST;
    for (int i = 0; i < BLOCK; i++)
        out[i] = r->taps[0] * middle[i];
    for (int n = 1; n <= r->half; n += 4) {
        const double *t = r->taps + n, *before = middle - n - 3, *after = middle + n;
        for (int i = 0; i < BLOCK; i++)
            out[i] += t[0] * (before[i + 3] + after[i]) + t[1] * (before[i + 2] + after[i + 1]) +
                      t[2] * (before[i + 1] + after[i + 2]) + t[3] * (before[i] + after[i + 3]);
    }
}

static double saturated(const es_recorded *r, float sample)
{
    double x = (double)sample / r->from.reference_fs;
    x = fmin(fmax(x, -r->loudest), r->loudest);
    return r->gain * r->from.reference_fs * (x - r->cube * x * x * x);
}

static void take_block(es_recorded *r)
{
    float frames[2 * BLOCK];
    double out[BLOCK];
    r->from.render(r->from.self, frames, BLOCK);
    for (int c = 0; c < 2; c++) {
        double *raw = r->raw[c];
        memmove(raw, raw + BLOCK, 2 * HALF_MOST * sizeof *raw);
        for (int i = 0; i < BLOCK; i++)
            raw[2 * HALF_MOST + i] = saturated(r, frames[2 * i + c]);
        filter(r, raw, out);
        for (int i = 0; i < BLOCK; i++)
            r->kept[c][(size_t)(r->ready + i) & (ROOM - 1)] = out[i];
    }
    r->ready += BLOCK;
}

void es_recorded_wind(es_recorded *r, double at_s)
{
    double last = at_s * ES_RECORDING_RATE_HZ + REACH + 1;
    while ((double)r->ready <= last)
        take_block(r);
}

double es_recorded_at(const es_recorded *r, int channel, double at_s)
{
    double oldest = (double)(r->ready - ROOM + REACH), newest = (double)(r->ready - REACH - 1);
    double place = fmin(fmax(at_s * ES_RECORDING_RATE_HZ, oldest), newest), whole = floor(place);
    double phase = (place - whole) * PHASES, row = floor(phase), share = phase - row, sum = 0.0;
    const double *a = r->between[(size_t)row], *b = r->between[(size_t)fmin(row + 1.0, PHASES)];
    int64_t first = (int64_t)whole - REACH + 1;
    for (int k = 0; k < 2 * REACH; k++)
        sum += (a[k] + share * (b[k] - a[k])) * r->kept[channel][(size_t)(first + k) & (ROOM - 1)];
    return sum;
}
