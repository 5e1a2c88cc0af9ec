/* What the page can ask for, and what it can have done. */
#include "serve/answer.h"
#include "serve/facts_json.h"
#include "serve/inside.h"
#include "serve/pairing.h"

#include "evenspool/base/text.h"
#include "live/geometry.h"
#include "live/rehearse.h"
#include "json/document.h"
#include "json/form.h"
#include "json/trim_json.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TURNS_MOST 5.0
#define SOUND_LEAST_DB -80.0
#define SOUND_MOST_DB -6.0

/* --- looking ------------------------------------------------------------------------------- */

static enum MHD_Result answer_bench(es_request *r)
{
    return es_answer_json(r->connection, MHD_HTTP_OK, es_feed_kept(r->serve->feed, ES_FEED_FACTS));
}

static es_status write_pairing(const es_serve *serve, es_json *json)
{
    es_json_part *root = es_json_root(json);
    es_json_text(json, root, "schema", "evenspool.pairing/1");
    es_json_truth(json, root, "lan", serve->guard.lan);
    if (!serve->guard.lan)
        return ES_OK;
    char *picture;
    es_status status = es_pairing_svg(serve->pairing_address, &picture);
    es_json_text(json, root, "address", serve->pairing_address);
    es_json_text(json, root, "picture", picture);
    free(picture);
    return status;
}

static enum MHD_Result answer_pairing(es_request *r)
{
    es_json *json;
    char *text = NULL;
    if (es_json_create(&json) == ES_OK && write_pairing(r->serve, json) == ES_OK)
        es_json_print(json, 0, &text);
    es_json_destroy(json);
    return es_answer_json(r->connection, MHD_HTTP_OK, text);
}

static void write_rehearsals(es_json *json)
{
    const char *about, *name;
    es_json_part *list = es_json_array(json, es_json_root(json), "rehearsals");
    for (size_t i = 0; (name = es_rehearse_name(i, &about)) != NULL; i++) {
        es_json_part *to = es_json_object(json, list, NULL);
        es_json_text(json, to, "name", name);
        es_json_text(json, to, "about", about);
    }
}

static void write_classes(es_json *json)
{
    const char *name;
    es_json_part *list = es_json_array(json, es_json_root(json), "classes");
    for (size_t i = 0; (name = es_class_of_machine(i)) != NULL; i++)
        es_json_text(json, list, NULL, name);
}

static void write_inputs(es_json *json, const es_serve_input *inputs, size_t count,
                         const es_error *error)
{
    es_json_part *list = es_json_array(json, es_json_root(json), "inputs");
    for (size_t i = 0; i < count; i++) {
        es_json_part *to = es_json_object(json, list, NULL);
        es_json_text(json, to, "name", inputs[i].name);
        es_json_text(json, to, "about", inputs[i].about);
    }
    es_json_text(json, es_json_root(json), "inputs_sentence", error->text[0] ? error->text : NULL);
}

/* Inputs that can't be listed are no reason not to offer the rest: the sentence goes along. */
static es_status run_sources(es_request *r, es_error *error)
{
    const es_serve_config *config = &r->serve->config;
    es_error trouble = {0};
    size_t count = 0;
    es_json *json;
    es_serve_input *inputs = calloc(ES_SERVE_INPUTS_MOST, sizeof *inputs);
    if (inputs && config->inputs &&
        config->inputs(config->who, inputs, ES_SERVE_INPUTS_MOST, &count, &trouble) != ES_OK)
        count = 0;
    es_status status = inputs ? es_json_create(&json) : ES_ERR_NOMEM;
    if (status == ES_OK) {
        es_json_text(json, es_json_root(json), "schema", "evenspool.sources/1");
        write_inputs(json, inputs, count, &trouble);
        write_rehearsals(json);
        write_classes(json);
        status = es_json_print(json, 0, &r->text);
        es_json_destroy(json);
    }
    free(inputs);
    return status == ES_OK ? ES_OK
                           : es_fail(error, status, "no-memory", "There is not enough memory.");
}

enum MHD_Result es_request_finish_text(es_request *r)
{
    char *text = r->text;
    r->text = NULL;
    return es_answer_json(r->connection, MHD_HTTP_OK, text);
}

