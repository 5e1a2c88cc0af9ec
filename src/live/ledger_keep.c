#include "live/ledger_inside.h"

#include "evenspool/base/record_figures.h"
#include "evenspool/base/record_kinds.h"
#include "evenspool/base/text.h"
#include "store/capture_hash.h"
#include "store/decks.h"
#include "store/jobs.h"
#include "store/readings.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* --- readings ------------------------------------------------------------------------------------ */

/* A stream can't be read twice; what was measured from it has no hash. */
static es_status take_capture(const char *capture, es_reading_record *r, es_error *error)
{
    if (!capture || strcmp(capture, "-") == 0)
        return ES_OK;
    es_status status =
        es_ledger_text("capture's path", capture, r->capture, sizeof r->capture, error);
    return status == ES_OK ? es_capture_hash_file(capture, r->capture_sha256, error) : status;
}

static es_status compose(es_ledger *l, const es_reading_entry *entry, es_reading_record *r,
                         es_error *error)
{
    es_epoch_record epoch;
    es_tape_record tape = {0};
    char now[ES_TIME_ROOM];
    es_ledger_now(now);
    es_record_blank(ES_RECORD_READING, r);
    es_status status =
        es_ledger_epoch_of(l, entry->deck, entry->epoch, entry->taken_at, &epoch, error);
    if (status == ES_OK && entry->tape)
        status = es_ledger_tape_named(l, entry->tape, &tape, error);
    if (status == ES_OK)
        status = es_ledger_time(entry->taken_at, now, r->taken_at, error);
    if (status == ES_OK)
        status = es_ledger_text("schema", entry->schema, r->schema, sizeof r->schema, error);
    if (status == ES_OK)
        status = take_capture(entry->capture, r, error);
    if (status != ES_OK)
        return status;
    r->deck = epoch.deck;
    r->epoch = epoch.id;
    r->tape = tape.id;
    r->error_percent = entry->error_percent;
    r->u95_percent = entry->u95_percent;
    r->weighted_quasi_peak_percent = entry->weighted_quasi_peak_percent;
    r->document = entry->document;
    return ES_OK;
}

es_status es_ledger_keep_reading(es_ledger *l, const es_reading_entry *entry, int64_t *id,
                                 es_error *error)
{
    es_reading_record reading;
    if (id)
        *id = 0;
    es_status status = compose(l, entry, &reading, error);
    return status == ES_OK ? es_store_add_reading(l->store, &reading, id, error) : status;
}

/* --- jobs ---------------------------------------------------------------------------------------- */

/* A job on its way into the records. */
typedef struct keeping {
    es_ledger *ledger;
    const es_job_entry *entry;
    es_deck_record deck;
    es_tape_record tape;
    es_job_record job;
} keeping;

static es_status open_job(keeping *k, es_error *error)
{
    const es_job_entry *entry = k->entry;
    es_job_record *job = &k->job;
    char now[ES_TIME_ROOM];
    es_ledger_now(now);
    es_record_blank(ES_RECORD_JOB, job);
    es_status status = es_ledger_deck(k->ledger, entry->deck, &k->deck, error);
    if (status == ES_OK && entry->tape)
        status = es_ledger_tape_named(k->ledger, entry->tape, &k->tape, error);
    if (status == ES_OK)
        status = es_ledger_time(entry->opened_at, now, job->opened_at, error);
    if (status == ES_OK)
        status = es_ledger_time(entry->closed_at, now, job->closed_at, error);
    if (status == ES_OK)
        status = es_ledger_text("order", entry->asked, job->asked, sizeof job->asked, error);
    if (status == ES_OK)
        status =
            es_ledger_text("adjusted quantity", es_adjust_facts_of(entry->session->adjust)->name,
                           job->adjust, sizeof job->adjust, error);
    job->deck = k->deck.id;
    return status == ES_OK ? es_store_add_job(k->ledger->store, job, &job->id, error) : status;
}

static es_status keep_figure(keeping *k, const es_trim_reading *from, const char *at,
                             const char *schema, const char *document, int64_t *id, es_error *error)
{
    es_reading_record r;
    if (isnan(from->error_percent) || !document)
        return ES_OK;
    es_record_blank(ES_RECORD_READING, &r);
    memcpy(r.taken_at, at, sizeof r.taken_at);
    r.deck = k->deck.id;
    r.job = k->job.id;
    r.tape = k->tape.id;
    *es_reading_error(&r, k->entry->session->adjust) = from->error_percent;
    *es_reading_u95(&r, k->entry->session->adjust) = from->u95_percent;
    r.document = document;
    es_status status = es_ledger_text("schema", schema, r.schema, sizeof r.schema, error);
    return status == ES_OK ? es_store_add_reading(k->ledger->store, &r, id, error) : status;
}

