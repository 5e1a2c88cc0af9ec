#include "evenspool/signal/tone_tracker.h"

#include "evenspool/base/units.h"
#include "signal/fir.h"
#include "signal/speed_kernel.h"
#include "signal/wide.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define REACH 0.15
#define PHASORS_MOST (ES_TRACKER_BLOCK + 2) /* a hop may be a single frame */
#define STEPS_ROOM (PHASORS_MOST + 2600)    /* and the longest kernel      */
#define TURNS_MOST 64 /* phasors worked on at a time                                */
#define TURNS_STEP 8
#define PLACES_MOST 32    /* readings worked on at a time                               */
#define FADE 0.25         /* of the recent level: below it the tone is missing (-12 dB) */
#define LEVEL_RISE_S 0.05 /* how fast the recent level follows                          */
#define LEVEL_FALL_S 1.0
#define MEAN_S 0.1 /* of the frequency that bridges a gap                        */
#define FLAT 1.01  /* kernel, in parts of the band */
#define SHARP 1.6
#define QUICK 2.1

struct es_tone_tracker {
    double rate_hz;
    es_tracker_kind kind;
    es_baseband *baseband;
    es_baseband_plan plan;
    double amplitude_fs;
    double band_hz;
    es_speed_kernel kernel;
    double mean_rate, rise_rate, fall_rate; /* of the running means, per hop      */
    double step_most;                       /* a larger step has left the band    */
    double hops_per_frame;
    size_t spread_hops; /* how far the filters smear the edge of a gap */

    es_phasor *phasors; /* of the last process */
    size_t phasor_count;

    /* state cleared by reset; steps[i] goes from phasor first_step + i - 1 to the one after */
    float *steps;        /* phase steps off the centre [cycles] */
    float *levels;       /* |phasor| at the end of the step     */
    unsigned char *lost; /* 1: bridged                          */
    size_t step_count;
    double first_step; /* index of the phasor that ends steps[0] */
    es_phasor last;
    int started;
    double level, mean_step;
    double next_reading;
    size_t missing_hops, spread_left;
};

/* --- life ---------------------------------------------------------------------- */

es_status es_tone_tracker_create(double rate_hz, es_tracker_kind kind, es_tone_tracker **out)
{
    *out = NULL;
    es_tone_tracker *t = calloc(1, sizeof *t);
    if (!t)
        return ES_ERR_NOMEM;
    t->rate_hz = rate_hz;
    t->kind = kind;
    es_status status = es_baseband_create(rate_hz, &t->baseband);
    t->kernel.weights = calloc(ES_KERNEL_WEIGHTS, sizeof(float));
    t->phasors = calloc(PHASORS_MOST, sizeof *t->phasors);
    t->steps = calloc(STEPS_ROOM, sizeof *t->steps);
    t->levels = calloc(STEPS_ROOM, sizeof *t->levels);
    t->lost = calloc(STEPS_ROOM, 1);
    if (status == ES_OK &&
        (!t->kernel.weights || !t->phasors || !t->steps || !t->levels || !t->lost))
        status = ES_ERR_NOMEM;
    if (status != ES_OK) {
        es_tone_tracker_destroy(t);
        return status;
    }
    *out = t;
    return ES_OK;
}

void es_tone_tracker_destroy(es_tone_tracker *t)
{
    if (!t)
        return;
    es_baseband_destroy(t->baseband);
    free(t->kernel.weights);
    free(t->phasors);
    free(t->steps);
    free(t->levels);
    free(t->lost);
    free(t);
}

void es_tone_tracker_reset(es_tone_tracker *t)
{
    es_baseband_reset(t->baseband);
    t->phasor_count = 0;
    t->step_count = 0;
    t->first_step = 1.0;
    t->started = 0;
    t->level = t->amplitude_fs / 2.0;
    t->mean_step = 0.0;
    t->missing_hops = t->spread_left = 0;
    double first_instant = (double)t->kernel.taps / 2.0 + 0.5;
    double first_s =
        (t->plan.delay_frames + first_instant * (double)t->plan.hop_frames) / t->rate_hz;
    t->next_reading = ceil(first_s * ES_READINGS_HZ);
}

es_status es_tone_tracker_tune(es_tone_tracker *t, double centre_hz, double amplitude_fs)
{
    es_status status =
        amplitude_fs > 0.0 ? es_baseband_tune(t->baseband, centre_hz, REACH) : ES_ERR_ARG;
    if (status != ES_OK)
        return status;
    es_baseband_plan before = t->plan;
    t->plan = es_baseband_plan_of(t->baseband);
    t->amplitude_fs = amplitude_fs;
    double band_before = t->band_hz;
    t->band_hz = fmin(200.0, floor(t->plan.pass_hz - REACH * t->plan.centre_hz));
    if (before.hop_hz != t->plan.hop_hz || band_before != t->band_hz)
        es_speed_kernel_fill(&t->kernel, t->plan.hop_hz, FLAT * t->band_hz,
                             (t->kind == ES_TRACKER_SHARP ? SHARP : QUICK) * t->band_hz);
    t->mean_rate = 1.0 / (MEAN_S * t->plan.hop_hz + 1.0);
    t->rise_rate = 1.0 / (LEVEL_RISE_S * t->plan.hop_hz);
    t->fall_rate = 1.0 / (LEVEL_FALL_S * t->plan.hop_hz);
    t->step_most = 1.05 * t->plan.pass_hz / t->plan.hop_hz;
    t->hops_per_frame = 1.0 / (double)t->plan.hop_frames;
    t->spread_hops = (size_t)ceil(t->plan.delay_frames * t->hops_per_frame);
    es_tone_tracker_reset(t);
    return ES_OK;
}

