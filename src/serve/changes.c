/* Changing decks and tapes: a form each; the records are opened, changed and closed again on the
 * clerk's thread. */
#include "serve/changes.h"
#include "serve/record_form.h"

#include "live/ledger.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* --- decks --------------------------------------------------------------------------------- */

/* A picture is named by a path of this computer: not from a phone, and with all its folders. */
static es_status check_photo(const es_request *r, es_deck_record *deck, es_error *error)
{
    if (!es_form_has(r->form, "photo") || !deck->photo[0])
        return ES_OK;
    if (!r->from_here)
        return es_fail(error, ES_ERR_ARG, "not-from-afar",
                       "Files of the bench's computer can only be named at that computer.");
    char *whole = realpath(deck->photo, NULL);
    es_status status = ES_OK;
    if (!whole)
        status = es_fail(error, ES_ERR_INPUT, "no-photo",
                         "There is no picture at %.200s; name a file that is there.", deck->photo);
    else if (strlen(whole) >= sizeof deck->photo)
        status = es_fail(error, ES_ERR_INPUT, "too-long", "The picture's path is too long.");
    else
        memcpy(deck->photo, whole, strlen(whole) + 1);
    free(whole);
    return status;
}

static es_status read_deck(es_request *r, es_deck_record *deck, es_error *error)
{
    es_form_record(r->form, ES_RECORD_DECK, NULL, deck, error);
    es_form_end(r->form, error);
    return error->status == ES_OK ? check_photo(r, deck, error) : error->status;
}

static es_status keep_new_deck(es_request *r, es_error *error)
{
    es_ledger *ledger;
    es_deck_record deck = es_ledger_blank_deck();
    char began[ES_TIME_ROOM] = "";
    es_form_text(r->form, "began", began, sizeof began, error);
    es_status status = read_deck(r, &deck, error);
    if (status == ES_OK)
        status = es_open_to_change(r, ES_LEDGER_CREATE, &ledger, error);
    if (status != ES_OK)
        return status;
    status = es_ledger_add_deck(ledger, &deck, es_text_or_null(began), error);
    es_ledger_close(ledger);
    return status;
}

/* What the form leaves out stays as it was. */
static es_status keep_deck(es_request *r, es_error *error)
{
    es_ledger *ledger;
    es_deck_record deck;
    char name[ES_NAME_ROOM] = "";
    es_form_text(r->form, "deck", name, sizeof name, error);
    es_status status = es_open_to_change(r, ES_LEDGER_WRITE, &ledger, error);
    if (status != ES_OK)
        return status;
    status = error->status == ES_OK ? es_ledger_deck(ledger, name, &deck, error) : error->status;
    if (status == ES_OK)
        status = read_deck(r, &deck, error);
    if (status == ES_OK)
        status = es_ledger_edit_deck(ledger, &deck, error);
    es_ledger_close(ledger);
    return status;
}

static es_status keep_adjustment(es_request *r, es_error *error)
{
    es_ledger *ledger;
    char name[ES_NAME_ROOM] = "", when[ES_TIME_ROOM] = "", why[ES_LINE_ROOM] = "";
    es_form_text(r->form, "deck", name, sizeof name, error);
    es_form_text(r->form, "when", when, sizeof when, error);
    es_form_text(r->form, "why", why, sizeof why, error);
    es_form_end(r->form, error);
    if (error->status != ES_OK || es_open_to_change(r, ES_LEDGER_WRITE, &ledger, error) != ES_OK)
        return error->status;
    es_status status = es_ledger_adjusted(ledger, name, when, why, error);
    es_ledger_close(ledger);
    return status;
}

static es_status keep_drift(es_request *r, es_error *error)
{
    es_ledger *ledger;
    char name[ES_NAME_ROOM] = "";
    double walk_percent = (double)NAN;
    es_form_text(r->form, "deck", name, sizeof name, error);
    es_form_number(r->form, "walk_percent", &walk_percent, error);
    es_form_end(r->form, error);
    if (error->status != ES_OK || es_open_to_change(r, ES_LEDGER_WRITE, &ledger, error) != ES_OK)
        return error->status;
    es_status status = es_ledger_set_drift(ledger, name, walk_percent, error);
    es_ledger_close(ledger);
    return status;
}

/* with_history is 1 for somebody who was told what goes along. */
typedef es_status (*remove_named)(es_ledger *, const char *, int, es_error *);

