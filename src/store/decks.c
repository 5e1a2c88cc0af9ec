#include "store/decks.h"

#include "evenspool/base/text.h"
#include "store/rows.h"

/* --- decks ------------------------------------------------------------------------------------ */

/* A text that is too long for the record is left for the guard to refuse. */
static es_status first_epoch(es_store *store, int64_t deck, const char *began, es_error *error)
{
    es_epoch_record epoch;
    es_record_blank(ES_RECORD_EPOCH, &epoch);
    epoch.deck = deck;
    epoch.number = 1;
    es_text text = es_text_over(epoch.began, sizeof epoch.began);
    es_text_add(&text, "%s", began);
    return es_rows_insert(store, ES_RECORD_EPOCH, &epoch, NULL, error);
}

es_status es_store_add_deck(es_store *store, const es_deck_record *deck, const char *began,
                            int64_t *id, es_error *error)
{
    int64_t added = 0;
    if (id)
        *id = 0;
    es_status status = es_scope_open(store, error);
    if (status != ES_OK)
        return status;
    status = es_rows_add(store, ES_RECORD_DECK, deck, &added, error);
    if (status == ES_OK)
        status = first_epoch(store, added, began, error);
    status = es_scope_close(store, status, error);
    if (id && status == ES_OK)
        *id = added;
    return status;
}

es_status es_store_edit_deck(es_store *store, const es_deck_record *deck, es_error *error)
{
    return es_rows_edit(store, ES_RECORD_DECK, deck, error);
}

es_status es_store_show_deck(const es_store *store, int64_t id, es_deck_record *out,
                             es_error *error)
{
    return es_rows_show(store, ES_RECORD_DECK, id, out, NULL, error);
}

es_status es_store_deck_named(const es_store *store, const char *name, es_deck_record *out,
                              es_error *error)
{
    return es_rows_named(store, ES_RECORD_DECK, name, out, error);
}

es_status es_store_list_decks(const es_store *store, es_deck_record **out, size_t *count,
                              es_error *error)
{
    void *rows;
    es_status status = es_rows_list(store, ES_RECORD_DECK, NULL, 0, &rows, count, error);
    *out = rows;
    return status;
}

es_status es_store_remove_deck(es_store *store, int64_t id, es_removal how, es_error *error)
{
    return es_rows_remove(store, ES_RECORD_DECK, id, how, error);
}

/* --- epochs ----------------------------------------------------------------------------------- */

es_status es_store_latest_epoch(const es_store *store, int64_t deck, es_epoch_record *out,
                                es_error *error)
{
    int64_t id;
    es_record_blank(ES_RECORD_EPOCH, out);
    es_status status =
        es_store_ask(store, "SELECT id FROM epoch WHERE deck = ?1 ORDER BY number DESC LIMIT 1",
                     deck, &id, error);
    if (status == ES_OK && id == 0)
        return es_fail(error, ES_ERR_INPUT, "unknown", "There is no deck %lld.", (long long)deck);
    return status == ES_OK ? es_rows_show(store, ES_RECORD_EPOCH, id, out, NULL, error) : status;
}

static es_status add_epoch(es_store *store, const es_epoch_record *epoch, int64_t *id,
                           es_error *error)
{
    es_epoch_record latest, next = *epoch;
    es_status status = es_store_latest_epoch(store, epoch->deck, &latest, error);
    next.number = latest.number + 1;
    return status == ES_OK ? es_rows_add(store, ES_RECORD_EPOCH, &next, id, error) : status;
}

es_status es_store_start_epoch(es_store *store, const es_epoch_record *epoch, int64_t *id,
                               es_error *error)
{
    int64_t added = 0;
    if (id)
        *id = 0;
    es_status status = es_scope_open(store, error);
    if (status != ES_OK)
        return status;
    status = es_scope_close(store, add_epoch(store, epoch, &added, error), error);
    if (id && status == ES_OK)
        *id = added;
    return status;
}

static es_status change_epoch(es_store *store, const es_epoch_record *epoch, es_error *error)
{
    es_epoch_record kept;
    es_status status = es_store_show_epoch(store, epoch->id, &kept, error);
    if (status == ES_OK && (kept.deck != epoch->deck || kept.number != epoch->number))
        return es_fail(error, ES_ERR_INPUT, "contradiction",
                       "An epoch can't change its deck or its place.");
    return status == ES_OK ? es_rows_update(store, ES_RECORD_EPOCH, epoch, error) : status;
}

es_status es_store_edit_epoch(es_store *store, const es_epoch_record *epoch, es_error *error)
{
    es_status status = es_scope_open(store, error);
    if (status != ES_OK)
        return status;
    return es_scope_close(store, change_epoch(store, epoch, error), error);
}

es_status es_store_show_epoch(const es_store *store, int64_t id, es_epoch_record *out,
                              es_error *error)
{
    return es_rows_show(store, ES_RECORD_EPOCH, id, out, NULL, error);
}

es_status es_store_list_epochs(const es_store *store, int64_t deck, es_epoch_record **out,
                               size_t *count, es_error *error)
{
    void *rows;
    es_status status =
        es_rows_list(store, ES_RECORD_EPOCH, deck ? "deck" : NULL, deck, &rows, count, error);
    *out = rows;
    return status;
}

static es_status drop_epoch(es_store *store, int64_t id, es_removal how, es_error *error)
{
    es_epoch_record epoch, latest;
    es_status status = es_store_show_epoch(store, id, &epoch, error);
    if (status == ES_OK)
        status = es_store_latest_epoch(store, epoch.deck, &latest, error);
    if (status == ES_OK && (latest.id != id || epoch.number == 1))
        return es_fail(error, ES_ERR_INPUT, "not-latest",
                       "Only a deck's latest epoch can be removed, and never its first.");
    return status == ES_OK ? es_rows_remove(store, ES_RECORD_EPOCH, id, how, error) : status;
}

es_status es_store_remove_epoch(es_store *store, int64_t id, es_removal how, es_error *error)
{
    es_status status = es_scope_open(store, error);
    if (status != ES_OK)
        return status;
    return es_scope_close(store, drop_epoch(store, id, how, error), error);
}