double es_tone_tracker_band_hz(const es_tone_tracker *t)
{
    return t->band_hz;
}

double es_tone_tracker_missing_s(const es_tone_tracker *t)
{
    return (double)t->missing_hops / t->plan.hop_hz;
}

const es_phasor *es_tone_tracker_phasors(const es_tone_tracker *t, size_t *count)
{
    *count = t->phasor_count;
    return t->phasors;
}

es_baseband_plan es_tone_tracker_plan(const es_tone_tracker *t)
{
    return t->plan;
}

/* --- readings ---------------------------------------------------------------------- */

typedef struct place {
    double time_s;
    size_t from; /* first of the steps under the kernel */
    es_speed_spot spot;
} place;

/* Where reading n lies. */
static void find_place(const es_tone_tracker *t, double n, place *p)
{
    p->time_s = n / ES_READINGS_HZ;
    double at = (p->time_s * t->rate_hz - t->plan.delay_frames) * t->hops_per_frame;
    int64_t whole = (int64_t)at; /* from the first reading on, at > 0 */
    p->from = (size_t)(whole - (int64_t)t->kernel.taps / 2 + 1 - (int64_t)t->first_step);
    es_speed_kernel_spot(at - (double)whole, &p->spot);
}

static es_tone_reading reading_at(const es_tone_tracker *t, const place *p)
{
    size_t taps = t->kernel.taps, core = taps / 4;
    double step = es_speed_kernel_at(&t->kernel, &p->spot, t->steps + p->from);
    es_tone_reading r = {.time_s = p->time_s};
    r.hz = t->plan.centre_hz + t->plan.hop_hz * step;
    r.amplitude_fs = 2.0 * (double)t->levels[p->from + taps / 2];
    r.good = !memchr(t->lost + p->from + core, 1, taps - 2 * core);
    return r;
}

/* Forgets the steps that no later reading needs. */
static void forget_steps(es_tone_tracker *t, size_t from)
{
    size_t done = from < t->step_count ? from : t->step_count;
    size_t left = t->step_count - done;
    memmove(t->steps, t->steps + done, left * sizeof *t->steps);
    memmove(t->levels, t->levels + done, left * sizeof *t->levels);
    memmove(t->lost, t->lost + done, left);
    t->step_count = left;
    t->first_step += (double)done;
}

/*
 * Readings whose kernel is covered by the steps held. All places first, then what is read there: the
 * sums are long, and a place worked out in between would be waited for.
 */
static size_t make_readings(es_tone_tracker *t, es_tone_reading *out)
{
    place at[PLACES_MOST];
    size_t made = 0, count;
    do {
        count = 0;
        find_place(t, t->next_reading, &at[0]);
        while (at[count].from + t->kernel.taps <= t->step_count && ++count < PLACES_MOST)
            find_place(t, t->next_reading + (double)count, &at[count]);
        t->next_reading += (double)count;
        for (size_t i = 0; i < count; i++)
            out[made++] = reading_at(t, &at[i]);
    } while (count == PLACES_MOST);
    forget_steps(t, at[count].from);
    return made;
}

/* --- phase steps ------------------------------------------------------------------ */

/* A run of phasors: the angle from the one before, and the length of each. */
typedef struct turns {
    size_t count;
    es_phasor z[TURNS_MOST + 1]; /* z[0]: the one before */
    double angle[TURNS_MOST];    /* [cycles] -0.5 .. 0.5 */
    float level[TURNS_MOST];
} turns;

/*
 * The angles are exact for the phasors as they are: those of a run must add up to the angle between its
 * ends, or long windows would see the rounding. Near the centre, where a tone spends its time, by the
 * series of the arc tangent (last term 2e-16), elsewhere by the library.
 */
