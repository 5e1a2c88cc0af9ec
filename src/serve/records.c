/* Looking at the records: each request opens them, reads, and closes them, on the clerk's thread. */
#include "serve/answer.h"
#include "serve/inside.h"
#include "serve/jobs_json.h"
#include "serve/photo.h"

#include "live/ledger.h"
#include "json/ledger_json.h"
#include "json/trust_json.h"

#include <stdlib.h>
#include <string.h>

static es_status no_memory(es_error *error)
{
    return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
}

/* Whoever has no records yet has no decks, which is no error: *out is NULL then. */
static es_status open_to_look(const es_request *r, es_ledger **out, es_error *error)
{
    es_error why = {0};
    es_status status = es_ledger_open(r->serve->config.records, ES_LEDGER_READ, out, &why);
    if (status == ES_OK || strcmp(why.code, "no-records") == 0)
        return ES_OK;
    return es_fail(error, status, why.code, "%s", why.text);
}

static es_status solve(es_ledger *ledger, const char *deck, es_trust_robust robust,
                       es_trust_result **out, es_error *error)
{
    es_trust_asked asked = es_trust_asked_defaults();
    asked.deck = deck;
    asked.robust = robust;
    if (ledger)
        return es_ledger_solve(ledger, &asked, out, error);
    *out = calloc(1, sizeof **out);
    if (!*out)
        return no_memory(error);
    (*out)->level = asked.level;
    return ES_OK;
}

/* --- decks --------------------------------------------------------------------------------- */

static es_status write_decks(es_ledger *ledger, char **out, es_error *error)
{
    es_trust_result *trust = NULL;
    es_deck_record *decks = NULL;
    size_t count = 0;
    es_status status = solve(ledger, NULL, ES_TRUST_AS_STATED, &trust, error);
    if (status == ES_OK && ledger)
        status = es_ledger_decks(ledger, &decks, &count, error);
    if (status == ES_OK && es_decks_to_json(decks, count, trust, out) != ES_OK)
        status = no_memory(error);
    free(decks);
    es_trust_result_destroy(trust);
    return status;
}

static es_status keep_decks(es_request *r, es_error *error)
{
    es_ledger *ledger;
    es_status status = open_to_look(r, &ledger, error);
    if (status == ES_OK)
        status = write_decks(ledger, &r->text, error);
    es_ledger_close(ledger);
    return status;
}

/* Opens what is there; records that are not there yet know nothing by name. */
static es_status open_for(const es_request *r, es_ledger **out, es_error *error)
{
    es_status status = open_to_look(r, out, error);
    if (status != ES_OK || *out)
        return status;
    return es_fail(error, ES_ERR_INPUT, "unknown", "There are no records here yet.");
}

static es_status write_deck(es_ledger *ledger, const char *name, char **out, es_error *error)
{
    es_history *history = NULL;
    es_trust_result *trust = NULL;
    es_status status = es_ledger_history(ledger, name, &history, error);
    if (status == ES_OK)
        status = solve(ledger, NULL, ES_TRUST_AS_STATED, &trust, error);
    if (status == ES_OK && es_history_to_json(history, trust, out) != ES_OK)
        status = no_memory(error);
    es_trust_result_destroy(trust);
    es_history_destroy(history);
    return status;
}

static es_status keep_deck(es_request *r, es_error *error)
{
    es_ledger *ledger;
    es_status status = open_for(r, &ledger, error);
    if (status == ES_OK)
        status = write_deck(ledger, r->query[0], &r->text, error);
    es_ledger_close(ledger);
    return status;
}

static es_status keep_jobs(es_request *r, es_error *error)
{
    es_ledger *ledger;
    es_told_job *jobs = NULL;
    size_t count = 0;
    es_status status = open_to_look(r, &ledger, error);
    if (status == ES_OK && ledger)
        status = es_ledger_jobs(ledger, &jobs, &count, error);
    if (status == ES_OK && es_jobs_to_json(jobs, count, &r->text) != ES_OK)
        status = no_memory(error);
    free(jobs);
    es_ledger_close(ledger);
    return status;
}

