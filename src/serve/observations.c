/* Entering plays, anchors and jobs: a form each; the records are opened, changed and closed again on
 * the clerk's thread. */
#include "serve/changes.h"
#include "serve/record_form.h"

#include "live/ledger.h"
#include "json/document.h"
#include "json/ledger_json.h"
#include "json/session_json.h"

#include <math.h>
#include <stdlib.h>

/* --- plays --------------------------------------------------------------------------------- */

typedef struct play_form {
    char recorded_on[ES_NAME_ROOM], played_on[ES_NAME_ROOM], tape[ES_NAME_ROOM];
    char recorded_at[ES_TIME_ROOM], played_at[ES_TIME_ROOM], note[ES_LINE_ROOM];
    double u95_percent;
    es_play_entry entry;
} play_form;

static es_status read_play(es_form *form, play_form *f, es_error *error)
{
    es_form_text(form, "recorded_on", f->recorded_on, sizeof f->recorded_on, error);
    es_form_whole(form, "recorded_on_epoch", &f->entry.recorded_epoch, error);
    es_form_text(form, "played_on", f->played_on, sizeof f->played_on, error);
    es_form_whole(form, "played_on_epoch", &f->entry.played_epoch, error);
    es_form_text(form, "tape", f->tape, sizeof f->tape, error);
    es_form_text(form, "recorded_at", f->recorded_at, sizeof f->recorded_at, error);
    es_form_text(form, "played_at", f->played_at, sizeof f->played_at, error);
    es_form_text(form, "note", f->note, sizeof f->note, error);
    es_form_number(form, "heard_percent", &f->entry.heard_percent, error);
    es_form_number(form, "u95_percent", &f->u95_percent, error);
    es_form_end(form, error);
    f->entry.recorded_on = es_text_or_null(f->recorded_on);
    f->entry.played_on = f->played_on;
    f->entry.tape = es_text_or_null(f->tape);
    f->entry.recorded_at = es_text_or_null(f->recorded_at);
    f->entry.played_at = es_text_or_null(f->played_at);
    f->entry.note = es_text_or_null(f->note);
    f->entry.u_percent = es_ledger_u_of(f->u95_percent);
    return error->status;
}

static es_status tell_play(es_request *r, const es_play_entry *entry, int64_t id,
                           const char *same_deck, es_error *error)
{
    es_json *json;
    if (es_json_begin("evenspool.play/1", &json) != ES_OK)
        return es_could_not_say(error);
    es_json_part *root = es_json_root(json);
    es_json_count(json, root, "id", id);
    es_json_number(json, root, "heard_percent", entry->heard_percent);
    es_json_number(json, root, "u_percent", entry->u_percent);
    es_json_truth(json, root, "same_deck", same_deck != NULL);
    es_json_text(json, root, "text", same_deck);
    return es_json_end(json, 0, &r->text) == ES_OK ? ES_OK : es_could_not_say(error);
}

static es_status keep_play(es_request *r, es_error *error)
{
    es_ledger *ledger;
    int64_t id;
    const char *same_deck;
    play_form f = {.entry = es_ledger_blank_play(), .u95_percent = (double)NAN};
    es_status status = read_play(r->form, &f, error);
    if (status == ES_OK && !(f.u95_percent > 0.0))
        status = es_fail(error, ES_ERR_ARG, "bad-uncertainty",
                         "What was heard needs an uncertainty above zero.");
    if (status == ES_OK)
        status = es_open_to_change(r, ES_LEDGER_WRITE, &ledger, error);
    if (status != ES_OK)
        return status;
    status = es_ledger_add_play(ledger, &f.entry, &id, &same_deck, error);
    es_ledger_close(ledger);
    return status == ES_OK ? tell_play(r, &f.entry, id, same_deck, error) : status;
}

typedef es_status (*remove_numbered)(es_ledger *, int64_t, es_error *);

static es_status remove_by_number(es_request *r, remove_numbered remove, es_error *error)
{
    es_ledger *ledger;
    int64_t id = 0;
    es_form_whole(r->form, "id", &id, error);
    es_form_end(r->form, error);
    if (error->status != ES_OK || es_open_to_change(r, ES_LEDGER_WRITE, &ledger, error) != ES_OK)
        return error->status;
    es_status status = remove(ledger, id, error);
    es_ledger_close(ledger);
    return status;
}

