#include "evenspool/tape/rehearsal.h"

#include "evenspool/base/units.h"

#include "tape/motion.h"
#include "tape/sound.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Where everything stood at one moment. */
typedef struct moment {
    int64_t frame;
    int64_t waves; /* of the tone, whole ... */
    double part;   /* ... and the rest       */
    double turns[ES_SCENARIO_PARTS], rate_hz[ES_SCENARIO_PARTS];
} moment;

/* Sums over the frames at speed. */
typedef struct tally {
    double frames, flutter2, random2, scrape2;
    double time, error, time2, time_error; /* for the straight line, a chunk at a time */
    int64_t clipped[2];                    /* of all frames                             */
} tally;

struct es_rehearsal {
    es_scenario scenario;
    double rate_hz;
    es_gauss gauss;
    es_motion motion;
    es_sound sound;
    es_wideband *wideband; /* NULL: the tape carries something else */
    es_recorded *recorded; /* the same                              */
    int64_t first;         /* frame at which the present chunk begins             */
    size_t used;           /* frames of it that were handed out; all: none is left */
    moment steady;         /* when the deck was up to speed                        */
    moment stopping;       /* when it began to stop                                */
    tally tally;           /* of the chunks before this one                        */
};

/* --- life ------------------------------------------------------------------------- */

static es_status create_tape(es_rehearsal *r, const es_recording *recording)
{
    if (recording)
        return es_recorded_create(recording, r->scenario.third, r->rate_hz, &r->recorded);
    if (r->scenario.carries == ES_CARRIES_BROADBAND)
        return es_wideband_create(&r->scenario, r->rate_hz, &r->wideband);
    return ES_OK;
}

es_status es_rehearsal_create(const es_scenario *scenario, double rate_hz, es_rehearsal **out)
{
    return es_rehearsal_create_playing(scenario, rate_hz, NULL, out);
}

es_status es_rehearsal_create_playing(const es_scenario *scenario, double rate_hz,
                                      const es_recording *recording, es_rehearsal **out)
{
    *out = NULL;
    if (!(rate_hz > 0.0) || es_scenario_check(scenario, rate_hz, NULL) != ES_OK)
        return ES_ERR_ARG;
    if (recording && !(recording->render && recording->reference_fs > 0.0))
        return ES_ERR_ARG;
    es_rehearsal *r = calloc(1, sizeof *r);
    if (!r)
        return ES_ERR_NOMEM;
    r->scenario = *scenario;
    r->rate_hz = rate_hz;
    r->first = -ES_CHUNK;
    r->used = ES_CHUNK;
    es_gauss_prepare(&r->gauss);
    es_motion_start(&r->motion, &r->scenario, rate_hz, &r->gauss);
    if (create_tape(r, recording) != ES_OK) {
        es_rehearsal_destroy(r);
        return ES_ERR_NOMEM;
    }
    es_sound_start(&r->sound, &r->scenario, rate_hz, &r->gauss, r->wideband, r->recorded);
    *out = r;
    return ES_OK;
}

void es_rehearsal_destroy(es_rehearsal *r)
{
    if (!r)
        return;
    es_wideband_destroy(r->wideband);
    es_recorded_destroy(r->recorded);
    free(r);
}

int64_t es_rehearsal_length(const es_rehearsal *r)
{
    return llround(r->scenario.length_s * r->rate_hz);
}

void es_rehearsal_turn(es_rehearsal *r, es_screw screw, double turns)
{
    es_trimmer *const screws[] = {[ES_SCREW_SPEED] = &r->motion.trimmer,
                                  [ES_SCREW_AZIMUTH] = &r->sound.azimuth,
                                  [ES_SCREW_LEVEL_LEFT] = &r->sound.level[0],
                                  [ES_SCREW_LEVEL_RIGHT] = &r->sound.level[1]};
    if (!isfinite(turns) || (unsigned)screw >= sizeof screws / sizeof *screws)
        return;
    es_trimmer_turn(screws[screw], turns);
    es_sound_turned(&r->sound);
}