WIDE static void fill_angles(turns *t)
{
    size_t whole = (t->count + TURNS_STEP - 1) / TURNS_STEP * TURNS_STEP; /* suits vectors */
    for (size_t i = 0; i < whole; i++) {
        double ar = (double)t->z[i].re, ai = (double)t->z[i].im;
        double br = (double)t->z[i + 1].re, bi = (double)t->z[i + 1].im;
        double x = (bi * ar - br * ai) / (br * ar + bi * ai), y = x * x, sum = 1.0 / 21;
        sum = 1.0 / 19 - y * sum;
        sum = 1.0 / 17 - y * sum;
        sum = 1.0 / 15 - y * sum;
        sum = 1.0 / 13 - y * sum;
        sum = 1.0 / 11 - y * sum;
        sum = 1.0 / 9 - y * sum;
        sum = 1.0 / 7 - y * sum;
        sum = 1.0 / 5 - y * sum;
        sum = 1.0 / 3 - y * sum;
        t->angle[i] = (x - x * y * sum) * (1.0 / ES_TWO_PI);
        t->level[i] = sqrtf(t->z[i + 1].re * t->z[i + 1].re + t->z[i + 1].im * t->z[i + 1].im);
    }
    for (size_t i = 0; i < t->count; i++) {
        double ar = (double)t->z[i].re, ai = (double)t->z[i].im;
        double br = (double)t->z[i + 1].re, bi = (double)t->z[i + 1].im;
        double along = br * ar + bi * ai, across = bi * ar - br * ai;
        if (!(fabs(across) < 0.2 * along))
            t->angle[i] = atan2(across, along) / ES_TWO_PI;
    }
}

/* The filters smear the edge of a gap over their length: what lies that near is lost as well. */
static void spread_loss_back(es_tone_tracker *t, double mean_step)
{
    size_t from = t->step_count > t->spread_hops ? t->step_count - t->spread_hops : 0;
    for (size_t i = from; i < t->step_count; i++) {
        t->steps[i] = (float)mean_step;
        t->lost[i] = 1;
    }
}

/* The newest step, while tone is missing or was a moment ago. */
static void doubt_step(es_tone_tracker *t, double mean_step, int here)
{
    if (here)
        t->missing_hops = 0;
    else if (t->missing_hops++ == 0)
        spread_loss_back(t, mean_step);
    int lost = !here || t->spread_left > 0;
    if (!here)
        t->spread_left = t->spread_hops;
    else if (t->spread_left > 0)
        t->spread_left--;
    if (lost) {
        t->steps[t->step_count] = (float)mean_step;
        t->lost[t->step_count] = 1;
    }
}

/* Where a gap begins, the readings that are complete are written to out: read later, they would show
 * how large the blocks are. Returns their number. */
static size_t take_steps(es_tone_tracker *t, const turns *run, es_tone_reading *out)
{
    double mean_step = t->mean_step, recent = t->level; /* in registers: each waits for the last */
    size_t made = 0;
    for (size_t i = 0; i < run->count; i++) {
        double step = run->angle[i], level = (double)run->level[i];
        int here = level > FADE * recent && fabs(step) < t->step_most;
        if (here) {
            mean_step += (step - mean_step) * t->mean_rate;
            recent += (level - recent) * (level > recent ? t->rise_rate : t->fall_rate);
        }
        if (!here && t->missing_hops == 0) /* before the gap is spread over what these read */
            made += make_readings(t, out + made);
        t->levels[t->step_count] = run->level[i];
        t->steps[t->step_count] = (float)step;
        t->lost[t->step_count] = 0;
        if (!here || t->missing_hops > 0 || t->spread_left > 0)
            doubt_step(t, mean_step, here);
        t->step_count++;
    }
    t->mean_step = mean_step;
    t->level = recent;
    return made;
}

static size_t take_phasors(es_tone_tracker *t, const es_phasor *z, size_t count,
                           es_tone_reading *out)
{
    size_t made = 0;
    if (!t->started && count > 0) {
        t->last = *z++;
        t->started = 1;
        count--;
    }
    turns run = {0};
    for (; count > 0; z += run.count, count -= run.count) {
        run.count = count < TURNS_MOST ? count : TURNS_MOST;
        run.z[0] = t->last;
        memcpy(run.z + 1, z, run.count * sizeof *z);
        t->last = run.z[run.count];
        fill_angles(&run);
        made += take_steps(t, &run, out + made);
    }
    return made;
}

/* --- process --------------------------------------------------------------------- */

size_t es_tone_tracker_yield(const es_tone_tracker *t, size_t frames)
{
    return (size_t)((double)frames * ES_READINGS_HZ / t->rate_hz) + 3;
}

es_status es_tone_tracker_process(es_tone_tracker *t, const float *in, size_t stride, size_t frames,
                                  es_tone_reading *out, size_t room, size_t *count)
{
    *count = 0;
    if (!t->plan.hop_frames || frames > ES_TRACKER_BLOCK)
        return ES_ERR_ARG;
    if (room < es_tone_tracker_yield(t, frames))
        return ES_ERR_SPACE;
    es_status status = es_baseband_process(t->baseband, in, stride, frames, t->phasors,
                                           PHASORS_MOST, &t->phasor_count);
    *count = take_phasors(t, t->phasors, t->phasor_count, out);
    *count += make_readings(t, out + *count);
    return status;
}