/* --- session ------------------------------------------------------------------------------- */

/* The files of this computer are chosen at this computer, not from a phone. */
static es_status check_reach(const es_request *r, es_error *error)
{
    const char *source = r->session.source, *about, *name;
    int names_file = strncmp(source, "device:", 7) != 0;
    for (size_t i = 0; (name = es_rehearse_name(i, &about)) != NULL; i++)
        if (strncmp(source, "rehearse:", 9) == 0 && strcmp(source + 9, name) == 0)
            names_file = 0;
    names_file |= r->session.record_path[0] != '\0';
    if (!names_file || r->from_here)
        return ES_OK;
    return es_fail(error, ES_ERR_ARG, "not-from-afar",
                   "Files of the bench's computer can only be named at that computer.");
}

/* Numbers where 0 means "find it yourself", or that have a usual value, take null for that. */
static void read_number(es_form *form, const char *key, double usual, double *out, es_error *error)
{
    es_form_number(form, key, out, error);
    if (isnan(*out))
        *out = usual;
}

/* What is adjusted, and how near; the keys of the figures end with its unit, as in the documents. */
static void read_aim(es_form *form, es_session_config *s, es_error *error)
{
    char word[16] = "", target[32], tolerance[32];
    es_form_text(form, "adjust", word, sizeof word, error);
    if (word[0] && es_adjust_from_name(word, &s->adjust) != ES_OK)
        es_fail(error, ES_ERR_ARG, "bad-adjust",
                "What can be adjusted is speed, azimuth, level and balance.");
    es_text a = es_text_over(target, sizeof target), b = es_text_over(tolerance, sizeof tolerance);
    es_text_add(&a, "target_%s", es_adjust_suffix(s->adjust));
    es_text_add(&b, "tolerance_%s", es_adjust_suffix(s->adjust));
    read_number(form, target, 0.0, &s->target_percent, error);
    read_number(form, tolerance, es_adjust_facts_of(s->adjust)->tolerance, &s->tolerance_percent,
                error);
    es_form_number(form, "reference_dbfs", &s->reference_dbfs, error);
}

static es_status read_session_form(es_request *r, es_form *form, es_error *error)
{
    es_session_config *s = &r->session;
    double channel = 0.0;
    es_form_text(form, "source", s->source, sizeof s->source, error);
    read_number(form, "tone_hz", s->nominal_hz, &s->nominal_hz, error);
    read_number(form, "channel", channel, &channel, error);
    es_form_number(form, "tape_error_percent", &s->tape_error_percent, error);
    es_form_number(form, "tape_u95_percent", &s->tape_u95_percent, error);
    es_form_number(form, "clock_ppm", &s->clock_ppm, error);
    read_aim(form, s, error);
    es_form_text(form, "class", s->transport, sizeof s->transport, error);
    es_form_text(form, "record", s->record_path, sizeof s->record_path, error);
    es_form_text(form, "deck", r->visit.deck, sizeof r->visit.deck, error);
    es_form_text(form, "tape", r->visit.tape, sizeof r->visit.tape, error);
    es_form_end(form, error);
    if (!(channel >= 0.0 && channel <= 64.0 && channel == floor(channel)))
        return es_fail(error, ES_ERR_ARG, "no-channel",
                       "A channel is a whole number from 1, or 0 for the better one.");
    s->channel = (int)channel;
    if (!s->source[0])
        return es_fail(error, ES_ERR_ARG, "no-source", "Say what to listen to.");
    return error->status;
}

static es_status read_session(es_request *r, es_error *error)
{
    es_form *form;
    r->session = es_session_defaults();
    es_status status = es_form_read(r->body, r->length, &form, error);
    if (status == ES_OK)
        status = read_session_form(r, form, error);
    es_form_destroy(form);
    return status == ES_OK ? check_reach(r, error) : status;
}

static es_status run_session(es_request *r, es_error *error)
{
    if (es_tape_bench_listens(r->serve->tape))
        return es_fail(error, ES_ERR_ARG, "tape-listens",
                       "The test tape is being read; stop that first.");
    return es_bench_start(r->serve->bench, &r->session, &r->visit, error);
}