static es_status remove_by_name(es_request *r, const char *key, remove_named remove,
                                es_error *error)
{
    es_ledger *ledger;
    char name[ES_NAME_ROOM] = "";
    int with_history = 0;
    es_form_text(r->form, key, name, sizeof name, error);
    es_form_truth(r->form, "with_history", &with_history, error);
    es_form_end(r->form, error);
    if (error->status != ES_OK || es_open_to_change(r, ES_LEDGER_WRITE, &ledger, error) != ES_OK)
        return error->status;
    es_status status = remove(ledger, name, with_history, error);
    es_ledger_close(ledger);
    return status;
}

static es_status keep_no_deck(es_request *r, es_error *error)
{
    return remove_by_name(r, "deck", es_ledger_remove_deck, error);
}

/* --- tapes --------------------------------------------------------------------------------- */

static es_status keep_no_tape(es_request *r, es_error *error)
{
    return remove_by_name(r, "tape", es_ledger_remove_tape, error);
}

/* A tape's form, with what only a home-made one has. */
typedef struct tape_form {
    es_tape_record tape;
    char deck[ES_NAME_ROOM], at[ES_TIME_ROOM];
    es_recording recording;
} tape_form;

static es_status read_tape(es_request *r, tape_form *f, es_error *error)
{
    static const char *const leave[] = {"recorded_at",      "certificate_u_percent",
                                        "certificate_dof",  "certificate_at",
                                        "certificate_path", NULL};
    es_form_record(r->form, ES_RECORD_TAPE, leave, &f->tape, error);
    es_form_text(r->form, "recorded_on", f->deck, sizeof f->deck, error);
    es_form_whole(r->form, "recorded_on_epoch", &f->recording.epoch, error);
    es_form_text(r->form, "recorded_at", f->at, sizeof f->at, error);
    es_form_end(r->form, error);
    f->recording.deck = es_text_or_null(f->deck);
    f->recording.at = es_text_or_null(f->at);
    return error->status;
}

static es_status keep_new_tape(es_request *r, es_error *error)
{
    es_ledger *ledger;
    tape_form f = {.tape = es_ledger_blank_tape()};
    es_status status = read_tape(r, &f, error);
    if (status == ES_OK)
        status = es_open_to_change(r, ES_LEDGER_CREATE, &ledger, error);
    if (status != ES_OK)
        return status;
    status = es_ledger_add_tape(ledger, &f.tape, &f.recording, error);
    es_ledger_close(ledger);
    return status;
}

/* Who recorded it stays as it was unless the form says so anew. */
static es_status keep_tape(es_request *r, es_error *error)
{
    es_ledger *ledger;
    tape_form f = {0};
    char name[ES_NAME_ROOM] = "";
    int told_anew = es_form_has(r->form, "recorded_on");
    es_form_text(r->form, "tape", name, sizeof name, error);
    if (error->status != ES_OK || es_open_to_change(r, ES_LEDGER_WRITE, &ledger, error) != ES_OK)
        return error->status;
    es_status status = es_ledger_tape(ledger, name, &f.tape, error);
    if (status == ES_OK)
        status = read_tape(r, &f, error);
    if (status == ES_OK && told_anew) /* its certificate is the network's from now on */
        f.tape.certificate_percent = f.tape.certificate_u95_percent = (double)NAN;
    if (status == ES_OK)
        status = es_ledger_edit_tape(ledger, &f.tape, told_anew ? &f.recording : NULL, error);
    es_ledger_close(ledger);
    return status;
}

/* --- table --------------------------------------------------------------------------------- */

static const es_route changes[] = {
    ES_CHANGE("/api/decks/add", .keep = keep_new_deck),
    ES_CHANGE("/api/decks/edit", .keep = keep_deck),
    ES_CHANGE("/api/decks/adjusted", .keep = keep_adjustment),
    ES_CHANGE("/api/decks/drift", .keep = keep_drift),
    ES_CHANGE("/api/decks/remove", .keep = keep_no_deck),
    ES_CHANGE("/api/tapes/add", .keep = keep_new_tape),
    ES_CHANGE("/api/tapes/edit", .keep = keep_tape),
    ES_CHANGE("/api/tapes/remove", .keep = keep_no_tape),
};

const es_routes es_routes_of_changes = {changes, sizeof changes / sizeof *changes};
