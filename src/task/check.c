#include "evenspool/task/check.h"

#include "evenspool/base/units.h"
#include "evenspool/signal/scan.h"
#include "task/check_inside.h"
#include "task/nominal.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define REACH 0.15       /* of the nominal tone                                        */
#define LOST_S 0.5       /* of missing tone: listen for it anew                        */
#define SPEED_KEPT_S 8.0 /* speed samples not taken are dropped after this             */
#define FULL_SCALE 0.9999f
#define LOOK_OFTEN_S 20.0 /* a look a second at first, then one in eight                */
#define LOOK_SELDOM_S 8.0
#define MATE_ALWAYS_S 60.0 /* the other channel: all the time at first, then a second in sixteen */
#define MATE_EVERY_S 16
#define MISSING_S 0.1 /* shorter is the null of a beat, longer is no tone */
#define LEVEL_S 0.5   /* of the running mean of the tone's level */
#define SPEED_ROOM ((size_t)(SPEED_KEPT_S * ES_READINGS_HZ))

/* --- life ---------------------------------------------------------------------------- */

es_check_config es_check_defaults(double rate_hz, int channels)
{
    return (es_check_config){.rate_hz = rate_hz,
                             .channels = channels,
                             .tape_error = (double)NAN,
                             .tape_u = (double)NAN,
                             .clock_ppm = (double)NAN,
                             .end_s = HUGE_VAL,
                             .geometry = es_geometry_defaults(ES_CASSETTE),
                             .limits = es_gate_defaults()};
}

static es_status judge_config(const es_check_config *c, es_error *error)
{
    if (!(c->rate_hz >= ES_CHECK_RATE_MIN_HZ && c->rate_hz <= ES_CHECK_RATE_MAX_HZ))
        return es_fail(error, ES_ERR_ARG, "bad-rate",
                       "A sample rate of %.0f Hz can't be measured; 8 to 384 kHz can.", c->rate_hz);
    if (c->channels < 1 || c->channels > ES_CHECK_CHANNELS_MOST)
        return es_fail(error, ES_ERR_ARG, "bad-channels", "%d channels are too many or too few.",
                       c->channels);
    if (c->channel < 0 || c->channel > c->channels)
        return es_fail(error, ES_ERR_ARG, "no-channel",
                       "There is no channel %d; the capture has %d.", c->channel, c->channels);
    if (c->nominal_hz != 0.0 && !(c->nominal_hz >= 300.0 && c->nominal_hz <= 0.4 * c->rate_hz))
        return es_fail(
            error, ES_ERR_ARG, "bad-tone",
            "A test tone of %g Hz can't be followed at %.0f Hz sample rate; name one from "
            "300 to %.0f Hz.",
            c->nominal_hz, c->rate_hz, 0.4 * c->rate_hz);
    if (!(c->start_s >= 0.0 && c->end_s > c->start_s))
        return es_fail(error, ES_ERR_ARG, "bad-part",
                       "The part to be measured ends before it starts.");
    return ES_OK;
}

static void on_steady(void *who, const es_steady *steady);

