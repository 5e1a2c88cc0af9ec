#include "live/rehearse.h"

#include "live/practice_tape.h"
#include "live/scenario_file.h"
#include "wave/writer.h"

#include <math.h>
#include <string.h>

#define BLOCK 4096 /* frames rendered at once */

es_rehearse_settings es_rehearse_defaults(void)
{
    return (es_rehearse_settings){.rate_hz = 48000.0, .seconds = (double)NAN, .seed = (double)NAN};
}

const char *es_rehearse_name(size_t index, const char **about)
{
    *about = es_scenario_builtin_about(index);
    return index < es_scenario_builtin_count() ? es_scenario_builtin_name(index) : NULL;
}

/* --- scenario -------------------------------------------------------------------------- */

/* *tape stays NULL when there is none. */
static es_status load(const es_rehearse_settings *s, es_scenario *out, es_practice_tape **tape,
                      es_error *error)
{
    es_status status = es_scenario_load(s->scenario, out, error);
    if (status != ES_OK)
        return status;
    if (!isnan(s->seconds))
        out->length_s = s->seconds;
    if (!isnan(s->seed))
        out->seed = (uint64_t)s->seed;
    if (s->programme)
        status =
            es_practice_tape_create(s->programme, s->side, !isnan(s->seconds), out, tape, error);
    return status == ES_OK ? es_scenario_check(out, s->rate_hz, error) : status;
}

/* --- rendering -------------------------------------------------------------------------- */

static es_status render(const es_rehearse_settings *s, es_rehearsal *deck, es_wave_writer *writer,
                        es_error *error)
{
    float frames[2 * BLOCK];
    int64_t length = es_rehearsal_length(deck);
    es_status status = ES_OK;
    for (int64_t done = 0; done < length && status == ES_OK;) {
        size_t count = length - done < BLOCK ? (size_t)(length - done) : BLOCK;
        es_rehearsal_render(deck, frames, count);
        status = es_wave_writer_write(writer, frames, count, error);
        done += (int64_t)count;
        if (s->progress)
            s->progress(s->who, (double)done / s->rate_hz, (double)done / (double)length);
    }
    return status;
}

static es_status render_to_file(const es_rehearse_settings *s, es_rehearsal *deck, es_error *error)
{
    es_wave_writer_settings settings = {
        .rate_hz = (int)s->rate_hz, .channels = 2, .as_float = s->as_float, .replace = s->replace};
    es_wave_writer *writer;
    es_status status = es_wave_writer_open(s->path, &settings, &writer, error);
    if (status != ES_OK)
        return status;
    status = render(s, deck, writer, error);
    if (status == ES_OK)
        return es_wave_writer_keep(writer, error);
    es_wave_writer_drop(writer);
    return status;
}

static es_status play(const es_rehearse_settings *s, es_practice_tape *tape, es_rehearsed *out,
                      es_error *error)
{
    es_rehearsal *deck;
    es_status status = tape ? es_practice_tape_play(tape, &out->scenario, s->rate_hz, &deck)
                            : es_rehearsal_create(&out->scenario, s->rate_hz, &deck);
    if (status != ES_OK)
        return es_fail(error, status, "no-memory", "There is not enough memory for the deck.");
    status = render_to_file(s, deck, error);
    if (status == ES_OK)
        out->truth = es_rehearsal_truth_of(deck);
    es_rehearsal_destroy(deck);
    return status;
}

es_status es_rehearse(const es_rehearse_settings *settings, es_rehearsed *out, es_error *error)
{
    es_practice_tape *tape = NULL;
    *out = (es_rehearsed){0};
    es_status status = load(settings, &out->scenario, &tape, error);
    if (status == ES_OK && tape) {
        memcpy(out->programme, settings->programme->name, sizeof out->programme);
        out->side = settings->side;
    }
    if (status == ES_OK)
        status = play(settings, tape, out, error);
    es_practice_tape_destroy(tape);
    return status;
}
