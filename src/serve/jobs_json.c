#include "serve/jobs_json.h"

#include "json/ledger_json.h"

#include <stdlib.h>

static void write_figure(es_json *json, es_json_part *into, const char *key, const es_history *h,
                         int64_t reading)
{
    for (size_t i = 0; i < h->reading_count && reading; i++)
        if (h->readings[i].id == reading) {
            es_json_part *to = es_json_object(json, into, key);
            es_json_number(json, to, "error_percent", h->readings[i].error_percent);
            es_json_number(json, to, "u95_percent", h->readings[i].u95_percent);
            return;
        }
    es_json_null(json, into, key);
}

static void write_job(es_json *json, es_json_part *list, const es_history *h,
                      const es_job_record *job)
{
    int64_t nudges = 0;
    for (size_t i = 0; i < h->nudge_count; i++)
        nudges += h->nudges[i].job == job->id;
    es_json_part *to = es_json_object(json, list, NULL);
    es_json_text(json, to, "deck_name", h->deck.name);
    es_record_to_json(json, to, ES_RECORD_JOB, job);
    es_json_count(json, to, "nudge_count", nudges);
    write_figure(json, to, "found", h, job->as_found);
    write_figure(json, to, "left", h, job->as_left);
}

static es_status write_jobs_of(es_ledger *ledger, const char *deck, es_json *json,
                               es_json_part *list, es_error *error)
{
    es_history *history;
    es_status status = es_ledger_history(ledger, deck, &history, error);
    if (status != ES_OK)
        return status;
    for (size_t i = 0; i < history->job_count; i++)
        write_job(json, list, history, &history->jobs[i]);
    es_history_destroy(history);
    return ES_OK;
}

es_status es_jobs_to_json(es_ledger *ledger, char **out, es_error *error)
{
    es_json *json;
    es_deck_record *decks = NULL;
    size_t count = 0;
    *out = NULL;
    es_status status = ledger ? es_ledger_decks(ledger, &decks, &count, error) : ES_OK;
    if (status != ES_OK)
        return status;
    if (es_json_begin("evenspool.jobs/1", &json) != ES_OK) {
        free(decks);
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    }
    es_json_part *list = es_json_array(json, es_json_root(json), "jobs");
    for (size_t i = 0; i < count && status == ES_OK; i++)
        status = write_jobs_of(ledger, decks[i].name, json, list, error);
    free(decks);
    es_status printed = es_json_end(json, 0, out);
    if (status == ES_OK && printed != ES_OK)
        status = es_fail(error, printed, "no-memory", "There is not enough memory.");
    if (status != ES_OK) {
        free(*out);
        *out = NULL;
    }
    return status;
}