/* The result of a reading, exactly as it was given out. */
static es_status keep_reading(es_request *r, es_error *error)
{
    es_ledger *ledger;
    char *end;
    long long id = strtoll(r->query[0], &end, 10);
    if (id <= 0 || *end)
        return es_fail(error, ES_ERR_ARG, "bad-number", "A reading is asked for by its number.");
    es_status status = open_for(r, &ledger, error);
    if (status == ES_OK)
        status = es_ledger_document(ledger, id, &r->text, error);
    es_ledger_close(ledger);
    return status;
}

/* --- trust --------------------------------------------------------------------------------- */

static es_status write_trust(es_ledger *ledger, es_trust_robust robust, char **out, es_error *error)
{
    es_trust_result *trust;
    es_status status = solve(ledger, NULL, robust, &trust, error);
    if (status == ES_OK && es_trust_to_json(trust, out) != ES_OK)
        status = no_memory(error);
    es_trust_result_destroy(trust);
    return status;
}

/* All of it, or all but what disagrees most: robust=remove. */
static es_status keep_trust(es_request *r, es_error *error)
{
    es_ledger *ledger;
    int remove = strcmp(r->query[0], "remove") == 0;
    if (r->query[0][0] && !remove)
        return es_fail(error, ES_ERR_ARG, "bad-value", "There is only robust=remove.");
    es_status status = open_to_look(r, &ledger, error);
    if (status == ES_OK)
        status =
            write_trust(ledger, remove ? ES_TRUST_REMOVE : ES_TRUST_AS_STATED, &r->text, error);
    es_ledger_close(ledger);
    return status;
}

static es_status write_next(es_ledger *ledger, const char *deck, char **out, es_error *error)
{
    es_trust_result *trust;
    es_status status = solve(ledger, deck, ES_TRUST_AS_STATED, &trust, error);
    if (status == ES_OK && es_next_to_json(trust, out) != ES_OK)
        status = no_memory(error);
    es_trust_result_destroy(trust);
    return status;
}

static es_status keep_next(es_request *r, es_error *error)
{
    es_ledger *ledger;
    es_status status = open_for(r, &ledger, error);
    if (status == ES_OK)
        status = write_next(ledger, r->query[0], &r->text, error);
    es_ledger_close(ledger);
    return status;
}

static es_status keep_tapes(es_request *r, es_error *error)
{
    es_ledger *ledger;
    es_tape_record *tapes = NULL;
    size_t count = 0;
    es_status status = open_to_look(r, &ledger, error);
    if (status == ES_OK && ledger)
        status = es_ledger_tapes(ledger, &tapes, &count, error);
    if (status == ES_OK && es_certificates_to_json(tapes, count, &r->text) != ES_OK)
        status = no_memory(error);
    free(tapes);
    es_ledger_close(ledger);
    return status;
}

/* --- anchors' forms ------------------------------------------------------------------------ */

static enum MHD_Result answer_forms(es_request *r)
{
    es_anchor_form forms[32];
    size_t count = 0;
    char *text;
    while (count < sizeof forms / sizeof *forms && es_ledger_anchor_form(count, &forms[count]))
        count++;
    es_anchor_forms_to_json(forms, count, &text);
    return es_answer_json(r->connection, MHD_HTTP_OK, text);
}

/* --- table --------------------------------------------------------------------------------- */

#define LOOK(path_, ...)                                                                           \
    {                                                                                              \
        .method = "GET", .path = (path_), .finish = es_request_finish_text, __VA_ARGS__            \
    }

static const es_route looks[] = {
    LOOK("/api/decks", .keep = keep_decks),
    LOOK("/api/deck", .keep = keep_deck, .query = {"name"}),
    LOOK("/api/jobs", .keep = keep_jobs),
    {.method = "GET",
     .path = "/api/photo",
     .keep = es_photo_load,
     .finish = es_photo_answer,
     .query = {"deck"}},
    LOOK("/api/reading", .keep = keep_reading, .query = {"id"}),
    LOOK("/api/trust", .keep = keep_trust, .query = {"robust"}),
    LOOK("/api/next", .keep = keep_next, .query = {"deck"}),
    LOOK("/api/tapes", .keep = keep_tapes),
    {.method = "GET", .path = "/api/forms", .answer = answer_forms},
};

const es_routes es_routes_of_records = {looks, sizeof looks / sizeof *looks};