static es_status keep_no_play(es_request *r, es_error *error)
{
    return remove_by_number(r, es_ledger_remove_play, error);
}

/* --- anchors ------------------------------------------------------------------------------- */

static es_status keep_no_anchor(es_request *r, es_error *error)
{
    return remove_by_number(r, es_ledger_remove_anchor, error);
}

/* The method's questions by their keys; what is not there, or null, is left open. */
static es_status read_answers(es_form *form, char method[ES_KEY_ROOM], es_anchor_entry *entry,
                              es_error *error)
{
    es_anchor_form about;
    es_form_text(form, "method", method, ES_KEY_ROOM, error);
    if (error->status != ES_OK || es_ledger_anchor_form_named(method, &about, error) != ES_OK)
        return error->status;
    *entry = es_ledger_blank_anchor();
    entry->method = method;
    for (size_t i = 0; i < about.question_count; i++) {
        double value = (double)NAN;
        es_form_number(form, about.questions[i].key, &value, error);
        if (isnan(value))
            continue;
        entry->keys[entry->answer_count] = about.questions[i].key;
        entry->values[entry->answer_count++] = value;
    }
    return error->status;
}

/* Needs no records, but no session waits for it either. */
static es_status reckon_anchor(es_request *r, es_error *error)
{
    char method[ES_KEY_ROOM] = "";
    es_anchor_entry entry;
    es_anchor_outcome outcome;
    es_status status = read_answers(r->form, method, &entry, error);
    if (status == ES_OK)
        status = es_form_end(r->form, error);
    if (status == ES_OK)
        status = es_ledger_reckon_anchor(&entry, &outcome, error);
    if (status == ES_OK && es_anchor_to_json(&outcome, &r->text) != ES_OK)
        status = es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    return status;
}

static es_status keep_anchor(es_request *r, es_error *error)
{
    es_ledger *ledger;
    char method[ES_KEY_ROOM] = "", deck[ES_NAME_ROOM] = "", made_at[ES_TIME_ROOM] = "";
    char note[ES_LINE_ROOM] = "";
    int64_t epoch = 0;
    es_anchor_entry entry;
    es_anchor_outcome outcome;
    if (read_answers(r->form, method, &entry, error) != ES_OK)
        return error->status;
    es_form_text(r->form, "deck", deck, sizeof deck, error);
    es_form_whole(r->form, "epoch_number", &epoch, error);
    es_form_text(r->form, "made_at", made_at, sizeof made_at, error);
    es_form_text(r->form, "note", note, sizeof note, error);
    es_form_end(r->form, error);
    if (error->status != ES_OK || es_open_to_change(r, ES_LEDGER_WRITE, &ledger, error) != ES_OK)
        return error->status;
    es_status status =
        es_ledger_add_anchor(ledger, &entry, deck, epoch, made_at, note, &outcome, error);
    es_ledger_close(ledger);
    if (status == ES_OK && es_anchor_to_json(&outcome, &r->text) != ES_OK)
        status = es_could_not_say(error);
    return status;
}

/* --- the coach's job ----------------------------------------------------------------------- */

/* On the hands' thread, who have the session. */
static es_status take_job(es_request *r, es_error *error)
{
    return es_bench_take_job(r->serve->bench, &r->job, error);
}

/* The reading as found, and the whole session as what was left. */
static es_status write_documents(const es_bench_job *job, es_job_entry *entry, char **found,
                                 char **left, es_error *error)
{
    es_adjust adjust = job->record.adjust;
    es_status status = es_trim_reading_to_json(adjust, &job->record.as_found, "as-found", found);
    if (status == ES_OK)
        status = es_session_to_json(&job->record, 1, left);
    entry->found_schema = es_trim_reading_schema(adjust);
    entry->found_document = *found;
    entry->left_schema = es_session_schema(adjust);
    entry->left_document = *left;
    return status == ES_OK
               ? ES_OK
               : es_fail(error, status, "no-memory", "There is not enough memory to keep the job.");
}

