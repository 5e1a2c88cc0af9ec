#include "evenspool/task/trim.h"

#include "evenspool/signal/scan.h"
#include "task/nominal.h"
#include "task/trim_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define REACH 0.15
#define CHUNK 256 /* decisions fall only at multiples of this many frames */
#define READINGS_ROOM 64
#define DROPOUT_S 0.15 /* of missing tone: no figure is shown       */
#define LOST_S 0.5     /* listen for it anew                        */
#define FORGET_S 5.0   /* a turn in progress is given up            */
#define LOOK_EVERY_S 1.0
#define HISS_FS 0.003  /* rms; softer noise than this is an open input or a tape at rest ... */
#define HISS_SHARE 0.1 /* ... and so is noise below this share of the tone that was there    */

/* --- life ------------------------------------------------------------------------------- */

es_trim_config es_trim_defaults(double rate_hz, int channels)
{
    return (es_trim_config){
        .rate_hz = rate_hz,
        .channels = channels,
        .tape_error = (double)NAN,
        .tape_u = (double)NAN,
        .clock_ppm = (double)NAN,
        .tolerance = 0.001,
        .hold_s = 3.0,
        .geometry = es_geometry_defaults(ES_CASSETTE),
        .limits = {
            .drift_per_min = 0.003, .nudges_most = 20, .short_share = 0.2, .patience_s = 5.0}};
}

static int within(double value, double low, double high)
{
    return value >= low && value <= high; /* false for NaN */
}

static es_status judge_sound(const es_trim_config *c, es_error *error)
{
    if (!within(c->rate_hz, 8000.0, 384000.0))
        return es_fail(error, ES_ERR_ARG, "bad-rate",
                       "A sample rate of %.0f Hz can't be measured; 8 to 384 kHz can.", c->rate_hz);
    if (c->channels < 1 || c->channels > 64)
        return es_fail(error, ES_ERR_ARG, "bad-channels", "%d channels are too many or too few.",
                       c->channels);
    if (c->channel < 0 || c->channel > c->channels)
        return es_fail(error, ES_ERR_ARG, "no-channel", "There is no channel %d; the input has %d.",
                       c->channel, c->channels);
    if (c->nominal_hz != 0.0 && !within(c->nominal_hz, 300.0, 0.4 * c->rate_hz))
        return es_fail(error, ES_ERR_ARG, "bad-tone",
                       "A test tone of %g Hz can't be followed at %.0f Hz sample rate; name one "
                       "from 300 to %.0f Hz.",
                       c->nominal_hz, c->rate_hz, 0.4 * c->rate_hz);
    return ES_OK;
}

static es_status judge_aim(double target, double tolerance, es_error *error)
{
    if (!within(target, -0.1, 0.1))
        return es_fail(error, ES_ERR_ARG, "bad-target",
                       "A target of %g %% is out of reach; name one from -10 to 10 %%.",
                       100.0 * target);
    if (!within(tolerance, 0.0001, 0.05))
        return es_fail(error, ES_ERR_ARG, "bad-tolerance",
                       "A tolerance of %g %% can't be used; name one from 0.01 to 5 %%.",
                       100.0 * tolerance);
    return ES_OK;
}

