/* The test tape, read while it plays: what the page can ask for, and have done. */
#include "serve/inside.h"
#include "serve/programme_named.h"

#include "json/form.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct wish {
    es_tape_session_config session;
    char programme[1024], tape[ES_NAME_ROOM];
} wish;

static void read_wish(es_form *form, wish *w, es_error *error)
{
    es_measure_tape_settings *reading = &w->session.reading;
    w->session = es_tape_session_defaults();
    es_form_text(form, "source", w->session.source, sizeof w->session.source, error);
    es_form_text(form, "record", w->session.record_path, sizeof w->session.record_path, error);
    es_form_text(form, "programme", w->programme, sizeof w->programme, error);
    es_form_text(form, "tape", w->tape, sizeof w->tape, error);
    es_form_number(form, "tape_error_percent", &reading->tape_percent, error);
    es_form_number(form, "tape_u95_percent", &reading->tape_u95_percent, error);
    es_form_number(form, "clock_ppm", &reading->clock_ppm, error);
    es_form_number(form, "level_dbfs", &reading->level_dbfs, error);
    es_form_truth(form, "recorded_here", &reading->recorded_here, error);
    es_form_end(form, error);
}

static int outside(double value, double low, double high)
{
    return !isnan(value) && !(value >= low && value <= high);
}

/* As the command line has them (tape read). */
static es_status judge_wish(const es_request *r, const wish *w, es_error *error)
{
    const es_measure_tape_settings *reading = &w->session.reading;
    int device = strncmp(w->session.source, "device:", 7) == 0;
    if (!w->session.source[0])
        return es_fail(error, ES_ERR_ARG, "no-source", "Say what to listen to.");
    if (!r->from_here && (!device || w->session.record_path[0] || w->programme[0]))
        return es_fail(error, ES_ERR_ARG, "not-from-afar",
                       "Files of the bench's computer can only be named at that computer.");
    if (outside(reading->tape_percent, -50.0, 50.0) ||
        outside(reading->tape_u95_percent, 0.0, 50.0))
        return es_fail(error, ES_ERR_ARG, "bad-tape-error",
                       "A tape's speed error is between -50 and 50 %%, its uncertainty between 0 "
                       "and 50.");
    if (outside(reading->clock_ppm, -10000.0, 10000.0))
        return es_fail(error, ES_ERR_ARG, "bad-clock",
                       "The error of a sound card's clock is between -10000 and 10000 millionths.");
    if (outside(reading->level_dbfs, -80.0, 20.0))
        return es_fail(error, ES_ERR_ARG, "bad-level",
                       "The reference level is between -80 and 20 dB full scale.");
    return ES_OK;
}

static es_status start_wish(es_request *r, wish *w, es_programme *programme, es_error *error)
{
    read_wish(r->form, w, error);
    es_status status = error->status == ES_OK ? judge_wish(r, w, error) : error->status;
    if (status == ES_OK && es_bench_listens(r->serve->bench))
        status = es_fail(error, ES_ERR_ARG, "coach-listens",
                         "The coach is listening; stop it first, then the test tape can be read.");
    if (status == ES_OK && w->programme[0]) {
        status = es_programme_named(w->programme, programme, error);
        w->session.reading.programme = programme;
    }
    return status == ES_OK ? es_tape_bench_start(r->serve->tape, &w->session, w->tape, error)
                           : status;
}

static es_status run_start(es_request *r, es_error *error)
{
    wish *w = calloc(1, sizeof *w);
    es_programme *programme = calloc(1, sizeof *programme);
    es_status status =
        w && programme ? start_wish(r, w, programme, error)
                       : es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    free(w);
    free(programme);
    return status;
}

static es_status run_stop(es_request *r, es_error *error)
{
    (void)error;
    es_tape_bench_stop(r->serve->tape);
    return ES_OK;
}

static es_status run_clear(es_request *r, es_error *error)
{
    (void)error;
    es_tape_bench_clear(r->serve->tape);
    return ES_OK;
}

static es_status run_result(es_request *r, es_error *error)
{
    return es_tape_bench_result(r->serve->tape, &r->text, error);
}

static const es_route routes[] = {
    {.method = "POST", .path = "/api/tape/start", .read = es_request_read_form, .run = run_start},
    {.method = "POST", .path = "/api/tape/stop", .read = es_request_read_nothing, .run = run_stop},
    {.method = "POST",
     .path = "/api/tape/clear",
     .read = es_request_read_nothing,
     .run = run_clear},
    {.method = "GET",
     .path = "/api/tape/result",
     .run = run_result,
     .finish = es_request_finish_text},
};

const es_routes es_routes_of_tape = {routes, sizeof routes / sizeof *routes};
