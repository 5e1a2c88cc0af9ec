/* The coach's ear for speed: a test tone, found and followed. */
#include "evenspool/base/units.h"
#include "evenspool/signal/tone_fit.h"
#include "evenspool/task/gate.h"
#include "evenspool/trust/uncertainty.h"
#include "task/ear.h"
#include "task/nominal.h"
#include "task/trim_inside.h"

#include <math.h>
#include <stdlib.h>

#define REACH 0.15
#define READINGS_ROOM 64
#define DROPOUT_S 0.15 /* of missing tone: no figure is shown       */
#define LOST_S 0.5     /* listen for it anew                        */
#define FORGET_S 5.0   /* a turn in progress is given up            */
#define LOOK_EVERY_S 1.0
#define HISS_FS 0.003      /* rms; softer noise than this is an open input or a tape at rest ... */
#define HISS_SHARE 0.1     /* ... and so is noise below this share of the tone that was there    */
#define CLOCK_LIMIT 100e-6 /* unmeasured sound cards; common practice, no source          */
#define CLOCK_LEFT 5e-6    /* what warmth leaves of a measured one; common practice       */

typedef struct speed_ear {
    es_ear *ear;
    es_tone_tracker *tracker;
    es_tone_reading *readings;
    double nominal_hz;      /* NaN: not known */
    double unusual_hz;      /* a tone that is no test tone, or may be two; NaN: none */
    int unsure;             /* 1: it may be two */
    double snr_db, tone_fs; /* of the tone when it was found */
    int channel;            /* 1 .., 0: none yet */
    uint64_t next_look;
    int looking, had_tone;
    uint64_t lost_at; /* frame at which the tone was lost */
} speed_ear;

/* --- life ------------------------------------------------------------------------------- */

static es_status judge(const es_trim_config *c, es_error *error)
{
    if (c->nominal_hz != 0.0 && !es_trim_within(c->nominal_hz, 300.0, 0.4 * c->rate_hz))
        return es_fail(error, ES_ERR_ARG, "bad-tone",
                       "A test tone of %g Hz can't be followed at %.0f Hz sample rate; name one "
                       "from 300 to %.0f Hz.",
                       c->nominal_hz, c->rate_hz, 0.4 * c->rate_hz);
    return ES_OK;
}

static es_ear_config ear_for(const es_trim_config *c)
{
    es_ear_config ear = {.rate_hz = c->rate_hz,
                         .channels = c->channels,
                         .channel = c->channel,
                         .low_hz = 290.0,
                         .high_hz = 0.4 * c->rate_hz};
    if (c->nominal_hz > 0.0) {
        ear.low_hz = c->nominal_hz * (1.0 - REACH);
        ear.high_hz = fmin(ear.high_hz, c->nominal_hz * (1.0 + REACH));
    }
    return ear;
}

static es_status create(es_trim *t)
{
    speed_ear *s = calloc(1, sizeof *s);
    t->ear = s;
    if (!s)
        return ES_ERR_NOMEM;
    s->nominal_hz = t->config.nominal_hz > 0.0 ? t->config.nominal_hz : (double)NAN;
    s->unusual_hz = s->snr_db = (double)NAN;
    es_ear_config ear = ear_for(&t->config);
    es_status status = es_ear_create(&ear, &s->ear);
    if (status == ES_OK)
        status = es_tone_tracker_create(t->config.rate_hz, ES_TRACKER_QUICK, &s->tracker);
    s->readings = calloc(READINGS_ROOM, sizeof *s->readings);
    return status == ES_OK && !s->readings ? ES_ERR_NOMEM : status;
}

static void destroy(es_trim *t)
{
    speed_ear *s = t->ear;
    if (!s)
        return;
    es_ear_destroy(s->ear);
    es_tone_tracker_destroy(s->tracker);
    free(s->readings);
    free(s);
}

/* --- listening -------------------------------------------------------------------------- */

/* Would another test tone mean an error as small? Then nobody may be told which way to turn. */
static int is_unsure(double heard_hz, double nominal_hz)
{
    double limit = es_gate_defaults().tone_doubt_percent / 100.0;
    return fabs(heard_hz / es_second_nominal(heard_hz, nominal_hz) - 1.0) < limit;
}

