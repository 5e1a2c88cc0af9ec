/* A deck was adjusted: a new epoch, and what was entered of later days belongs to it. */
#include "live/ledger_inside.h"

#include "evenspool/base/record_kinds.h"
#include "store/anchors.h"
#include "store/decks.h"
#include "store/plays.h"
#include "store/tapes.h"

#include <stdlib.h>

/* From which epoch to which, and since when. */
typedef struct moving {
    es_store *store;
    int64_t from, to;
    double day; /* of the adjustment: what was done on the day itself stays */
} moving;

/* 1: it is of the old epoch and of a later day; then it is of the new one now. */
static int move(const moving *m, int64_t *epoch, const char *at)
{
    if (*epoch != m->from || !(es_day_of(at) > m->day))
        return 0;
    *epoch = m->to;
    return 1;
}

static es_status move_plays(const moving *m, es_error *error)
{
    es_play_record *plays;
    size_t count;
    es_status status = es_store_list_plays(m->store, &plays, &count, error);
    for (size_t i = 0; i < count && status == ES_OK; i++) {
        int recorded = move(m, &plays[i].recorded_on, plays[i].recorded_at);
        int played = move(m, &plays[i].played_on, plays[i].played_at);
        if (recorded || played)
            status = es_store_edit_play(m->store, &plays[i], error);
    }
    free(plays);
    return status;
}

static es_status move_anchors(const moving *m, es_error *error)
{
    es_anchor_record *anchors;
    size_t count;
    es_status status = es_store_list_anchors(m->store, &anchors, &count, error);
    for (size_t i = 0; i < count && status == ES_OK; i++)
        if (move(m, &anchors[i].epoch, anchors[i].made_at))
            status = es_store_edit_anchor(m->store, &anchors[i], NULL, error);
    free(anchors);
    return status;
}

static es_status move_tapes(const moving *m, es_error *error)
{
    es_tape_record *tapes;
    size_t count;
    es_status status = es_store_list_tapes(m->store, &tapes, &count, error);
    for (size_t i = 0; i < count && status == ES_OK; i++)
        if (move(m, &tapes[i].recorded_epoch, tapes[i].recorded_at))
            status = es_store_edit_tape(m->store, &tapes[i], error);
    free(tapes);
    return status;
}

static es_status compose(const es_epoch_record *latest, const char *when, const char *why,
                         es_epoch_record *next, es_error *error)
{
    char now[ES_TIME_ROOM];
    es_ledger_now(now);
    es_record_blank(ES_RECORD_EPOCH, next);
    next->deck = latest->deck;
    next->walk_percent = latest->walk_percent;
    es_status status = es_ledger_time(when, now, next->began, error);
    if (status == ES_OK)
        status = es_ledger_text("reason", why, next->why, sizeof next->why, error);
    if (status == ES_OK && es_day_of(next->began) < es_day_of(latest->began))
        status = es_fail(error, ES_ERR_INPUT, "contradiction",
                         "The deck was adjusted on %.10s already; an adjustment before that can't "
                         "be entered any more.",
                         latest->began);
    return status;
}

static es_status adjust(es_ledger *l, const char *name, const char *when, const char *why,
                        es_error *error)
{
    es_epoch_record latest, next;
    moving m = {.store = l->store};
    es_status status = es_ledger_epoch_of(l, name, 0, NULL, &latest, error);
    if (status == ES_OK)
        status = compose(&latest, when, why, &next, error);
    if (status == ES_OK)
        status = es_store_start_epoch(l->store, &next, &m.to, error);
    m.from = latest.id;
    m.day = status == ES_OK ? es_day_of(next.began) : 0.0;
    if (status == ES_OK)
        status = move_plays(&m, error);
    if (status == ES_OK)
        status = move_anchors(&m, error);
    return status == ES_OK ? move_tapes(&m, error) : status;
}

es_status es_ledger_adjusted(es_ledger *l, const char *name, const char *when, const char *why,
                             es_error *error)
{
    es_status status = es_ledger_begin(l, error);
    return status == ES_OK ? es_ledger_end(l, adjust(l, name, when, why, error), error) : status;
}