void es_rehearsal_turn_trimmer(es_rehearsal *r, double turns)
{
    es_rehearsal_turn(r, ES_SCREW_SPEED, turns);
}

/* --- bookkeeping ------------------------------------------------------------------ */

static int64_t frames_so_far(const es_rehearsal *r)
{
    return r->first + (int64_t)r->used;
}

/* A moment within the present chunk or at its end. */
static moment moment_at(const es_rehearsal *r, int64_t frame)
{
    size_t i = (size_t)(frame - r->first);
    moment m = {.frame = frame, .waves = r->sound.waves, .part = r->sound.at[i]};
    for (size_t p = 0; p < r->motion.part_count; p++) {
        const es_turning *t = &r->motion.parts[p];
        double left = (double)(ES_CHUNK - i) * t->rate_hz / r->motion.true_rate_hz;
        m.turns[p] = t->turns - left;
        m.rate_hz[p] = t->rate_hz;
    }
    return m;
}

static int in_chunk(const es_rehearsal *r, int64_t frame)
{
    return frame >= r->first && frame < r->first + ES_CHUNK;
}

static double square_sum(const double *at, size_t from, size_t to)
{
    double sum = 0.0;
    for (size_t i = from; i < to; i++)
        sum += at[i] * at[i];
    return sum;
}

static int64_t count_clipped(const es_rehearsal *r, size_t channel, size_t count)
{
    int64_t clipped = 0;
    for (size_t i = 0; i < count; i++)
        clipped += fabsf(r->sound.stereo[2 * i + channel]) >= r->sound.limit;
    return clipped;
}

/* Adds the frames from..to of the present chunk, all at speed, to the straight line. */
static void add_to_line(tally *t, const es_rehearsal *r, size_t from, size_t to)
{
    double error = 0.0, weight = (double)(to - from);
    for (size_t i = from; i < to; i++)
        error += r->motion.speed[i] - 1.0;
    double middle = (double)(r->first - r->motion.marks.steady) + 0.5 * (double)(from + to);
    double time = middle / r->rate_hz;
    t->time += weight * time;
    t->time2 += weight * time * time;
    t->error += error;
    t->time_error += time * error;
}

/* What the first `count` frames of the present chunk add. */
static void add_chunk(tally *t, const es_rehearsal *r, size_t count)
{
    const es_marks *m = &r->motion.marks;
    int64_t from = m->steady > r->first ? m->steady - r->first : 0;
    int64_t to = m->stopping - r->first < (int64_t)count ? m->stopping - r->first : (int64_t)count;
    for (size_t c = 0; c < 2; c++)
        t->clipped[c] += count_clipped(r, c, count);
    if (from >= to)
        return;
    size_t a = (size_t)from, b = (size_t)to;
    t->frames += (double)(b - a);
    t->flutter2 += square_sum(r->motion.flutter, a, b);
    t->random2 += square_sum(r->motion.random, a, b);
    t->scrape2 += square_sum(r->motion.scrape, a, b);
    add_to_line(t, r, a, b);
}

/* --- rendering -------------------------------------------------------------------- */

static void next_chunk(es_rehearsal *r)
{
    if (r->first >= 0)
        add_chunk(&r->tally, r, ES_CHUNK);
    r->first += ES_CHUNK;
    r->used = 0;
    es_motion_chunk(&r->motion, r->first);
    es_sound_chunk(&r->sound, &r->motion, r->first);
    if (in_chunk(r, r->motion.marks.steady))
        r->steady = moment_at(r, r->motion.marks.steady);
    if (in_chunk(r, r->motion.marks.stopping))
        r->stopping = moment_at(r, r->motion.marks.stopping);
}