/* The tone must be one whose speed can be told. */
static int settle_nominal(es_trim *t, double heard_hz)
{
    speed_ear *s = t->ear;
    if (!isnan(s->nominal_hz))
        return 1;
    double nearest_hz = es_nearest_nominal(heard_hz, NULL);
    s->unsure = !isnan(nearest_hz) && is_unsure(heard_hz, nearest_hz);
    if (s->unsure || isnan(nearest_hz)) {
        s->unusual_hz = heard_hz;
        return 0;
    }
    s->nominal_hz = es_nearest_nominal(heard_hz, &t->notes);
    s->unusual_hz = (double)NAN;
    return 1;
}

static void tune(es_trim *t, const es_ear_pick *pick)
{
    speed_ear *s = t->ear;
    double hz = pick->finding.hz;
    if (!settle_nominal(t, hz) ||
        es_tone_tracker_tune(s->tracker, hz, pick->finding.amplitude_fs) != ES_OK)
        return;
    s->channel = pick->channel;
    s->snr_db = pick->finding.snr_db;
    s->tone_fs = pick->finding.amplitude_fs;
    es_ear_settle_on(s->ear, s->channel, s->nominal_hz * (1.0 - REACH),
                     s->nominal_hz * (1.0 + REACH));
    es_ear_restart(s->ear);
    t->heard_from = t->frames;
    t->following = s->had_tone = 1;
    s->looking = 0;
    s->next_look = t->frames;
    es_coach_break(t, 0);
}

static es_finding loudest(const es_trim *t)
{
    const speed_ear *s = t->ear;
    es_finding best = {0};
    int only = s->channel ? s->channel : t->config.channel;
    for (int c = 1; c <= t->config.channels; c++) {
        es_finding f = es_ear_last(s->ear, c);
        if ((!only || only == c) && f.rms_fs >= best.rms_fs)
            best = f;
    }
    return best;
}

static int is_near(const speed_ear *s, double hz)
{
    return isnan(s->nominal_hz) || fabs(hz / s->nominal_hz - 1.0) <= REACH;
}

static const char *why_nothing(const es_trim *t)
{
    const speed_ear *s = t->ear;
    es_finding f = loudest(t);
    int hiss = f.sound == ES_SOUND_OTHER && f.rms_fs < fmax(HISS_FS, HISS_SHARE * s->tone_fs);
    if (hiss)
        return s->had_tone ? "gone" : "silence";
    if (f.sound == ES_SOUND_TONES)
        return "two-tones";
    if (f.sound == ES_SOUND_OTHER)
        return "other-sound";
    if (f.sound == ES_SOUND_TONE && !is_near(s, f.hz))
        return "wrong-tone";
    if (f.sound == ES_SOUND_TONE)
        return isnan(s->unusual_hz) ? "" : s->unsure ? "tone-unsure" : "unusual-tone";
    return s->had_tone ? "gone" : "silence";
}

static void lose(es_trim *t)
{
    speed_ear *s = t->ear;
    t->following = 0;
    s->lost_at = t->frames;
    s->snr_db = (double)NAN;
    es_ear_restart(s->ear);
}

/* All that changes course happens here, at whole chunks, so that block sizes don't matter. */
static void decide(es_trim *t)
{
    speed_ear *s = t->ear;
    es_ear_pick pick;
    double missing_s = t->following ? es_tone_tracker_missing_s(s->tracker) : 0.0;
    if (!t->following) {
        if (es_ear_pick_now(s->ear, &pick))
            tune(t, &pick);
    } else if (missing_s > LOST_S) {
        lose(t);
    } else if (!s->looking && t->frames >= s->next_look && missing_s == 0.0) {
        s->looking = 1;
        es_ear_restart(s->ear);
    }
    if (!t->following) {
        es_coach_lose(t, why_nothing(t));
        if (es_trim_seconds(t, t->frames - s->lost_at) > FORGET_S)
            es_coach_forget_move(t);
    } else if (missing_s > DROPOUT_S) {
        es_coach_lose(t, "dropout");
    }
}

