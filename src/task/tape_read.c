#include "evenspool/task/tape_read.h"

#include "evenspool/base/text.h"
#include "evenspool/signal/scan.h"
#include "task/tape_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FULL_SCALE 0.9999f
#define SILENT_FS 1e-4f /* -80 dB: nothing was played */
#define SANE_FS 1e6f

/* --- life ------------------------------------------------------------------------------- */

es_tape_read_config es_tape_read_defaults(double rate_hz, int channels)
{
    return (es_tape_read_config){.rate_hz = rate_hz,
                                 .channels = channels,
                                 .tape_error = (double)NAN,
                                 .tape_u = (double)NAN,
                                 .clock_ppm = (double)NAN,
                                 .level_dbfs = (double)NAN};
}

static es_status judge_config(const es_tape_read_config *c, es_error *error)
{
    if (!(c->rate_hz >= ES_CHECK_RATE_MIN_HZ && c->rate_hz <= ES_CHECK_RATE_MAX_HZ))
        return es_fail(error, ES_ERR_ARG, "bad-rate",
                       "A sample rate of %.0f Hz can't be measured; 8 to 384 kHz can.", c->rate_hz);
    if (c->channels < 1 || c->channels > ES_CHECK_CHANNELS_MOST)
        return es_fail(error, ES_ERR_ARG, "bad-channels", "%d channels are too many or too few.",
                       c->channels);
    if (c->programme)
        return es_programme_check(c->programme, NULL, error) == ES_OK ? ES_OK : ES_ERR_ARG;
    return ES_OK;
}

static es_status create_parts(es_tape_read *r, es_error *error)
{
    double rate_hz = r->config.rate_hz;
    es_check_config check = es_check_defaults(rate_hz, (int)r->channels);
    es_delay_config delay = es_delay_defaults(rate_hz);
    check.bits = r->config.bits;
    check.tape_error = r->config.tape_error;
    check.tape_u = r->config.tape_u;
    check.clock_ppm = r->config.clock_ppm;
    es_status status = es_check_create(&check, &r->check, error);
    if (status == ES_OK)
        status = es_marker_finder_create(rate_hz, &r->finder);
    if (status == ES_OK)
        status = es_level_create(rate_hz, &r->level);
    if (status == ES_OK)
        status = es_delay_create(&delay, &r->delay);
    if (status == ES_OK)
        status = es_noise_create(rate_hz, &r->noise);
    if (status == ES_OK)
        status = es_tape_phase_create(rate_hz, &r->phase);
    r->pair = calloc(2 * ES_TAPE_CHUNK, sizeof *r->pair);
    return status == ES_OK && !r->pair ? ES_ERR_NOMEM : status;
}

/* What the caller's pointers show is copied: they need not outlive the call. */
static void copy_config(es_tape_read *r, const es_tape_read_config *config)
{
    r->config = *config;
    if (config->programme)
        r->given = *config->programme;
    es_text label = es_text_over(r->label, sizeof r->label);
    if (config->label)
        es_text_add(&label, "%s", config->label);
    if (config->limits)
        r->limits = *config->limits;
    if (config->geometry)
        r->geometry = *config->geometry;
    if (config->recorded)
        r->recorded = *config->recorded;
}

es_status es_tape_read_create(const es_tape_read_config *config, es_tape_read **out,
                              es_error *error)
{
    *out = NULL;
    es_status status = judge_config(config, error);
    if (status != ES_OK)
        return status;
    es_tape_read *r = calloc(1, sizeof *r);
    if (!r)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    copy_config(r, config);
    r->channels = config->channels < 2 ? 1 : 2;
    r->dropouts = es_tape_dropouts_start(config->rate_hz, r->channels);
    for (size_t i = 0; i < ES_PROGRAMME_SECTIONS; i++)
        r->part[i].start_s = r->part[i].end_s = (double)NAN;
    status = create_parts(r, error);
    if (status != ES_OK) {
        es_tape_read_destroy(r);
        return es_fail(error, status, "no-memory", "There is not enough memory.");
    }
    *out = r;
    return ES_OK;
}

