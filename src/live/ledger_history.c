#include "live/ledger_inside.h"

#include "evenspool/base/record_kinds.h"
#include "evenspool/base/text.h"
#include "evenspool/trust/anchors.h"
#include "store/anchors.h"
#include "store/decks.h"
#include "store/jobs.h"
#include "store/plays.h"
#include "store/readings.h"
#include "store/tapes.h"

#include <stdlib.h>
#include <string.h>

/* Names for the numbers in plays and anchors. */
typedef struct telling {
    es_ledger *ledger;
    es_history *history;
    int64_t deck; /* 0: all */
    size_t deck_count, epoch_count, tape_count;
    es_deck_record *decks;
    es_epoch_record *epochs;
    es_tape_record *tapes;
} telling;

static const es_epoch_record *epoch_of(const telling *t, int64_t id)
{
    for (size_t i = 0; i < t->epoch_count; i++)
        if (t->epochs[i].id == id)
            return &t->epochs[i];
    return NULL;
}

static int is_of_deck(const telling *t, int64_t epoch)
{
    const es_epoch_record *e = epoch_of(t, epoch);
    return e && (t->deck == 0 || e->deck == t->deck);
}

static void name_epoch(const telling *t, int64_t id, char name[ES_NAME_ROOM], int64_t *number)
{
    const es_epoch_record *e = epoch_of(t, id);
    for (size_t i = 0; e && i < t->deck_count; i++)
        if (t->decks[i].id == e->deck)
            memcpy(name, t->decks[i].name, ES_NAME_ROOM);
    *number = e ? e->number : 0;
}

static es_status read_names(telling *t, es_error *error)
{
    es_store *store = t->ledger->store;
    es_status status = es_store_list_tapes(store, &t->tapes, &t->tape_count, error);
    if (status == ES_OK)
        status = es_store_list_epochs(store, 0, &t->epochs, &t->epoch_count, error);
    if (status == ES_OK)
        status = es_store_list_decks(store, &t->decks, &t->deck_count, error);
    return status;
}

/* Appends count records of `size` bytes to an array. 0: no memory. */
static int append(void **list, size_t *length, const void *more, size_t count, size_t size)
{
    if (count == 0)
        return 1;
    char *longer = realloc(*list, (*length + count) * size);
    if (!longer)
        return 0;
    memcpy(longer + *length * size, more, count * size);
    *list = longer;
    *length += count;
    return 1;
}

/* --- plays and anchors --------------------------------------------------------------------------- */

static void tell_play(const telling *t, const es_play_record *play, es_told_play *out)
{
    out->play = *play;
    name_epoch(t, play->recorded_on, out->recorded_deck, &out->recorded_number);
    name_epoch(t, play->played_on, out->played_deck, &out->played_number);
    for (size_t i = 0; i < t->tape_count; i++)
        if (t->tapes[i].id == play->tape)
            memcpy(out->tape, t->tapes[i].name, sizeof out->tape);
}

static es_status tell_plays(telling *t, es_error *error)
{
    es_play_record *plays;
    size_t count;
    es_status status = es_store_list_plays(t->ledger->store, &plays, &count, error);
    es_history *h = t->history;
    if (status == ES_OK && count > 0 && !(h->plays = calloc(count, sizeof *h->plays)))
        status = es_ledger_no_memory(error);
    for (size_t i = 0; i < count && status == ES_OK; i++)
        if (is_of_deck(t, plays[i].recorded_on) || is_of_deck(t, plays[i].played_on))
            tell_play(t, &plays[i], &h->plays[h->play_count++]);
    free(plays);
    return status;
}

static void tell_anchor(const telling *t, const es_anchor_record *anchor, es_told_anchor *out)
{
    es_anchor_method method;
    es_text name = es_text_over(out->name, sizeof out->name);
    out->anchor = *anchor;
    name_epoch(t, anchor->epoch, out->deck, &out->number);
    es_text_add(&name, "%s",
                es_anchor_find(anchor->method, &method) == ES_OK ? es_anchor_methods()[method].name
                                                                 : anchor->method);
}

static es_status tell_anchors(telling *t, es_error *error)
{
    es_anchor_record *anchors;
    size_t count;
    es_status status = es_store_list_anchors(t->ledger->store, &anchors, &count, error);
    es_history *h = t->history;
    if (status == ES_OK && count > 0 && !(h->anchors = calloc(count, sizeof *h->anchors)))
        status = es_ledger_no_memory(error);
    for (size_t i = 0; i < count && status == ES_OK; i++)
        if (is_of_deck(t, anchors[i].epoch))
            tell_anchor(t, &anchors[i], &h->anchors[h->anchor_count++]);
    free(anchors);
    return status;
}