static es_status create_parts(es_check *c)
{
    const es_check_config *config = &c->config;
    es_ear_config ear = {.rate_hz = config->rate_hz,
                         .channels = config->channels,
                         .channel = config->channel,
                         .low_hz = 290.0,
                         .high_hz = 0.4 * config->rate_hz};
    if (config->nominal_hz > 0.0) {
        ear.low_hz = config->nominal_hz * (1.0 - REACH);
        ear.high_hz = fmin(ear.high_hz, config->nominal_hz * (1.0 + REACH));
    }
    es_lines_config lines = {.rate_hz = ES_READINGS_HZ, .high_hz = 200.0};
    es_status status = es_ear_create(&ear, &c->ear);
    if (status == ES_OK)
        status = es_tone_tracker_create(config->rate_hz, ES_TRACKER_SHARP, &c->tracker);
    if (status == ES_OK && config->channels > 1)
        status = es_baseband_create(config->rate_hz, &c->mate);
    if (status == ES_OK)
        status = es_stretch_create(on_steady, c, &c->stretch);
    if (status == ES_OK)
        status = es_trend_create(1.0 / ES_READINGS_HZ, &c->trend);
    if (status == ES_OK)
        status = es_flutter_create(&c->flutter);
    if (status == ES_OK)
        status = es_lines_create(&lines, &c->lines);
    c->clean = calloc(ES_CHECK_CHUNK * (size_t)config->channels, sizeof *c->clean);
    c->mate_phasors = calloc(ES_CHECK_CHUNK + 2, sizeof *c->mate_phasors);
    c->readings = calloc(ES_CHECK_READINGS_MOST, sizeof *c->readings);
    c->speed = calloc(SPEED_ROOM, sizeof *c->speed);
    if (status == ES_OK && (!c->clean || !c->mate_phasors || !c->readings || !c->speed))
        status = ES_ERR_NOMEM;
    return status;
}

static void listen_about(es_check *c, double hz)
{
    es_ear_settle_on(c->ear, c->config.channel, hz * (1.0 - REACH),
                     fmin(hz * (1.0 + REACH), 0.4 * c->config.rate_hz));
}

es_status es_check_aim(es_check *c, double nominal_hz, es_nominal_source source,
                       const es_geometry *geometry, const es_gate_limits *limits)
{
    es_check_config wanted = c->config;
    wanted.nominal_hz = nominal_hz;
    wanted.nominal_source = source;
    wanted.geometry = *geometry;
    wanted.limits = *limits;
    if (!(nominal_hz > 0.0) || judge_config(&wanted, NULL) != ES_OK)
        return ES_ERR_ARG;
    c->config = wanted;
    c->nominal_hz = nominal_hz;
    listen_about(c, nominal_hz);
    return ES_OK;
}

static uint64_t frame_at(double seconds, double rate_hz)
{
    double frame = floor(seconds * rate_hz + 0.5);
    return frame < 1e18 ? (uint64_t)frame : UINT64_MAX;
}

es_status es_check_create(const es_check_config *config, es_check **out, es_error *error)
{
    *out = NULL;
    es_status status = judge_config(config, error);
    if (status != ES_OK)
        return status;
    es_check *c = calloc(1, sizeof *c);
    if (!c)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    c->config = *config;
    c->nominal_hz = config->nominal_hz > 0.0 ? config->nominal_hz : (double)NAN;
    c->begin = frame_at(config->start_s, config->rate_hz);
    c->end = frame_at(config->end_s, config->rate_hz);
    status = create_parts(c);
    if (status != ES_OK) {
        es_check_destroy(c);
        return es_fail(error, status, "no-memory", "There is not enough memory.");
    }
    *out = c;
    return ES_OK;
}

void es_check_destroy(es_check *c)
{
    if (!c)
        return;
    es_ear_destroy(c->ear);
    es_tone_tracker_destroy(c->tracker);
    es_baseband_destroy(c->mate);
    es_stretch_destroy(c->stretch);
    es_trend_destroy(c->trend);
    es_flutter_destroy(c->flutter);
    es_lines_destroy(c->lines);
    free(c->clean);
    free(c->mate_phasors);
    free(c->readings);
    free(c->speed);
    free(c);
}

/* --- steady readings into the measures ---------------------------------------------------- */

static void keep_speed(es_check *c, double time_s, double hz)
{
    double tape = isnan(c->config.tape_error) ? 0.0 : c->config.tape_error;
    double clock = isnan(c->config.clock_ppm) ? 0.0 : c->config.clock_ppm * 1e-6;
    if (c->speed_count == SPEED_ROOM) {
        c->speed_first = (c->speed_first + 1) % SPEED_ROOM;
        c->speed_count--;
    }
    es_speed_sample *to = &c->speed[(c->speed_first + c->speed_count++) % SPEED_ROOM];
    to->time_s = time_s;
    to->error = es_true_error(hz / c->nominal_hz - 1.0, tape, clock);
}