void es_tape_read_destroy(es_tape_read *r)
{
    if (!r)
        return;
    es_marker_finder_destroy(r->finder);
    es_check_destroy(r->check);
    es_level_destroy(r->level);
    es_delay_destroy(r->delay);
    es_noise_destroy(r->noise);
    es_tape_phase_destroy(r->phase);
    free(r->pair);
    free(r);
}

/* --- listening ------------------------------------------------------------------------------ */

static size_t take_finds(es_tape_read *r, es_tape_find *out, size_t room)
{
    es_marker_find found[ES_TAPE_FINDS_MOST];
    size_t count = es_marker_finder_take(r->finder, found, room);
    for (size_t i = 0; i < count; i++)
        out[i] = (es_tape_find){found[i], r->listened};
    return count;
}

static size_t to_chunk_end(uint64_t frames, size_t count)
{
    size_t left = ES_TAPE_CHUNK - (size_t)(frames % ES_TAPE_CHUNK);
    return count < left ? count : left;
}

size_t es_tape_read_listen(es_tape_read *r, const float *frames, size_t count,
                           es_tape_find out[ES_TAPE_FINDS_MOST])
{
    size_t stride = (size_t)r->config.channels, found = 0;
    while (count > 0) {
        size_t take = to_chunk_end(r->listened, count);
        es_marker_finder_push(r->finder, frames, stride > 1 ? frames + 1 : NULL, stride, take);
        r->listened += take;
        if (r->listened % ES_TAPE_CHUNK == 0)
            found += take_finds(r, out + found, ES_TAPE_FINDS_MOST - found);
        frames += take * stride;
        count -= take;
    }
    return found;
}

/* --- measuring ------------------------------------------------------------------------------ */

/* Everything within the chunk: what is in turn begins, goes on and ends. */
static void measure_pair(es_tape_read *r, const float *stereo, size_t count)
{
    es_tape_course *c = &r->course;
    while (count > 0) {
        size_t sections = c->programme.side[c->side].section_count, take = count;
        int over = !c->adopted || c->section >= sections;
        uint64_t turn = over ? UINT64_MAX : c->running ? c->to : c->from;
        if (!over && turn <= r->frames) {
            if (c->running) {
                es_tape_step_end(r, 0);
                es_tape_course_next(r);
            } else {
                es_tape_step_begin(r);
            }
            continue;
        }
        if (turn - r->frames < take)
            take = (size_t)(turn - r->frames);
        if (!over && c->running)
            es_tape_step_push(r, stereo, take);
        r->frames += take;
        stereo += take * r->channels;
        count -= take;
    }
}

/* The first two channels, without what is not finite. */
static const float *taken_apart(es_tape_read *r, const float *frames, size_t count)
{
    size_t stride = (size_t)r->config.channels;
    for (size_t i = 0; i < count; i++)
        for (size_t c = 0; c < r->channels; c++) {
            float x = frames[i * stride + c];
            r->pair[i * r->channels + c] = isfinite(x) && fabsf(x) < SANE_FS ? x : 0.0f;
        }
    return r->pair;
}

static void watch_peaks(es_tape_read *r, const float *stereo, size_t count, float peak)
{
    if (peak > r->peak)
        r->peak = peak;
    for (size_t c = 0; c < r->channels && peak >= FULL_SCALE; c++)
        for (size_t i = 0; i < count; i++)
            r->full_scale[c] += fabsf(stereo[i * r->channels + c]) >= FULL_SCALE;
}

/* At most a chunk, not across its end. */
static void measure_chunk(es_tape_read *r, const float *frames, size_t count)
{
    size_t stride = (size_t)r->config.channels;
    float peak = es_scan_peak(frames, count * stride);
    int apart = stride > 2 || !(peak < SANE_FS);
    const float *stereo = apart ? taken_apart(r, frames, count) : frames;
    watch_peaks(r, stereo, count, apart ? es_scan_peak(stereo, count * r->channels) : peak);
    measure_pair(r, stereo, count);
}