static es_status judge_config(const es_trim_config *c, es_error *error)
{
    es_status status = judge_sound(c, error);
    if (status == ES_OK)
        status = judge_aim(c->target, c->tolerance, error);
    if (status == ES_OK && !within(c->hold_s, 1.0, 60.0))
        status = es_fail(error, ES_ERR_ARG, "bad-hold",
                         "The final reading can take 1 to 60 s, not %g s.", c->hold_s);
    const es_trim_limits *l = &c->limits;
    if (status == ES_OK && !(l->drift_per_min > 0.0 && l->nudges_most > 0 &&
                             within(l->short_share, 0.0, 1.0) && l->patience_s > 0.0))
        status = es_fail(error, ES_ERR_ARG, "bad-limits", "A limit of the coach is out of range.");
    return status;
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

static es_status create_parts(es_trim *t)
{
    es_ear_config ear = ear_for(&t->config);
    es_status status = es_ear_create(&ear, &t->ear);
    if (status == ES_OK)
        status = es_tone_tracker_create(t->config.rate_hz, ES_TRACKER_QUICK, &t->tracker);
    if (status == ES_OK)
        status = es_curve_create(&t->curve);
    if (status == ES_OK)
        status = es_trim_record_create(&t->record);
    if (status != ES_OK)
        return status;
    t->clean = calloc(CHUNK * (size_t)t->config.channels, sizeof *t->clean);
    t->readings = calloc(READINGS_ROOM, sizeof *t->readings);
    t->queue = calloc(ES_TRIM_QUEUE, sizeof *t->queue);
    t->points = calloc(ES_SWING_SPAN, sizeof *t->points);
    return t->clean && t->readings && t->queue && t->points ? ES_OK : ES_ERR_NOMEM;
}

es_status es_trim_create(const es_trim_config *config, es_trim **out, es_error *error)
{
    *out = NULL;
    es_status status = judge_config(config, error);
    if (status != ES_OK)
        return status;
    es_trim *t = calloc(1, sizeof *t);
    if (!t)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    t->config = *config;
    t->nominal_hz = config->nominal_hz > 0.0 ? config->nominal_hz : (double)NAN;
    t->unusual_hz = t->snr_db = (double)NAN;
    status = create_parts(t);
    if (status != ES_OK) {
        es_trim_destroy(t);
        return es_fail(error, status, "no-memory", "There is not enough memory.");
    }
    es_coach_start(t);
    *out = t;
    return ES_OK;
}

void es_trim_destroy(es_trim *t)
{
    if (!t)
        return;
    es_ear_destroy(t->ear);
    es_tone_tracker_destroy(t->tracker);
    es_curve_destroy(&t->curve);
    es_trim_record_destroy(&t->record);
    free(t->clean);
    free(t->readings);
    free(t->queue);
    free(t->points);
    free(t);
}

es_status es_trim_aim(es_trim *t, double target, double tolerance)
{
    es_status status = judge_aim(target, tolerance, NULL);
    if (status != ES_OK)
        return status;
    t->config.target = target;
    t->config.tolerance = tolerance;
    t->coach.final = 0;
    t->coach.there_since = -1;
    return ES_OK;
}

/* --- listening -------------------------------------------------------------------------- */

static double seconds(const es_trim *t, uint64_t frames)
{
    return (double)frames / t->config.rate_hz;
}

/* The tone must be one whose speed can be told. */
static int settle_nominal(es_trim *t, double heard_hz)
{
    if (isnan(t->nominal_hz))
        t->nominal_hz = es_nearest_nominal(heard_hz, &t->notes);
    t->unusual_hz = isnan(t->nominal_hz) ? heard_hz : (double)NAN;
    return !isnan(t->nominal_hz);
}

static void tune(es_trim *t, const es_ear_pick *pick)
{
    double hz = pick->finding.hz;
    if (!settle_nominal(t, hz) ||
        es_tone_tracker_tune(t->tracker, hz, pick->finding.amplitude_fs) != ES_OK)
        return;
    t->channel = pick->channel;
    t->snr_db = pick->finding.snr_db;
    t->tone_fs = pick->finding.amplitude_fs;
    es_ear_settle_on(t->ear, t->channel, t->nominal_hz * (1.0 - REACH),
                     t->nominal_hz * (1.0 + REACH));
    es_ear_restart(t->ear);
    t->tuned_at = t->frames;
    t->following = t->had_tone = 1;
    t->looking = 0;
    t->next_look = t->frames;
    es_coach_break(t, 0);
}

es_finding es_trim_loudest(const es_trim *t)
{
    es_finding best = {0};
    int only = t->channel ? t->channel : t->config.channel;
    for (int c = 1; c <= t->config.channels; c++) {
        es_finding f = es_ear_last(t->ear, c);
        if ((!only || only == c) && f.rms_fs >= best.rms_fs)
            best = f;
    }
    return best;
}

static int is_near(const es_trim *t, double hz)
{
    return isnan(t->nominal_hz) || fabs(hz / t->nominal_hz - 1.0) <= REACH;
}

static const char *why_nothing(const es_trim *t)
{
    es_finding f = es_trim_loudest(t);
    int hiss = f.sound == ES_SOUND_OTHER && f.rms_fs < fmax(HISS_FS, HISS_SHARE * t->tone_fs);
    if (hiss)
        return t->had_tone ? "gone" : "silence";
    if (f.sound == ES_SOUND_TONES)
        return "two-tones";
    if (f.sound == ES_SOUND_OTHER)
        return "other-sound";
    if (f.sound == ES_SOUND_TONE && !is_near(t, f.hz))
        return "wrong-tone";
    if (f.sound == ES_SOUND_TONE)
        return isnan(t->unusual_hz) ? "" : "unusual-tone";
    return t->had_tone ? "gone" : "silence";
}

static void lose(es_trim *t)
{
    t->following = 0;
    t->lost_at = t->frames;
    t->snr_db = (double)NAN;
    es_ear_restart(t->ear);
}

/* All that changes course happens here, at whole chunks, so that block sizes don't matter. */
static void decide(es_trim *t)
{
    es_ear_pick pick;
    double missing_s = t->following ? es_tone_tracker_missing_s(t->tracker) : 0.0;
    if (!t->following) {
        if (es_ear_pick_now(t->ear, &pick))
            tune(t, &pick);
    } else if (missing_s > LOST_S) {
        lose(t);
    } else if (!t->looking && t->frames >= t->next_look && missing_s == 0.0) {
        t->looking = 1;
        es_ear_restart(t->ear);
    }
    if (!t->following) {
        es_coach_lose(t, why_nothing(t));
        if (seconds(t, t->frames - t->lost_at) > FORGET_S)
            es_coach_forget_move(t);
    } else if (missing_s > DROPOUT_S) {
        es_coach_lose(t, "dropout");
    }
}

static void take_look(es_trim *t)
{
    es_finding f = es_ear_last(t->ear, t->channel);
    if (f.sound == ES_SOUND_TONE && es_tone_tracker_missing_s(t->tracker) == 0.0)
        t->snr_db = f.snr_db;
    t->looking = 0;
    t->next_look = t->frames + (uint64_t)llround(LOOK_EVERY_S * t->config.rate_hz);
}

static void follow(es_trim *t, const float *frames, size_t count)
{
    size_t made;
    double base_s = seconds(t, t->tuned_at);
    es_tone_tracker_process(t->tracker, frames + t->channel - 1, (size_t)t->config.channels, count,
                            t->readings, READINGS_ROOM, &made);
    for (size_t i = 0; i < made; i++) {
        const es_tone_reading *r = &t->readings[i];
        double deviation = r->hz / t->nominal_hz - 1.0;
        if (es_curve_push(&t->curve, deviation, r->good, base_s + r->time_s) &&
            t->curve.end % ES_TRIM_LOOK_TICKS == 0 && r->good)
            es_coach_look(t);
    }
}

/* --- snapshots -------------------------------------------------------------------------- */

/* The last 50 ms as heard; NaN: no tone. */
static double live(const es_trim *t)
{
    int64_t end = t->curve.end, from = end - ES_TRIM_LOOK_TICKS;
    if (!t->following || from < t->coach.plateau.floor)
        return (double)NAN;
    return es_curve_heard(&t->curve, from, end);
}

void es_trim_now(const es_trim *t, es_trim_snapshot *out)
{
    const es_trim_session *s = t->record.session;
    *out = (es_trim_snapshot){.time_s = seconds(t, t->frames)};
    double heard = live(t);
    out->live_percent = 100.0 * es_coach_error(t, heard);
    out->heard_hz = t->nominal_hz * (1.0 + heard);
    out->target_percent = 100.0 * t->config.target;
    out->tolerance_percent = 100.0 * t->config.tolerance;
    out->input_peak_fs = (double)t->peak;
    out->snr_db = t->following ? t->snr_db : (double)NAN;
    out->nominal_hz = t->nominal_hz;
    out->reference_hz = t->nominal_hz * (1.0 + t->config.target) / (1.0 + es_coach_error(t, 0.0));
    out->tape_error_percent = 100.0 * t->config.tape_error;
    out->overruns = s->overruns;
    out->nudge_count = s->nudge_count;
    memcpy(out->nudges, s->nudges, sizeof out->nudges);
    if (t->notes.count)
        memcpy(out->note, t->notes.at[0].text, sizeof out->note);
    es_coach_report(t, out);
}

static void add_snapshot(es_trim *t)
{
    if (t->queue_count == ES_TRIM_QUEUE) {
        t->queue_first = (t->queue_first + 1) % ES_TRIM_QUEUE;
        t->queue_count--;
    }
    es_trim_snapshot *to = &t->queue[(t->queue_first + t->queue_count++) % ES_TRIM_QUEUE];
    es_trim_now(t, to);
    es_trim_record_point(&t->record, to->time_s, to->live_percent);
    t->snapshots++;
    t->peak = 0.0f;
}

int es_trim_take(es_trim *t, es_trim_snapshot *out)
{
    if (t->queue_count == 0)
        return 0;
    *out = t->queue[t->queue_first];
    t->queue_first = (t->queue_first + 1) % ES_TRIM_QUEUE;
    t->queue_count--;
    return 1;
}

static uint64_t next_snapshot(const es_trim *t)
{
    return (uint64_t)ceil((double)(t->snapshots + 1) * t->config.rate_hz / ES_TRIM_SNAPSHOTS_HZ);
}

void es_trim_session_of(const es_trim *t, es_trim_session *out)
{
    es_trim_record_copy(&t->record, out);
    out->duration_s = seconds(t, t->frames);
    out->nominal_hz = t->nominal_hz;
    out->tape_error_percent = 100.0 * t->config.tape_error;
    out->target_percent = 100.0 * t->config.target;
    out->tolerance_percent = 100.0 * t->config.tolerance;
    out->final = t->coach.final;
}

/* --- frames ----------------------------------------------------------------------------- */

/* The chunk with zeros for what is not finite. */
static const float *cleaned(es_trim *t, const float *frames, size_t samples)
{
    for (size_t i = 0; i < samples; i++)
        t->clean[i] = isfinite(frames[i]) && fabsf(frames[i]) < 1e6f ? frames[i] : 0.0f;
    return t->clean;
}

/* Not across a decision or a snapshot. */
static void take_chunk(es_trim *t, const float *frames, size_t count)
{
    size_t samples = count * (size_t)t->config.channels;
    float peak = es_scan_peak(frames, samples);
    if (!(peak < 1e6f)) {
        frames = cleaned(t, frames, samples);
        peak = es_scan_peak(frames, samples);
    }
    t->peak = fmaxf(t->peak, peak);
    if (t->following)
        follow(t, frames, count);
    int completed = 0;
    if (!t->following || t->looking)
        completed = es_ear_push(t->ear, frames, count) > 0;
    t->frames += count;
    if (completed && t->following)
        take_look(t);
    if (t->frames % CHUNK == 0)
        decide(t);
    if (t->frames >= next_snapshot(t))
        add_snapshot(t);
}

size_t es_trim_push(es_trim *t, const float *frames, size_t count)
{
    while (count > 0) {
        uint64_t until = (t->frames / CHUNK + 1) * CHUNK, due = next_snapshot(t);
        if (due < until)
            until = due;
        size_t take = (size_t)(until - t->frames);
        if (take > count)
            take = count;
        take_chunk(t, frames, take);
        frames += take * (size_t)t->config.channels;
        count -= take;
    }
    return t->queue_count;
}

size_t es_trim_gap(es_trim *t, size_t count)
{
    if (count == 0)
        return t->queue_count;
    t->record.session->overruns++;
    es_ear_restart(t->ear);
    t->looking = 0;
    if (t->following) {
        es_tone_tracker_reset(t->tracker);
        es_coach_break(t, 1);
    }
    uint64_t end = t->frames + count;
    while (t->frames < end) {
        uint64_t due = next_snapshot(t);
        t->frames = due < end ? due : end;
        if (t->frames == due)
            add_snapshot(t);
    }
    t->tuned_at = t->frames; /* the tracker counts from here */
    return t->queue_count;
}