static void on_steady(void *who, const es_steady *s)
{
    es_check *c = who;
    if (s->role == ES_ROLE_BREAK) {
        es_flutter_break(c->flutter);
        es_lines_break(c->lines);
        if (c->reference_hz == 0.0) { /* the first steady speed settles the nominal, unless given */
            c->reference_hz = s->hz;
            if (c->config.nominal_hz == 0.0)
                c->nominal_hz = es_nearest_nominal(s->hz, &c->warnings);
        }
        c->opening = 1;
        return;
    }
    double deviation = s->hz / c->reference_hz - 1.0;
    if (s->role == ES_ROLE_OUTSIDE) {
        keep_speed(c, s->time_s, (double)NAN);
        return;
    }
    if (c->opening)
        c->offset = deviation;
    c->opening = 0;
    es_flutter_push(c->flutter, deviation - c->offset, s->role == ES_ROLE_COUNTS);
    if (s->role == ES_ROLE_LEAD)
        return;
    es_lines_push(c->lines, &deviation, 1);
    if (s->role == ES_ROLE_COUNTS)
        es_trend_push(c->trend, s->time_s, s->hz);
    keep_speed(c, s->time_s, s->role == ES_ROLE_COUNTS ? s->hz : (double)NAN);
}

/* --- following the tone ------------------------------------------------------------------- */

static int mate_of(const es_check *c, int channel)
{
    int other = channel % 2 ? channel + 1 : channel - 1;
    return c->mate && other <= c->config.channels ? other : 0;
}

/* The first tone heard settles the channel, and where the tone is looked for if it is lost. */
static void settle_on(es_check *c, const es_ear_pick *pick)
{
    c->channel = pick->channel;
    memcpy(c->channel_why, pick->why, sizeof c->channel_why);
    c->mate_channel = mate_of(c, c->channel);
    double about_hz = c->config.nominal_hz > 0.0 ? c->config.nominal_hz : pick->finding.hz;
    es_ear_settle_on(c->ear, c->channel, about_hz * (1.0 - REACH), about_hz * (1.0 + REACH));
}

static void tune(es_check *c, const es_ear_pick *pick)
{
    if (es_tone_tracker_tune(c->tracker, pick->finding.hz, pick->finding.amplitude_fs) != ES_OK)
        return; /* outside what can be followed: keep listening */
    if (c->channel == 0)
        settle_on(c, pick);
    if (c->mate_channel)
        (void)es_baseband_tune(c->mate, pick->finding.hz, REACH);
    c->tuned_at = c->frames;
    c->mate_on = 0;
    c->following = 1;
    c->looking = 0;
    c->next_look = c->frames;
    es_ear_restart(c->ear);
}

/* Is this second one of those in which the other channel is compared? */
static int mate_is_due(const es_check *c)
{
    double since_s = (double)(c->frames - c->tuned_at) / c->config.rate_hz;
    return c->mate_channel && (since_s < MATE_ALWAYS_S || (uint64_t)since_s % MATE_EVERY_S == 0);
}

/* Both channels' phasors must fall on the same frames: the mate joins at a whole hop. */
static void switch_mate(es_check *c)
{
    int due = mate_is_due(c);
    if (due && !c->mate_on) {
        uint64_t hop = es_tone_tracker_plan(c->tracker).hop_frames;
        uint64_t hops = (c->frames - c->tuned_at + hop - 1) / hop;
        es_baseband_reset(c->mate);
        es_baseband_skip(c->mate, hops * hop);
        c->mate_from = c->tuned_at + hops * hop;
    }
    c->mate_on = due;
}