void es_tape_read_measure(es_tape_read *r, const float *frames, size_t count,
                          const es_tape_find *finds, size_t find_count)
{
    size_t stride = (size_t)r->config.channels;
    while (count > 0) {
        size_t take = to_chunk_end(r->frames, count);
        measure_chunk(r, frames, take);
        for (; find_count > 0 && finds->known_at <= r->frames; finds++, find_count--)
            es_tape_course_mark(r, &finds->marker);
        if (r->frames % ES_TAPE_CHUNK == 0)
            es_tape_listen_on(r);
        frames += take * stride;
        count -= take;
    }
}

void es_tape_read_push(es_tape_read *r, const float *frames, size_t count)
{
    es_tape_find finds[ES_TAPE_FINDS_MOST];
    while (count > 0) {
        size_t take = count < ES_TAPE_LISTEN_MOST ? count : ES_TAPE_LISTEN_MOST;
        size_t found = es_tape_read_listen(r, frames, take, finds);
        es_tape_read_measure(r, frames, take, finds, found);
        frames += take * (size_t)r->config.channels;
        count -= take;
    }
}

es_tape_now es_tape_read_now(const es_tape_read *r)
{
    const es_tape_course *c = &r->course;
    es_tape_now now = {.time_s = (double)r->frames / r->config.rate_hz,
                       .left_s = (double)NAN,
                       .speed = (double)NAN,
                       .error = (double)NAN,
                       .strange_id = r->strange_id};
    if (!c->adopted)
        return now;
    now.side = (int)c->side + 1;
    now.speed = c->speed;
    now.error = es_tape_error_of(r, c->speed);
    now.ended = es_tape_section_of(r, c->anchor_section)->kind == ES_SECTION_END;
    now.index = c->section;
    now.step = c->step;
    now.count = c->programme.side[c->side].section_count;
    memcpy(now.programme, c->programme.name, sizeof now.programme);
    if (c->running)
        memcpy(now.section, es_tape_section_of(r, c->section)->name, sizeof now.section);
    now.left_s =
        fmax(es_tape_course_time(c, es_programme_side_s(&c->programme, c->side)) - now.time_s, 0.0);
    return now;
}

/* --- the end ------------------------------------------------------------------------------------ */

static es_status refuse(const es_tape_read *r, es_error *error)
{
    if (r->frames == 0)
        return es_fail(error, ES_ERR_INPUT, "empty", "There are no samples in it; record again.");
    if (r->peak < SILENT_FS)
        return es_fail(
            error, ES_ERR_INPUT, "silence",
            "It is silent; check the cable, the input and its level, then record again.");
    if (r->strange)
        return es_fail(error, ES_ERR_INPUT, "unknown-programme",
                       "Its markers are those of programme number %u, which is not built in; name "
                       "the programme's file with --programme.",
                       r->strange_id);
    return es_fail(error, ES_ERR_INPUT, "no-markers",
                   "No marker of a test tape is in it: play the home-made test tape from its "
                   "beginning, or use \"evenspool check\" for a single tone.");
}

/* Tones of the programme; silence and what resembles noise may be anything. */
static int anything_heard(const es_tape_read *r)
{
    for (size_t i = 0; i < r->course.programme.side[r->course.side].section_count; i++)
        if (es_section_rule_of(es_tape_section_of(r, i)->kind)->tone &&
            es_tape_part_is_sound(&r->part[i]))
            return 1;
    return 0;
}

es_status es_tape_read_finish(es_tape_read *r, es_tape_result *result, es_error *error)
{
    es_tape_find finds[ES_TAPE_FINDS_MOST];
    memset(result, 0, sizeof *result);
    es_marker_finder_finish(r->finder);
    size_t found = take_finds(r, finds, ES_TAPE_FINDS_MOST);
    if (r->course.running)
        es_tape_step_end(r, 0);
    for (size_t i = 0; i < found; i++)
        es_tape_course_mark(r, &finds[i].marker);
    es_check_skip(r->check, r->frames - r->check_frames);
    r->check_frames = r->frames;
    es_tape_report(r, result);
    if (!r->course.adopted)
        return refuse(r, error);
    if (!anything_heard(r))
        return es_fail(error, ES_ERR_INPUT, "nothing-heard",
                       "There are markers of the programme %s in it, but nothing else of what the "
                       "programme has: play the whole side and record again.",
                       r->course.programme.name);
    es_tape_judge(&r->limits, result);
    return ES_OK;
}
