#include "live/measure.h"

#include "evenspool/task/check.h"
#include "evenspool/trust/uncertainty.h"
#include "live/geometry.h"
#include "live/measure_tape_inside.h"
#include "live/stage.h"
#include "wave/reader.h"

#include <math.h>
#include <string.h>

#define SPEED_TAKEN 512    /* speed samples handed on at once */
#define BLOCK_SAMPLES 8192 /* 32 kB: what was decoded is heard from the nearest cache    */
#define BLOCKS_AT_ONCE 16  /* decoded for one block of readings: waking costs more       */

/*
 * Two threads in a chain: one decodes frames and hears the tone in them, and the caller's weighs what
 * was heard. Each has its own half of the state; only readings, which are few, pass between them.
 */
typedef struct readings_block {
    size_t count;
    es_tone_reading readings[ES_CHECK_READINGS_MOST];
} readings_block;

_Static_assert(BLOCK_SAMPLES <= ES_CHECK_HEAR_MOST, "a block is heard at once");

typedef struct measurement {
    const es_measure_settings *settings;
    es_wave_reader *reader;
    es_wave_facts facts;
    es_stage *hearing;
    es_check *check;
    int64_t frames_most; /* to be read; -1: all */

    /* the hearing thread's */
    int64_t left; /* frames still to be read */
    float frames[BLOCK_SAMPLES];
} measurement;

/* --- settings ---------------------------------------------------------------------- */

es_measure_settings es_measure_defaults(void)
{
    double unknown = (double)NAN;
    return (es_measure_settings){.tone_hz = unknown,
                                 .tape_percent = unknown,
                                 .tape_u95_percent = unknown,
                                 .clock_ppm = unknown,
                                 .end_s = unknown,
                                 .capstan_mm = unknown,
                                 .tolerance_percent = unknown};
}

static es_status raw_of(const es_measure_settings *s, es_wave_raw *raw, es_error *error)
{
    *raw = (es_wave_raw){0};
    return s->raw ? es_wave_raw_parse(s->raw, raw, error) : ES_OK;
}

static es_status geometry_of(const es_measure_settings *s, es_geometry *geometry, es_error *error)
{
    es_status status = es_geometry_of(s->transport, s->deck, s->tape, geometry, error);
    if (status == ES_OK && !isnan(s->capstan_mm))
        geometry->capstan_m = s->capstan_mm / 1000.0;
    return status;
}

es_status es_measure_check(const es_measure_settings *s, es_error *error)
{
    es_wave_raw raw;
    es_geometry geometry;
    es_status status = raw_of(s, &raw, error);
    if (status == ES_OK)
        status = geometry_of(s, &geometry, error);
    if (status == ES_OK && s->end_s <= s->start_s)
        status = es_fail(error, ES_ERR_ARG, "start-end",
                         "The part to be measured ends before it begins; --end must be later than "
                         "--start.");
    return status;
}

static void take_tone(const es_measure_settings *s, es_check_config *config)
{
    int by_tape = isnan(s->tone_hz) && s->tape;
    double tone_hz = by_tape ? s->tape->nominal_hz : s->tone_hz;
    if (isnan(tone_hz))
        return;
    config->nominal_hz = tone_hz;
    config->nominal_source = by_tape ? ES_NOMINAL_TAPE : ES_NOMINAL_GIVEN;
}

void es_measure_tape_error(const es_tape_record *tape, double percent, double u95_percent,
                           double *error, double *u)
{
    if (tape && isnan(percent) && isnan(u95_percent)) {
        *error = tape->certificate_percent / 100.0;
        *u = tape->certificate_u_percent / 100.0;
        return;
    }
    *error = percent / 100.0;
    *u = es_u_from_expanded(u95_percent / 100.0, 2.0);
    if (isnan(percent) && !isnan(u95_percent))
        *error = 0.0;
}

static es_check_config config_of(const measurement *m, const es_geometry *geometry)
{
    const es_measure_settings *s = m->settings;
    es_check_config config = es_check_defaults(m->facts.rate_hz, m->facts.channels);
    config.bits = m->facts.bits;
    config.channel = s->channel;
    take_tone(s, &config);
    es_measure_tape_error(s->tape, s->tape_percent, s->tape_u95_percent, &config.tape_error,
                          &config.tape_u);
    config.clock_ppm = s->clock_ppm;
    config.start_s = s->start_s;
    if (!isnan(s->end_s))
        config.end_s = s->end_s;
    config.geometry = *geometry;
    if (!isnan(s->tolerance_percent))
        config.limits.tolerance_percent = s->tolerance_percent;
    return config;
}

/* --- one capture ------------------------------------------------------------------- */

/* What comes after the part asked for need not be decoded. */
static int64_t frames_wanted(const measurement *m)
{
    double end = ceil(m->settings->end_s * m->facts.rate_hz) + 1.0;
    return end < 1e15 ? (int64_t)end : -1; /* NaN: all */
}

