#include "live/measure_tape.h"

#include "live/measure_tape_inside.h"
#include "live/small_file.h"
#include "live/stage.h"
#include "wave/reader.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define BLOCK_SAMPLES 16384 /* 64 kB, so that waking costs little */
#define LIMITS_MOST 65536

/*
 * Two threads in a chain: one decodes and listens for markers, the caller's measures. Each has its own
 * half of the state; the frames and what was found in them pass between.
 */
typedef struct tape_block {
    size_t find_count;
    es_tape_find finds[ES_TAPE_FINDS_MOST];
    float frames[BLOCK_SAMPLES];
} tape_block;

_Static_assert(BLOCK_SAMPLES <= ES_TAPE_LISTEN_MOST, "a block is listened to at once");

typedef struct measurement {
    const es_measure_tape_settings *settings;
    es_wave_reader *reader;
    es_wave_facts facts;
    es_stage *listening;
    es_tape_read *read;
} measurement;

es_measure_tape_settings es_measure_tape_defaults(void)
{
    double unknown = (double)NAN;
    return (es_measure_tape_settings){.tape_percent = unknown,
                                      .tape_u95_percent = unknown,
                                      .clock_ppm = unknown,
                                      .level_dbfs = unknown};
}

es_status es_limits_load(const char *name, es_tape_limits *out, es_error *error)
{
    char *text;
    size_t length;
    es_error reading = {0};
    if (es_tape_limits_named(name, out) == ES_OK)
        return ES_OK;
    es_status status = es_small_file_read(name, LIMITS_MOST, &text, &length, &reading);
    if (status != ES_OK && strcmp(reading.code, "missing") == 0)
        return es_fail(error, ES_ERR_INPUT, "no-limits",
                       "There is no built-in set of limits and no file of that name; built in are "
                       "cassette and reel.");
    if (status != ES_OK)
        return es_fail(error, status, reading.code, "%s", reading.text);
    status = es_tape_limits_parse(text, length, out, error);
    free(text);
    return status;
}

es_tape_read_config es_measure_tape_config(const es_measure_tape_settings *s, double rate_hz,
                                           int channels)
{
    es_tape_read_config config = es_tape_read_defaults(rate_hz, channels);
    if (s->tape)
        config.label = s->tape->programme;
    es_measure_tape_error(s->tape, s->tape_percent, s->tape_u95_percent, &config.tape_error,
                          &config.tape_u);
    config.clock_ppm = s->clock_ppm;
    config.programme = s->programme;
    config.limits = s->limits;
    config.geometry = s->geometry;
    config.level_dbfs = s->level_dbfs;
    config.recorded = s->recorded;
    config.recorded_here = s->recorded_here;
    return config;
}

/* Fills a block as far as the capture goes: short reads of a pipe must not show in the result. */
static es_status listen(void *who, void *block, size_t *count, es_error *error)
{
    measurement *m = who;
    tape_block *to = block;
    size_t channels = (size_t)m->facts.channels, want = BLOCK_SAMPLES / channels, got = 1;
    es_status status = ES_OK;
    for (*count = 0; *count < want && got > 0 && status == ES_OK; *count += got)
        status = es_wave_reader_read(m->reader, to->frames + *count * channels, want - *count, &got,
                                     error);
    to->find_count = es_tape_read_listen(m->read, to->frames, *count, to->finds);
    return status;
}

static es_status open_parts(measurement *m, const char *path, es_error *error)
{
    es_wave_raw raw = {0};
    es_status status = m->settings->raw ? es_wave_raw_parse(m->settings->raw, &raw, error) : ES_OK;
    if (status == ES_OK)
        status = es_wave_reader_open(path, &raw, &m->reader, error);
    if (status != ES_OK)
        return status;
    m->facts = es_wave_reader_facts(m->reader);
    es_tape_read_config config =
        es_measure_tape_config(m->settings, m->facts.rate_hz, m->facts.channels);
    config.bits = m->facts.bits;
    status = es_tape_read_create(&config, &m->read, error);
    if (status == ES_OK)
        status = es_stage_create(listen, m, sizeof(tape_block), &m->listening, error);
    return status;
}

static void tell_progress(const measurement *m, int64_t done)
{
    const es_measure_watch *watch = &m->settings->watch;
    if (watch->progress)
        watch->progress(watch->who, (double)done / m->facts.rate_hz,
                        m->facts.frames > 0 ? (double)done / (double)m->facts.frames : (double)NAN);
}

static es_status measure_all(measurement *m, es_error *error)
{
    es_status status = ES_OK;
    const tape_block *block;
    size_t frames;
    int64_t done = 0;
    while (status == ES_OK && (block = es_stage_take(m->listening, &frames, &status, error))) {
        es_tape_read_measure(m->read, block->frames, frames, block->finds, block->find_count);
        done += (int64_t)frames;
        tell_progress(m, done);
    }
    return status;
}

es_status es_measure_tape(const char *path, const es_measure_tape_settings *settings,
                          es_tape_result *result, es_error *error)
{
    measurement m = {.settings = settings};
    memset(result, 0, sizeof *result);
    es_status status = open_parts(&m, path, error);
    if (status == ES_OK)
        status = measure_all(&m, error);
    es_stage_destroy(m.listening);
    if (status == ES_OK) {
        status = es_tape_read_finish(m.read, result, error);
        const es_notes *warnings = es_wave_reader_warnings(m.reader);
        for (size_t i = 0; i < warnings->count; i++)
            es_notes_add(&result->warnings, warnings->at[i].code, "%s", warnings->at[i].text);
    }
    es_tape_read_destroy(m.read);
    es_wave_reader_close(m.reader);
    return status;
}