static es_status tell_anchor_parts(telling *t, es_error *error)
{
    es_history *h = t->history;
    es_status status = ES_OK;
    for (size_t i = 0; i < h->anchor_count && status == ES_OK; i++) {
        int64_t id = h->anchors[i].anchor.id;
        es_answer_record *answers = NULL;
        es_budget_record *budget = NULL;
        size_t answer_count = 0, budget_count = 0;
        status = es_store_list_answers(t->ledger->store, id, &answers, &answer_count, error);
        if (status == ES_OK)
            status = es_store_list_budget(t->ledger->store, id, &budget, &budget_count, error);
        void *to[] = {h->answers, h->budget};
        int ok = append(&to[0], &h->answer_count, answers, answer_count, sizeof *answers) &&
                 append(&to[1], &h->budget_count, budget, budget_count, sizeof *budget);
        h->answers = to[0];
        h->budget = to[1];
        if (!ok)
            status = es_ledger_no_memory(error);
        free(answers);
        free(budget);
    }
    return status;
}

/* --- a deck's own -------------------------------------------------------------------------------- */

static es_status tell_job_parts(telling *t, es_error *error)
{
    es_history *h = t->history;
    es_status status = ES_OK;
    for (size_t i = 0; i < h->job_count && status == ES_OK; i++) {
        es_nudge_record *nudges = NULL;
        es_remark_record *remarks = NULL;
        size_t nudge_count = 0, remark_count = 0;
        int64_t id = h->jobs[i].id;
        status = es_store_list_nudges(t->ledger->store, id, &nudges, &nudge_count, error);
        if (status == ES_OK)
            status = es_store_list_remarks(t->ledger->store, id, &remarks, &remark_count, error);
        void *to[] = {h->nudges, h->remarks};
        int ok = append(&to[0], &h->nudge_count, nudges, nudge_count, sizeof *nudges) &&
                 append(&to[1], &h->remark_count, remarks, remark_count, sizeof *remarks);
        h->nudges = to[0];
        h->remarks = to[1];
        if (!ok)
            status = es_ledger_no_memory(error);
        free(nudges);
        free(remarks);
    }
    return status;
}

static es_status tell_deck(telling *t, es_error *error)
{
    es_store *store = t->ledger->store;
    es_history *h = t->history;
    es_status status = es_store_list_epochs(store, t->deck, &h->epochs, &h->epoch_count, error);
    if (status == ES_OK)
        status = es_store_list_jobs(store, t->deck, &h->jobs, &h->job_count, error);
    if (status == ES_OK)
        status = tell_job_parts(t, error);
    if (status == ES_OK)
        status = es_store_list_readings(store, t->deck, &h->readings, &h->reading_count, error);
    return status;
}

/* --- door ---------------------------------------------------------------------------------------- */

static es_status tell(telling *t, es_error *error)
{
    es_status status = read_names(t, error);
    if (status == ES_OK && t->deck)
        status = tell_deck(t, error);
    if (status == ES_OK)
        status = tell_plays(t, error);
    if (status == ES_OK)
        status = tell_anchors(t, error);
    if (status == ES_OK && t->deck)
        status = tell_anchor_parts(t, error);
    free(t->decks);
    free(t->epochs);
    free(t->tapes);
    return status;
}

es_status es_ledger_history(es_ledger *l, const char *name, es_history **out, es_error *error)
{
    telling t = {.ledger = l, .history = calloc(1, sizeof *t.history)};
    *out = NULL;
    if (!t.history)
        return es_ledger_no_memory(error);
    es_record_blank(ES_RECORD_DECK, &t.history->deck);
    es_status status = name ? es_ledger_deck(l, name, &t.history->deck, error) : ES_OK;
    t.deck = t.history->deck.id;
    if (status == ES_OK)
        status = tell(&t, error);
    if (status != ES_OK) {
        es_history_destroy(t.history);
        return status;
    }
    *out = t.history;
    return ES_OK;
}

es_status es_ledger_document(es_ledger *l, int64_t reading, char **out, es_error *error)
{
    es_reading_record record;
    return es_store_show_reading(l->store, reading, &record, out, error);
}