static double error_at(const es_rehearsal *r, size_t i)
{
    return r->motion.ramp[i] > 0.0 ? r->motion.speed[i] - 1.0 : (double)NAN;
}

void es_rehearsal_render_with_truth(es_rehearsal *r, float *stereo, double *error, double *flutter,
                                    size_t frames)
{
    for (size_t done = 0; done < frames;) {
        if (r->used == ES_CHUNK)
            next_chunk(r);
        size_t count = ES_CHUNK - r->used < frames - done ? ES_CHUNK - r->used : frames - done;
        memcpy(stereo + 2 * done, r->sound.stereo + 2 * r->used, 2 * count * sizeof *stereo);
        for (size_t i = 0; error && i < count; i++)
            error[done + i] = error_at(r, r->used + i);
        if (flutter)
            memcpy(flutter + done, r->motion.flutter + r->used, count * sizeof *flutter);
        r->used += count;
        done += count;
    }
}

void es_rehearsal_render(es_rehearsal *r, float *stereo, size_t frames)
{
    es_rehearsal_render_with_truth(r, stereo, NULL, NULL, frames);
}

/* --- truth ------------------------------------------------------------------------ */

/* The span at speed so far; 0 when there is none. */
static int span_at_speed(const es_rehearsal *r, moment *from, moment *to)
{
    int64_t now = frames_so_far(r);
    const es_marks *m = &r->motion.marks;
    if (now <= m->steady || m->stopping <= m->steady)
        return 0;
    *from = r->steady;
    if (now < m->stopping)
        *to = moment_at(r, now);
    else /* not yet noted when the mark is the very end of the present chunk */
        *to = m->stopping == r->first + ES_CHUNK ? moment_at(r, m->stopping) : r->stopping;
    return to->frame > from->frame;
}

double es_rehearsal_speed_now(const es_rehearsal *r)
{
    return r->first >= 0 && r->used > 0 ? error_at(r, r->used - 1) : (double)NAN;
}

double es_rehearsal_settled_error(const es_rehearsal *r)
{
    return es_motion_settled(&r->motion, frames_so_far(r));
}

double es_rehearsal_time_s(const es_rehearsal *r)
{
    return (double)frames_so_far(r) / r->motion.true_rate_hz;
}

double es_rehearsal_way_s(const es_rehearsal *r)
{
    if (r->first < 0)
        return 0.0;
    double waves = (double)r->sound.waves + r->sound.at[r->used];
    return waves / (r->sound.waves_per_step * r->motion.true_rate_hz);
}

static double waves_between(const moment *from, const moment *to)
{
    return (double)(to->waves - from->waves) + (to->part - from->part);
}

double es_rehearsal_mean_error(const es_rehearsal *r)
{
    moment from, to;
    if (!span_at_speed(r, &from, &to))
        return (double)NAN;
    double frames = (double)(to.frame - from.frame);
    return waves_between(&from, &to) / (frames * r->sound.waves_per_step) - 1.0;
}

static double slope_per_min(const tally *t)
{
    double spread = t->time2 - t->time * t->time / t->frames;
    double both = t->time_error - t->time * t->error / t->frames;
    return t->frames > 0.0 && spread > 0.0 ? 60.0 * both / spread : (double)NAN;
}

static void tell_components(const es_rehearsal *r, int at_speed, const moment *from,
                            const moment *to, es_rehearsal_truth *t)
{
    const es_scenario *s = &r->scenario;
    double clock = 1.0 + s->clock_error;
    for (size_t p = 0; p < r->motion.part_count; p++)
        for (int h = 0; h < ES_SCENARIO_HARMONICS; h++) {
            es_part part = r->motion.parts[p].part;
            if (!(s->flutter[part][h] > 0.0))
                continue;
            double turns = at_speed ? to->turns[p] - from->turns[p] : (double)NAN;
            double change = at_speed ? (to->rate_hz[p] - from->rate_hz[p]) / clock : (double)NAN;
            t->components[t->component_count++] = (es_rehearsal_component){
                .part = part,
                .harmonic = h + 1,
                .rate_hz = (h + 1) * turns / t->at_speed_s,
                .rate_slope_hz_per_min = (h + 1) * change * 60.0 / t->at_speed_s,
                .peak = s->flutter[part][h]};
        }
    for (int i = 0; i < ES_SCENARIO_WOBBLES; i++)
        if (s->wobble[i].peak > 0.0)
            t->components[t->component_count++] =
                (es_rehearsal_component){.part = ES_PART_NONE,
                                         .harmonic = 1,
                                         .rate_hz = s->wobble[i].rate_hz / clock,
                                         .peak = s->wobble[i].peak};
}