static es_status keep_session(es_request *r, const char *asked, int64_t *id, es_error *error)
{
    es_ledger *ledger;
    char *found = NULL, *left = NULL;
    es_job_entry entry = {.deck = r->visit.deck,
                          .tape = es_text_or_null(r->visit.tape),
                          .opened_at = r->job->opened_at,
                          .closed_at = r->job->closed_at,
                          .asked = es_text_or_null(asked),
                          .session = &r->job->record};
    es_status status = write_documents(r->job, &entry, &found, &left, error);
    if (status == ES_OK)
        status = es_open_to_change(r, ES_LEDGER_WRITE, &ledger, error);
    if (status == ES_OK) {
        status = es_ledger_keep_job(ledger, &entry, id, error);
        es_ledger_close(ledger);
    }
    free(found);
    free(left);
    return status;
}

static es_status check_session(const es_trim_session *session, es_error *error)
{
    if (isnan(session->as_left.error_percent) && session->nudge_count == 0)
        return es_fail(error, ES_ERR_ARG, "nothing-to-keep",
                       "Nothing came of this session: no reading, and no turn.");
    return ES_OK;
}

static es_status keep_job_with(es_request *r, int64_t *id, es_error *error)
{
    char asked[ES_LINE_ROOM] = "";
    es_form_text(r->form, "deck", r->visit.deck, sizeof r->visit.deck, error);
    es_form_text(r->form, "tape", r->visit.tape, sizeof r->visit.tape, error);
    es_form_text(r->form, "asked", asked, sizeof asked, error);
    es_form_end(r->form, error);
    if (error->status != ES_OK || check_session(&r->job->record, error) != ES_OK)
        return error->status;
    return keep_session(r, asked, id, error);
}

static es_status tell_job(es_request *r, int64_t id, es_error *error)
{
    es_json *json;
    if (es_json_begin("evenspool.job/1", &json) != ES_OK)
        return es_could_not_say(error);
    es_json_count(json, es_json_root(json), "id", id);
    es_json_text(json, es_json_root(json), "deck", r->visit.deck);
    return es_json_end(json, 0, &r->text) == ES_OK ? ES_OK : es_could_not_say(error);
}

static es_status keep_job(es_request *r, es_error *error)
{
    int64_t id = 0;
    es_status status = keep_job_with(r, &id, error);
    es_bench_kept(r->serve->bench, r->job, status == ES_OK ? id : 0);
    return status == ES_OK ? tell_job(r, id, error) : status;
}

static es_status keep_remark(es_request *r, es_error *error)
{
    es_ledger *ledger;
    char deck[ES_NAME_ROOM] = "", text[ES_PROSE_ROOM] = "";
    int64_t job = 0;
    es_form_text(r->form, "deck", deck, sizeof deck, error);
    es_form_text(r->form, "text", text, sizeof text, error);
    es_form_whole(r->form, "job", &job, error);
    es_form_end(r->form, error);
    if (error->status != ES_OK || es_open_to_change(r, ES_LEDGER_WRITE, &ledger, error) != ES_OK)
        return error->status;
    es_status status = es_ledger_add_remark(ledger, deck, job, text, error);
    es_ledger_close(ledger);
    return status;
}

/* --- table --------------------------------------------------------------------------------- */

static const es_route entries[] = {
    ES_CHANGE("/api/plays/add", .keep = keep_play, .finish = es_request_finish_text),
    ES_CHANGE("/api/plays/remove", .keep = keep_no_play),
    ES_CHANGE("/api/anchors/reckon", .keep = reckon_anchor, .finish = es_request_finish_text),
    ES_CHANGE("/api/anchors/add", .keep = keep_anchor, .finish = es_request_finish_text),
    ES_CHANGE("/api/anchors/remove", .keep = keep_no_anchor),
    ES_CHANGE("/api/jobs/remark", .keep = keep_remark),
    ES_CHANGE("/api/jobs/keep", .run = take_job, .keep = keep_job,
              .finish = es_request_finish_text),
};

const es_routes es_routes_of_entries = {entries, sizeof entries / sizeof *entries};