static es_status run_record(es_request *r, es_error *error)
{
    return es_bench_record(r->serve->bench, &r->text, error);
}

static es_status run_stop(es_request *r, es_error *error)
{
    (void)error;
    es_bench_stop(r->serve->bench);
    return ES_OK;
}

static es_status run_clear(es_request *r, es_error *error)
{
    (void)error;
    es_bench_clear(r->serve->bench);
    return ES_OK;
}

/* --- trimmer and sound --------------------------------------------------------------------- */

static es_status read_turn(es_request *r, es_error *error)
{
    es_form *form;
    r->turns = (double)NAN;
    if (es_form_read(r->body, r->length, &form, error) == ES_OK) {
        es_form_number(form, "turns", &r->turns, error);
        es_form_end(form, error);
    }
    es_form_destroy(form);
    if (error->status == ES_OK && !(fabs(r->turns) <= TURNS_MOST))
        es_fail(error, ES_ERR_ARG, "bad-turns", "Turn by -%g to %g turns at a time.", TURNS_MOST,
                TURNS_MOST);
    return error->status;
}

static es_status run_turn(es_request *r, es_error *error)
{
    return es_bench_turn(r->serve->bench, r->turns, error);
}

static es_status read_sound(es_request *r, es_error *error)
{
    es_form *form;
    char word[32] = "";
    r->level_db = -20.0;
    if (es_form_read(r->body, r->length, &form, error) == ES_OK) {
        es_form_text(form, "kind", word, sizeof word, error);
        es_form_number(form, "level_db", &r->level_db, error);
        es_form_text(form, "output", r->output, sizeof r->output, error);
        es_form_end(form, error);
    }
    es_form_destroy(form);
    r->sound = es_sound_kind_of(word);
    if (error->status == ES_OK && r->sound < 0)
        es_fail(error, ES_ERR_ARG, "bad-sound", "The sounds are none, reference, beat and guide.");
    if (error->status == ES_OK && !(r->level_db >= SOUND_LEAST_DB && r->level_db <= SOUND_MOST_DB))
        es_fail(error, ES_ERR_ARG, "bad-level", "The level of the sound is from %g to %g dB.",
                SOUND_LEAST_DB, SOUND_MOST_DB);
    return error->status;
}

static es_status run_sound(es_request *r, es_error *error)
{
    return es_bench_sound(r->serve->bench, r->sound, r->level_db, r->output, error);
}

/* --- table --------------------------------------------------------------------------------- */

static const es_route routes[] = {
    {.method = "GET", .path = "/api/stream", .answer = es_stream_answer},
    {.method = "GET", .path = "/api/bench", .answer = answer_bench},
    {.method = "GET", .path = "/api/pairing", .answer = answer_pairing},
    {.method = "GET", .path = "/api/sources", .run = run_sources, .finish = es_request_finish_text},
    {.method = "GET", .path = "/api/record", .run = run_record, .finish = es_request_finish_text},
    {.method = "POST", .path = "/api/session", .read = read_session, .run = run_session},
    {.method = "POST", .path = "/api/stop", .read = es_request_read_nothing, .run = run_stop},
    {.method = "POST", .path = "/api/clear", .read = es_request_read_nothing, .run = run_clear},
    {.method = "POST", .path = "/api/turn", .read = read_turn, .run = run_turn},
    {.method = "POST", .path = "/api/sound", .read = read_sound, .run = run_sound},
};

const es_route *es_route_find(const char *method, const char *path, const char **allowed)
{
    const es_routes tables[] = {{routes, sizeof routes / sizeof *routes},
                                es_routes_of_records,
                                es_routes_of_changes,
                                es_routes_of_entries,
                                es_routes_of_tape};
    *allowed = NULL;
    for (size_t t = 0; t < sizeof tables / sizeof *tables; t++)
        for (size_t i = 0; i < tables[t].count; i++) {
            const es_route *route = &tables[t].at[i];
            if (strcmp(path, route->path) != 0)
                continue;
            if (strcmp(method, route->method) == 0)
                return route;
            *allowed = route->method;
        }
    return NULL;
}