static size_t block_frames(const measurement *m)
{
    /* half of the room is spared for what the filters still hold */
    size_t by_readings = (size_t)(m->facts.rate_hz / ES_READINGS_HZ *
                                  (ES_CHECK_READINGS_MOST / 2.0 / BLOCKS_AT_ONCE));
    size_t by_cache = BLOCK_SAMPLES / (size_t)m->facts.channels;
    return by_readings < by_cache ? by_readings : by_cache;
}

/* Fills m->frames as far as the capture goes: short reads of a pipe must not show in the result. */
static es_status decode(measurement *m, size_t *count, es_error *error)
{
    size_t channels = (size_t)m->facts.channels, most = block_frames(m), got = 1;
    size_t want = m->left < (int64_t)most ? (size_t)m->left : most;
    es_status status = ES_OK;
    for (*count = 0; *count < want && got > 0 && status == ES_OK; *count += got)
        status = es_wave_reader_read(m->reader, m->frames + *count * channels, want - *count, &got,
                                     error);
    m->left -= (int64_t)*count;
    return status;
}

/* Hands on the number of frames, since there may be none of readings. */
static es_status hear(void *who, void *block, size_t *count, es_error *error)
{
    measurement *m = who;
    readings_block *to = block;
    es_status status = ES_OK;
    size_t got = 1;
    *count = to->count = 0;
    for (int i = 0; i < BLOCKS_AT_ONCE && got > 0 && status == ES_OK; i++) {
        status = decode(m, &got, error);
        to->count += es_check_hear(m->check, m->frames, got, to->readings + to->count);
        *count += got;
    }
    return status;
}

static es_status open_parts(measurement *m, const char *path, es_error *error)
{
    es_wave_raw raw;
    es_geometry geometry;
    es_status status = raw_of(m->settings, &raw, error);
    if (status == ES_OK)
        status = geometry_of(m->settings, &geometry, error);
    if (status == ES_OK)
        status = es_wave_reader_open(path, &raw, &m->reader, error);
    if (status != ES_OK)
        return status;
    m->facts = es_wave_reader_facts(m->reader);
    m->frames_most = frames_wanted(m);
    m->left = m->frames_most < 0 ? INT64_MAX : m->frames_most;
    es_check_config config = config_of(m, &geometry);
    status = es_check_create(&config, &m->check, error);
    if (status == ES_OK)
        status = es_stage_create(hear, m, sizeof(readings_block), &m->hearing, error);
    return status;
}

static es_status hand_on_speed(measurement *m, es_error *error)
{
    const es_measure_watch *watch = &m->settings->watch;
    es_speed_sample samples[SPEED_TAKEN];
    size_t count;
    do {
        count = watch->speed ? es_check_take_speed(m->check, samples, SPEED_TAKEN) : 0;
        for (size_t i = 0; i < count; i++)
            if (!watch->speed(watch->who, samples[i].time_s, 100.0 * samples[i].error))
                return es_fail(error, ES_ERR_IO, "stopped", "The measurement was stopped.");
    } while (count == SPEED_TAKEN);
    return ES_OK;
}

static void tell_progress(const measurement *m, int64_t done)
{
    const es_measure_watch *watch = &m->settings->watch;
    if (!watch->progress)
        return;
    int64_t whole = m->facts.frames;
    if (m->frames_most >= 0 && (whole < 0 || m->frames_most < whole))
        whole = m->frames_most;
    watch->progress(watch->who, (double)done / m->facts.rate_hz,
                    whole > 0 ? (double)done / (double)whole : (double)NAN);
}

static es_status push_all(measurement *m, es_error *error)
{
    es_status status = ES_OK;
    const readings_block *heard;
    size_t frames;
    int64_t done = 0;
    while (status == ES_OK && (heard = es_stage_take(m->hearing, &frames, &status, error))) {
        es_check_weigh(m->check, heard->readings, heard->count);
        done += (int64_t)frames;
        status = hand_on_speed(m, error);
        tell_progress(m, done);
    }
    return status;
}

static void complete(const measurement *m, es_check_result *result)
{
    if (m->frames_most >= 0 && m->frames_most < m->facts.frames)
        result->capture.duration_s = (double)m->facts.frames / m->facts.rate_hz;
    const es_notes *warnings = es_wave_reader_warnings(m->reader);
    for (size_t i = 0; i < warnings->count; i++)
        es_notes_add(&result->warnings, warnings->at[i].code, "%s", warnings->at[i].text);
}

es_status es_measure(const char *path, const es_measure_settings *settings, es_check_result *result,
                     es_error *error)
{
    measurement m = {.settings = settings};
    es_status status = open_parts(&m, path, error);
    if (status == ES_OK)
        status = push_all(&m, error);
    es_stage_destroy(m.hearing);
    if (status == ES_OK)
        status = es_check_finish(m.check, result, error);
    if (status == ES_OK)
        status = hand_on_speed(&m, error);
    if (status == ES_OK)
        complete(&m, result);
    es_check_destroy(m.check);
    es_wave_reader_close(m.reader);
    return status;
}
