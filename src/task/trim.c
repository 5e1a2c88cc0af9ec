#include "evenspool/task/trim.h"

#include "evenspool/signal/scan.h"
#include "task/trim_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define CHUNK 256 /* decisions fall only at multiples of this many frames */

static const es_trim_sense *sense_for(es_adjust adjust)
{
    return adjust == ES_ADJUST_SPEED ? &es_trim_speed : &es_trim_pair;
}

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
        .reference_dbfs = (double)NAN,
        .geometry = es_geometry_defaults(ES_CASSETTE),
        .limits = {
            .drift_per_min = 0.003, .nudges_most = 20, .short_share = 0.2, .patience_s = 5.0}};
}

es_trim_config es_trim_defaults_for(es_adjust adjust, double rate_hz, int channels)
{
    es_trim_config c = es_trim_defaults(rate_hz, channels);
    c.adjust = adjust;
    if (adjust != ES_ADJUST_SPEED)
        c.tolerance = es_adjust_facts_of(adjust)->tolerance;
    return c;
}

int es_trim_within(double value, double low, double high)
{
    return value >= low && value <= high; /* false for NaN */
}

static es_status judge_sound(const es_trim_config *c, es_error *error)
{
    if (!es_trim_within(c->rate_hz, 8000.0, 384000.0))
        return es_fail(error, ES_ERR_ARG, "bad-rate",
                       "A sample rate of %.0f Hz can't be measured; 8 to 384 kHz can.", c->rate_hz);
    if (c->channels < 1 || c->channels > 64)
        return es_fail(error, ES_ERR_ARG, "bad-channels", "%d channels are too many or too few.",
                       c->channels);
    if (c->channel < 0 || c->channel > c->channels)
        return es_fail(error, ES_ERR_ARG, "no-channel", "There is no channel %d; the input has %d.",
                       c->channel, c->channels);
    return sense_for(c->adjust)->judge(c, error);
}

/* Target and tolerance as the configuration has them, to values of the coach. */
static double inward(es_adjust adjust, double value)
{
    return adjust == ES_ADJUST_SPEED ? value : value / es_adjust_scale(adjust);
}

static es_status judge_aim(es_adjust adjust, double target, double tolerance, es_error *error)
{
    const es_adjust_facts *f = es_adjust_facts_of(adjust);
    double scale = adjust == ES_ADJUST_SPEED ? es_adjust_scale(adjust) : 1.0;
    if (!es_trim_within(target, -f->target_most / scale, f->target_most / scale))
        return es_fail(error, ES_ERR_ARG, "bad-target",
                       "A target of %g %s is out of reach; name one from %g to %g %s.",
                       scale * target, f->unit, -f->target_most, f->target_most, f->unit);
    if (!es_trim_within(tolerance, f->tolerance_least / scale, f->tolerance_most / scale))
        return es_fail(error, ES_ERR_ARG, "bad-tolerance",
                       "A tolerance of %g %s can't be used; name one from %g to %g %s.",
                       scale * tolerance, f->unit, f->tolerance_least, f->tolerance_most, f->unit);
    return ES_OK;
}

static es_status judge_config(const es_trim_config *c, es_error *error)
{
    if ((unsigned)c->adjust >= ES_ADJUST_COUNT)
        return es_fail(error, ES_ERR_ARG, "bad-adjust", "The coach knows no such adjustment.");
    es_status status = judge_sound(c, error);
    if (status == ES_OK)
        status = judge_aim(c->adjust, c->target, c->tolerance, error);
    if (status == ES_OK && !es_trim_within(c->hold_s, 1.0, 60.0))
        status = es_fail(error, ES_ERR_ARG, "bad-hold",
                         "The final reading can take 1 to 60 s, not %g s.", c->hold_s);
    const es_trim_limits *l = &c->limits;
    if (status == ES_OK && !(l->drift_per_min > 0.0 && l->nudges_most > 0 &&
                             es_trim_within(l->short_share, 0.0, 1.0) && l->patience_s > 0.0))
        status = es_fail(error, ES_ERR_ARG, "bad-limits", "A limit of the coach is out of range.");
    return status;
}

static es_status create_parts(es_trim *t)
{
    es_status status = es_curve_create(&t->curve);
    if (status == ES_OK)
        status = es_trim_record_create(&t->record);
    if (status == ES_OK)
        status = t->sense->create(t);
    if (status != ES_OK)
        return status;
    t->clean = calloc(CHUNK * (size_t)t->config.channels, sizeof *t->clean);
    t->queue = calloc(ES_TRIM_QUEUE, sizeof *t->queue);
    t->points = calloc(ES_SWING_SPAN, sizeof *t->points);
    return t->clean && t->queue && t->points ? ES_OK : ES_ERR_NOMEM;
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
    t->config.target = inward(config->adjust, config->target);
    t->config.tolerance = inward(config->adjust, config->tolerance);
    t->sense = sense_for(config->adjust);
    t->scale = es_adjust_scale(config->adjust);
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
    t->sense->destroy(t);
    es_curve_destroy(&t->curve);
    es_trim_record_destroy(&t->record);
    free(t->clean);
    free(t->queue);
    free(t->points);
    free(t);
}

es_status es_trim_aim(es_trim *t, double target, double tolerance)
{
    es_status status = judge_aim(t->config.adjust, target, tolerance, NULL);
    if (status != ES_OK)
        return status;
    t->config.target = inward(t->config.adjust, target);
    t->config.tolerance = inward(t->config.adjust, tolerance);
    t->coach.final = 0;
    t->coach.there_since = -1;
    return ES_OK;
}

/* --- snapshots -------------------------------------------------------------------------- */

double es_trim_seconds(const es_trim *t, uint64_t frames)
{
    return (double)frames / t->config.rate_hz;
}

/* The last 50 ms as heard; NaN: no tone. */
double es_trim_live(const es_trim *t)
{
    int64_t end = t->curve.end, from = end - ES_TRIM_LOOK_TICKS;
    if (!t->following || from < t->coach.plateau.floor)
        return (double)NAN;
    return es_curve_heard(&t->curve, from, end);
}

void es_trim_now(const es_trim *t, es_trim_snapshot *out)
{
    const es_trim_session *s = t->record.session;
    *out = (es_trim_snapshot){.adjust = t->config.adjust, .time_s = es_trim_seconds(t, t->frames)};
    out->live_percent = t->scale * t->sense->error(t, es_trim_live(t));
    out->target_percent = t->scale * t->config.target;
    out->tolerance_percent = t->scale * t->config.tolerance;
    out->input_peak_fs = (double)t->peak;
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
    out->adjust = t->config.adjust;
    out->duration_s = es_trim_seconds(t, t->frames);
    out->nominal_hz = t->sense->nominal_hz(t);
    out->tape_error_percent = 100.0 * t->config.tape_error;
    out->target_percent = t->scale * t->config.target;
    out->tolerance_percent = t->scale * t->config.tolerance;
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
    t->sense->take(t, frames, count);
    t->frames += count;
    if (t->frames % CHUNK == 0)
        t->sense->decide(t);
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
    t->sense->gap(t);
    uint64_t end = t->frames + count;
    while (t->frames < end) {
        uint64_t due = next_snapshot(t);
        t->frames = due < end ? due : end;
        if (t->frames == due)
            add_snapshot(t);
    }
    t->heard_from = t->frames;
    return t->queue_count;
}
