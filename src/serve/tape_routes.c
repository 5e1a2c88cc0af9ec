/* The test tape, read while it plays: what the page can ask for, and have done. */
#include "serve/changes.h"
#include "serve/programme_named.h"

#include "live/geometry.h"
#include "live/tape_entry.h"
#include "json/document.h"
#include "json/form.h"
#include "json/tape_json.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct wish {
    es_tape_session_config session;
    char programme[1024];
    es_visit visit;
    es_tape_record tape; /* what the records know of them */
    es_geometry geometry;
} wish;

static void read_wish(es_form *form, wish *w, es_error *error)
{
    es_measure_tape_settings *reading = &w->session.reading;
    w->session = es_tape_session_defaults();
    es_form_text(form, "source", w->session.source, sizeof w->session.source, error);
    es_form_text(form, "record", w->session.record_path, sizeof w->session.record_path, error);
    es_form_text(form, "programme", w->programme, sizeof w->programme, error);
    es_form_text(form, "deck", w->visit.deck, sizeof w->visit.deck, error);
    es_form_text(form, "tape", w->visit.tape, sizeof w->visit.tape, error);
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

/* As tape read --deck --tape asks them; only that a tape whose error is not known is read all the same: the
 * page says so, and nothing is taken off. A figure that was given by hand goes before the certificate. */
static es_status take_known(es_ledger *ledger, wish *w, es_error *error)
{
    es_measure_tape_settings *reading = &w->session.reading;
    es_deck_record deck;
    if (w->visit.tape[0]) {
        if (es_ledger_tape(ledger, w->visit.tape, &w->tape, error) != ES_OK)
            return error->status;
        reading->tape = &w->tape;
    }
    if (!w->visit.deck[0])
        return ES_OK;
    es_status status = es_ledger_deck(ledger, w->visit.deck, &deck, error);
    if (status == ES_OK)
        status = es_geometry_of(NULL, &deck, reading->tape, &w->geometry, error);
    reading->geometry = &w->geometry;
    return status;
}

/* On the hands' thread: nothing listens now that would have to wait. */
static es_status ask_records(const es_request *r, wish *w, es_error *error)
{
    es_ledger *ledger;
    if (!w->visit.deck[0] && !w->visit.tape[0])
        return ES_OK;
    es_status status = es_open_to_change(r, ES_LEDGER_READ, &ledger, error);
    if (status != ES_OK)
        return status;
    status = take_known(ledger, w, error);
    es_ledger_close(ledger);
    return status;
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
    if (status == ES_OK)
        status = ask_records(r, w, error);
    return status == ES_OK ? es_tape_bench_start(r->serve->tape, &w->session, &w->visit, error)
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

/* --- into the records ---------------------------------------------------------------------- */

/* On the hands' thread, who have the session. */
static es_status take_reading(es_request *r, es_error *error)
{
    return es_tape_bench_take(r->serve->tape, &r->reading, error);
}

static es_status add_reading(es_request *r, const es_tape_reading *reading, es_reading_entry *entry,
                             int64_t *id, es_error *error)
{
    es_ledger *ledger;
    char *document;
    es_status status = ES_OK;
    if (es_tape_to_json(&reading->result, reading->source, 1, &document) != ES_OK)
        return es_fail(error, ES_ERR_NOMEM, "no-memory",
                       "There is not enough memory to keep the reading.");
    entry->document = document;
    status = es_open_to_change(r, ES_LEDGER_WRITE, &ledger, error);
    if (status == ES_OK) {
        status = es_ledger_keep_reading(ledger, entry, id, error);
        es_ledger_close(ledger);
    }
    free(document);
    return status;
}

/* The deck may be named at the end as well as at the start; the tape was, since it was corrected by then. */
static es_status keep_reading_with(es_request *r, int64_t *id, es_error *error)
{
    const es_tape_reading *reading = r->reading;
    es_reading_entry entry = es_tape_entry_of(&reading->result);
    r->visit = reading->visit;
    es_form_text(r->form, "deck", r->visit.deck, sizeof r->visit.deck, error);
    es_form_end(r->form, error);
    if (error->status == ES_OK && !r->visit.deck[0])
        es_fail(error, ES_ERR_ARG, "no-deck", "Say of which deck this is a reading.");
    if (error->status != ES_OK)
        return error->status;
    entry.deck = r->visit.deck;
    entry.tape = es_text_or_null(r->visit.tape);
    entry.taken_at = reading->taken_at;
    entry.schema = ES_TAPE_SCHEMA;
    entry.capture = es_text_or_null(reading->capture);
    return add_reading(r, reading, &entry, id, error);
}

static es_status tell_reading(es_request *r, int64_t id, es_error *error)
{
    es_json *json;
    es_status status = es_json_begin("evenspool.kept/1", &json);
    if (status == ES_OK) {
        es_json_count(json, es_json_root(json), "id", id);
        es_json_text(json, es_json_root(json), "deck", r->visit.deck);
        status = es_json_end(json, 0, &r->text);
    }
    return status == ES_OK ? ES_OK : es_could_not_say(error);
}

static es_status keep_reading(es_request *r, es_error *error)
{
    int64_t id = 0;
    es_status status = keep_reading_with(r, &id, error);
    es_tape_bench_kept(r->serve->tape, r->reading, status == ES_OK ? id : 0, r->visit.deck);
    return status == ES_OK ? tell_reading(r, id, error) : status;
}

static const es_route routes[] = {
    {.method = "POST", .path = "/api/tape/start", .read = es_request_read_form, .run = run_start},
    {.method = "POST", .path = "/api/tape/stop", .read = es_request_read_nothing, .run = run_stop},
    {.method = "POST",
     .path = "/api/tape/clear",
     .read = es_request_read_nothing,
     .run = run_clear},
    ES_CHANGE("/api/tape/keep", .run = take_reading, .keep = keep_reading,
              .finish = es_request_finish_text),
    {.method = "GET",
     .path = "/api/tape/result",
     .run = run_result,
     .finish = es_request_finish_text},
};

const es_routes es_routes_of_tape = {routes, sizeof routes / sizeof *routes};