static void tell_speed(const es_rehearsal *r, es_rehearsal_truth *t)
{
    moment from, to;
    tally sums = r->tally;
    int at_speed = span_at_speed(r, &from, &to);
    if (r->first >= 0)
        add_chunk(&sums, r, r->used);
    double none = at_speed ? 1.0 : (double)NAN;
    t->at_speed_s = at_speed ? (double)(to.frame - from.frame) / r->rate_hz : 0.0;
    t->deck_error = es_rehearsal_mean_error(r);
    t->heard_hz = at_speed ? waves_between(&from, &to) / t->at_speed_s : (double)NAN;
    t->heard_error = t->heard_hz / r->scenario.tone_hz - 1.0;
    t->settled_error = es_rehearsal_settled_error(r);
    t->drift_per_min = slope_per_min(&sums);
    t->flutter_rms = none * sqrt(sums.flutter2 / sums.frames);
    t->random_rms = none * sqrt(sums.random2 / sums.frames);
    t->scrape_rms = none * sqrt(sums.scrape2 / sums.frames);
    tell_components(r, at_speed, &from, &to, t);
    for (size_t c = 0; c < 2; c++)
        t->clipped[c] = t->frames ? (double)sums.clipped[c] / (double)t->frames : (double)NAN;
}

static void tell_sound(const es_rehearsal *r, es_rehearsal_truth *t)
{
    const es_sound *o = &r->sound;
    int stereo = r->scenario.dead == ES_DEAD_NONE;
    double reference = r->recorded ? es_recorded_reference(r->recorded) : 0.0;
    t->recording = r->recorded != NULL;
    for (int c = 0; c < 2; c++) {
        t->level_fs[c] =
            r->recorded ? fabs(o->heads.gain[c]) * reference : fabs(o->heads.amplitude[c][0]);
        t->snr_db[c] =
            t->level_fs[c] > 0.0 ? es_db(t->level_fs[c] / sqrt(2.0) / o->noise) : (double)NAN;
    }
    t->level_difference_db = stereo ? es_db(t->level_fs[1] / t->level_fs[0]) : (double)NAN;
    t->delay_us = stereo ? 1e6 * o->heads.lag / t->heard_hz : (double)NAN;
    t->delay_period_us = r->recorded ? (double)NAN : 1e6 / t->heard_hz;
    t->opposed = r->scenario.opposed;
    t->dropouts = o->dropouts.begun;
}

es_rehearsal_truth es_rehearsal_truth_of(const es_rehearsal *r)
{
    const es_marks *m = &r->motion.marks;
    es_rehearsal_truth t = {.frames = frames_so_far(r),
                            .start_s = (double)m->start / r->rate_hz,
                            .steady_s = (double)m->steady / r->rate_hz,
                            .stopping_s = (double)m->stopping / r->rate_hz,
                            .still_s = (double)m->still / r->rate_hz,
                            .tape_error = r->scenario.tape_error,
                            .clock_error = r->scenario.clock_error,
                            .tone_hz = r->scenario.tone_hz};
    t.duration_s = (double)t.frames / r->rate_hz;
    tell_speed(r, &t);
    tell_sound(r, &t);
    return t;
}