static void take_look(es_trim *t, uint64_t now)
{
    speed_ear *s = t->ear;
    es_finding f = es_ear_last(s->ear, s->channel);
    if (f.sound == ES_SOUND_TONE && es_tone_tracker_missing_s(s->tracker) == 0.0)
        s->snr_db = f.snr_db;
    s->looking = 0;
    s->next_look = now + (uint64_t)llround(LOOK_EVERY_S * t->config.rate_hz);
}

static void follow(es_trim *t, const float *frames, size_t count)
{
    speed_ear *s = t->ear;
    size_t made;
    double base_s = es_trim_seconds(t, t->heard_from);
    es_tone_tracker_process(s->tracker, frames + s->channel - 1, (size_t)t->config.channels, count,
                            s->readings, READINGS_ROOM, &made);
    for (size_t i = 0; i < made; i++) {
        const es_tone_reading *r = &s->readings[i];
        double deviation = r->hz / s->nominal_hz - 1.0;
        if (es_curve_push(&t->curve, deviation, r->good, base_s + r->time_s) &&
            t->curve.end % ES_TRIM_LOOK_TICKS == 0 && r->good)
            es_coach_look(t);
    }
}

/* One chunk, or a part of one. */
static void take(es_trim *t, const float *frames, size_t count)
{
    speed_ear *s = t->ear;
    if (t->following)
        follow(t, frames, count);
    int completed = 0;
    if (!t->following || s->looking)
        completed = es_ear_push(s->ear, frames, count) > 0;
    if (completed && t->following)
        take_look(t, t->frames + count);
}

static void gap(es_trim *t)
{
    speed_ear *s = t->ear;
    es_ear_restart(s->ear);
    s->looking = 0;
    if (t->following) {
        es_tone_tracker_reset(s->tracker);
        es_coach_break(t, 1);
    }
}

/* --- figures ---------------------------------------------------------------------------- */

static double error_of(const es_trim *t, double heard)
{
    double tape = isnan(t->config.tape_error) ? 0.0 : t->config.tape_error;
    double clock = isnan(t->config.clock_ppm) ? 0.0 : 1e-6 * t->config.clock_ppm;
    return es_true_error(heard, tape, clock);
}

static double noise_u(const es_trim *t, const es_mean *m)
{
    const speed_ear *s = t->ear;
    if (isnan(s->snr_db))
        return 0.0; /* not looked yet; the scatter holds the noise as well */
    double snr = pow(10.0, s->snr_db / 10.0);
    return es_frequency_bound_hz(t->config.rate_hz, es_tick_seconds(m->ticks), snr) / s->nominal_hz;
}

/* Besides what the mean scatters by: noise, tape and clock (docs/methods.md#trim). */
static es_trim_doubt doubt_of(const es_trim *t, const es_mean *m)
{
    double tape = isnan(t->config.tape_error) || isnan(t->config.tape_u) ? 0.0 : t->config.tape_u;
    return (es_trim_doubt){.noise = noise_u(t, m),
                           .normal = tape,
                           .limit = isnan(t->config.clock_ppm) ? CLOCK_LIMIT : CLOCK_LEFT};
}

static double nominal_of(const es_trim *t)
{
    return ((const speed_ear *)t->ear)->nominal_hz;
}

static void report(const es_trim *t, es_trim_snapshot *out, es_trim_scene *scene)
{
    const speed_ear *s = t->ear;
    out->heard_hz = s->nominal_hz * (1.0 + es_trim_live(t));
    out->snr_db = t->following ? s->snr_db : (double)NAN;
    out->nominal_hz = s->nominal_hz;
    out->reference_hz = s->nominal_hz * (1.0 + t->config.target) / (1.0 + error_of(t, 0.0));
    out->tape_error_percent = 100.0 * t->config.tape_error;
    scene->other_hz = isnan(s->unusual_hz) ? loudest(t).hz : s->unusual_hz;
}

const es_trim_sense es_trim_speed = {.judge = judge,
                                     .create = create,
                                     .destroy = destroy,
                                     .take = take,
                                     .decide = decide,
                                     .gap = gap,
                                     .error = error_of,
                                     .doubt = doubt_of,
                                     .nominal_hz = nominal_of,
                                     .report = report};