/* All that changes course happens here, at whole chunks, so that block sizes don't matter. */
static void decide(es_check *c)
{
    es_ear_pick pick;
    if (!c->following) {
        if (es_ear_pick_now(c->ear, &pick))
            tune(c, &pick);
    } else if (es_tone_tracker_missing_s(c->tracker) > LOST_S) {
        if (c->looking != 2)
            es_ear_restart(c->ear);
        c->looking = 2; /* all the time, for the tone to come back elsewhere */
        if (es_ear_pick_now(c->ear, &pick))
            tune(c, &pick);
    } else {
        if (c->looking == 2)
            c->looking = 0;
        if (!c->looking && c->frames >= c->next_look) {
            c->looking = 1;
            es_ear_restart(c->ear);
        }
    }
    if (c->following)
        switch_mate(c);
    c->missing_s = c->following ? es_tone_tracker_missing_s(c->tracker) : 0.0;
}

static void take_look(es_check *c)
{
    es_finding f = es_ear_last(c->ear, c->channel);
    if (f.sound == ES_SOUND_TONE && c->missing_s == 0.0) {
        double power = f.amplitude_fs * f.amplitude_fs / 2.0;
        c->tone.signal_power += power;
        c->tone.noise_power += power * pow(10.0, -f.snr_db / 10.0);
    }
    if (c->looking == 1) {
        double since_s = (double)(c->frames - c->tuned_at) / c->config.rate_hz;
        c->next_look += frame_at(since_s < LOOK_OFTEN_S ? 1.0 : LOOK_SELDOM_S, c->config.rate_hz);
        c->looking = 0;
    }
}

static void compare_mate(es_check *c, const float *frames, size_t count)
{
    uint64_t skip = c->mate_from > c->frames ? c->mate_from - c->frames : 0;
    if (skip >= count)
        return;
    size_t channels = (size_t)c->config.channels, made, mine;
    const float *in = frames + skip * channels + (size_t)(c->mate_channel - 1);
    es_status status = es_baseband_process(c->mate, in, channels, count - (size_t)skip,
                                           c->mate_phasors, ES_CHECK_CHUNK + 2, &made);
    const es_phasor *main = es_tone_tracker_phasors(c->tracker, &mine);
    if (status != ES_OK || c->missing_s > 0.0)
        return;
    size_t both = made < mine ? made : mine; /* both end on the same frame */
    const es_phasor *a = main + mine - both, *b = c->mate_phasors + made - both;
    int main_is_left = c->channel < c->mate_channel;
    es_stereo_push(&c->stereo, main_is_left ? a : b, main_is_left ? b : a, both);
}

/* Two tones that lie close together beat: the level swings faster than any hand turns it. */
static void take_levels(es_check_tone *tone, const es_tone_reading *readings, size_t count)
{
    es_check_tone t = *tone; /* sums in registers */
    if (t.levels == 0 && count > 0)
        t.level_slow = readings[0].amplitude_fs;
    for (size_t i = 0; i < count; i++) {
        double level = readings[i].amplitude_fs;
        t.level_slow += (level - t.level_slow) * (1.0 / (LEVEL_S * ES_READINGS_HZ));
        double swing = level / t.level_slow - 1.0;
        t.level_sum += level;
        t.beat_square += swing * swing;
    }
    t.levels += count;
    *tone = t;
}

/* Returns the number of readings written to out. */
static size_t follow(es_check *c, const float *frames, size_t count, es_tone_reading *out)
{
    size_t channels = (size_t)c->config.channels, made;
    double base_s = (double)c->tuned_at / c->config.rate_hz;
    es_tone_tracker_process(c->tracker, frames + c->channel - 1, channels, count, out,
                            es_tone_tracker_yield(c->tracker, count), &made);
    if (c->mate_on)
        compare_mate(c, frames, count);
    for (size_t i = 0; i < made; i++)
        out[i].time_s += base_s;
    if (c->missing_s < MISSING_S)
        take_levels(&c->tone, out, made);
    return made;
}

/* --- frames ----------------------------------------------------------------------------- */

static void count_full_scale(es_check *c, const float *frames, size_t count)
{
    size_t channels = (size_t)c->config.channels, full = 0;
    const float *at = frames + (c->channel ? c->channel - 1 : 0);
    for (size_t i = 0; i < count; i++)
        full += fabsf(at[i * channels]) >= FULL_SCALE;
    c->full_scale += full;
}