static es_status keep_nudges(keeping *k, es_error *error)
{
    const es_trim_session *s = k->entry->session;
    es_nudge_record nudges[ES_NUDGES_MOST];
    size_t count = s->nudge_count < ES_NUDGES_MOST ? s->nudge_count : ES_NUDGES_MOST;
    for (size_t i = 0; i < count; i++) {
        es_record_blank(ES_RECORD_NUDGE, &nudges[i]);
        nudges[i].time_s = s->nudges[i].time_s;
        *es_nudge_size(&nudges[i], s->adjust) = s->nudges[i].size_percent;
        nudges[i].overshoot = s->nudges[i].overshoot;
    }
    return es_store_add_nudges(k->ledger->store, k->job.id, nudges, count, error);
}

/* A turn of the speed makes the deck a new unknown; no other does. */
static es_status begin_epoch(keeping *k, es_error *error)
{
    if (k->entry->session->adjust != ES_ADJUST_SPEED)
        return ES_OK;
    char why[64];
    es_text text = es_text_over(why, sizeof why);
    size_t nudges = k->entry->session->nudge_count;
    es_text_add(&text, "trimmed with the coach, %zu turn%s", nudges, nudges == 1 ? "" : "s");
    return es_ledger_adjusted(k->ledger, k->deck.name, k->job.closed_at, why, error);
}

/*
 * What was found belongs to the deck as it came, what was left to the deck as it goes. Where nothing was
 * turned both are one.
 */
static es_status keep_parts(keeping *k, es_error *error)
{
    const es_trim_session *s = k->entry->session;
    es_status status = ES_OK;
    if (s->nudge_count > 0)
        status = keep_figure(k, &s->as_found, k->job.opened_at, k->entry->found_schema,
                             k->entry->found_document, &k->job.as_found, error);
    if (status == ES_OK)
        status = keep_nudges(k, error);
    if (status == ES_OK && s->nudge_count > 0)
        status = begin_epoch(k, error);
    if (status == ES_OK)
        status = keep_figure(k, &s->as_left, k->job.closed_at, k->entry->left_schema,
                             k->entry->left_document, &k->job.as_left, error);
    if (s->nudge_count == 0)
        k->job.as_found = k->job.as_left;
    return status == ES_OK ? es_store_edit_job(k->ledger->store, &k->job, error) : status;
}

es_status es_ledger_keep_job(es_ledger *l, const es_job_entry *entry, int64_t *id, es_error *error)
{
    keeping k = {.ledger = l, .entry = entry};
    if (id)
        *id = 0;
    es_status status = es_ledger_begin(l, error);
    if (status != ES_OK)
        return status;
    status = open_job(&k, error);
    if (status == ES_OK)
        status = keep_parts(&k, error);
    status = es_ledger_end(l, status, error);
    if (id && status == ES_OK)
        *id = k.job.id;
    return status;
}

/* --- remarks --------------------------------------------------------------------------------- */

/* The number of a job of the deck; 0 becomes its last. */
static es_status find_job(es_ledger *l, const char *deck, int64_t *number, es_error *error)
{
    es_deck_record d;
    es_job_record *jobs = NULL;
    size_t count = 0;
    int64_t found = 0;
    es_status status = es_ledger_deck(l, deck, &d, error);
    if (status == ES_OK)
        status = es_store_list_jobs(l->store, d.id, &jobs, &count, error);
    for (size_t i = 0; i < count; i++)
        if (*number == 0 || jobs[i].id == *number)
            found = jobs[i].id;
    free(jobs);
    if (status == ES_OK && found == 0 && *number == 0)
        return es_fail(
            error, ES_ERR_INPUT, "unknown",
            "No job with \"%.120s\" is kept; the coach begins one (evenspool trim --deck).",
            d.name);
    if (status == ES_OK && found == 0)
        return es_fail(error, ES_ERR_INPUT, "unknown",
                       "\"%.120s\" has no job %lld; evenspool deck show lists its jobs.", d.name,
                       (long long)*number);
    *number = found;
    return status;
}

es_status es_ledger_add_remark(es_ledger *l, const char *deck, int64_t job, const char *text,
                               es_error *error)
{
    es_remark_record remark;
    es_record_blank(ES_RECORD_REMARK, &remark);
    es_status status = find_job(l, deck, &job, error);
    remark.job = job;
    es_ledger_now(remark.made_at);
    if (status == ES_OK)
        status = es_ledger_text("remark", text, remark.text, sizeof remark.text, error);
    return status == ES_OK ? es_store_add_remark(l->store, &remark, NULL, error) : status;
}