/* The chunk with zeros for what is not finite. */
static const float *cleaned(es_check *c, const float *frames, size_t count)
{
    size_t channels = (size_t)c->config.channels;
    for (size_t i = 0; i < count; i++) {
        int bad = 0;
        for (size_t k = 0; k < channels; k++) {
            float x = frames[i * channels + k];
            int finite = isfinite(x) && fabsf(x) < 1e6f;
            c->clean[i * channels + k] = finite ? x : 0.0f;
            bad |= !finite;
        }
        c->bad_frames += (uint64_t)bad;
    }
    return c->clean;
}

/* At most one chunk, not across a decision. */
static size_t take_chunk(es_check *c, const float *frames, size_t count, es_tone_reading *out)
{
    size_t made = 0;
    float peak = es_scan_peak(frames, count * (size_t)c->config.channels);
    if (!(peak < 1e6f))
        frames = cleaned(c, frames, count);
    if (peak >= FULL_SCALE)
        count_full_scale(c, frames, count);
    c->watched_samples += count;
    if (c->following)
        made = follow(c, frames, count, out);
    if (!c->following || c->looking) {
        size_t completed = es_ear_push(c->ear, frames, count);
        if (completed && c->following)
            take_look(c);
    }
    c->frames += count;
    if (c->frames % ES_CHECK_CHUNK == 0)
        decide(c);
    return made;
}

size_t es_check_hear(es_check *c, const float *frames, size_t count, es_tone_reading *out)
{
    size_t channels = (size_t)c->config.channels, made = 0;
    assert(count <= ES_CHECK_HEAR_MOST);
    while (count > 0) {
        size_t take = ES_CHECK_CHUNK - (size_t)(c->frames % ES_CHECK_CHUNK);
        if (take > count)
            take = count;
        uint64_t from = c->frames > c->begin ? 0 : c->begin - c->frames;
        if (from >= take || c->frames >= c->end) { /* outside the part asked for */
            c->frames += take;
        } else if (from > 0) {
            c->frames += from;
            take = (size_t)from;
        } else {
            if (c->end - c->frames < take)
                take = (size_t)(c->end - c->frames);
            made += take_chunk(c, frames, take, out + made);
        }
        frames += take * channels;
        count -= take;
    }
    return made;
}

void es_check_skip(es_check *c, uint64_t count)
{
    es_stretch_part(c->stretch);
    es_ear_restart(c->ear);
    c->following = c->looking = c->mate_on = 0;
    c->frames += count;
    c->skipped += count;
}

void es_check_weigh(es_check *c, const es_tone_reading *readings, size_t count)
{
    for (size_t i = 0; i < count; i++)
        es_stretch_push(c->stretch, &readings[i]);
}

void es_check_push(es_check *c, const float *frames, size_t count)
{
    while (count > 0) {
        size_t take = count < ES_CHECK_HEAR_MOST ? count : ES_CHECK_HEAR_MOST;
        es_check_weigh(c, c->readings, es_check_hear(c, frames, take, c->readings));
        frames += take * (size_t)c->config.channels;
        count -= take;
    }
}

size_t es_check_take_speed(es_check *c, es_speed_sample *out, size_t room)
{
    size_t take = c->speed_count < room ? c->speed_count : room;
    for (size_t i = 0; i < take; i++)
        out[i] = c->speed[(c->speed_first + i) % SPEED_ROOM];
    c->speed_first = (c->speed_first + take) % SPEED_ROOM;
    c->speed_count -= take;
    return take;
}

es_status es_check_finish(es_check *c, es_check_result *result, es_error *error)
{
    memset(result, 0, sizeof *result);
    es_stretch_end(c->stretch);
    es_check_report(c, result);
    if (!es_check_is_sound(c))
        return es_check_refuse(c, error);
    return ES_OK;
}
