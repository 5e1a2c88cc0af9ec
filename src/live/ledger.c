#include "live/ledger_inside.h"

#include "evenspool/base/nearest.h"
#include "evenspool/base/record_kinds.h"
#include "evenspool/base/text.h"
#include "store/decks.h"
#include "store/tapes.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* --- the file --------------------------------------------------------------------------------- */

es_status es_ledger_where(const char *path, char *out, size_t room, es_error *error)
{
    return path ? es_ledger_text("path of the records", path, out, room, error)
                : es_store_default_path(out, room, error);
}

es_status es_ledger_open(const char *path, es_ledger_mode mode, es_ledger **out, es_error *error)
{
    static const es_store_mode modes[] = {[ES_LEDGER_READ] = ES_STORE_READ,
                                          [ES_LEDGER_WRITE] = ES_STORE_WRITE,
                                          [ES_LEDGER_CREATE] = ES_STORE_CREATE};
    char where[ES_LEDGER_PATH_ROOM];
    es_error why = {0};
    *out = NULL;
    es_status status = es_ledger_where(path, where, sizeof where, error);
    if (status != ES_OK)
        return status;
    es_ledger *l = calloc(1, sizeof *l);
    if (!l)
        return es_ledger_no_memory(error);
    l->mode = mode;
    status = es_store_open(where, modes[mode], &l->store, &why);
    if (status == ES_OK) {
        *out = l;
        return ES_OK;
    }
    es_ledger_close(l);
    if (strcmp(why.code, "no-records") == 0)
        return es_fail(error, status, why.code,
                       "There are no records here yet; evenspool deck add NAME begins them.");
    return es_fail(error, status, why.code, "%s", why.text);
}

void es_ledger_close(es_ledger *l)
{
    if (!l)
        return;
    es_store_close(l->store);
    free(l);
}

es_status es_ledger_begin(es_ledger *l, es_error *error)
{
    es_status status = l->depth == 0 ? es_store_begin(l->store, error) : ES_OK;
    l->depth += status == ES_OK;
    return status;
}

es_status es_ledger_end(es_ledger *l, es_status status, es_error *error)
{
    if (--l->depth > 0)
        return status; /* whoever began first hears of it and gives all of it up */
    if (status == ES_OK)
        return es_store_commit(l->store, error);
    es_store_rollback(l->store);
    return status;
}

/* --- names ------------------------------------------------------------------------------------ */

/* names: count texts, each `step` bytes after the one before. */
static es_status no_such_name(const char *kind, const char *list, const char *name,
                              const char *names, size_t step, size_t count, es_error *error)
{
    char given[160], meant[160] = "";
    es_text text = es_text_over(given, sizeof given), near = es_text_over(meant, sizeof meant);
    es_text_add(&text, "%s", name);
    const char **words = calloc(count + 1, sizeof *words);
    for (size_t i = 0; words && i < count; i++)
        words[i] = names + i * step;
    const char *found = words ? es_nearest_word(name, words, count) : NULL;
    if (found)
        es_text_add(&near, " (did you mean \"%s\"?)", found);
    free(words);
    return es_fail(error, ES_ERR_INPUT, "unknown", "There is no %s \"%s\"%s; %s shows them.", kind,
                   given, meant, list);
}

es_status es_ledger_deck(es_ledger *l, const char *name, es_deck_record *out, es_error *error)
{
    es_error why = {0};
    es_deck_record *decks;
    size_t count;
    es_status status = es_store_deck_named(l->store, name, out, &why);
    if (status == ES_OK)
        return ES_OK;
    if (strcmp(why.code, "unknown") != 0 ||
        es_store_list_decks(l->store, &decks, &count, &why) != ES_OK)
        return es_fail(error, why.status, why.code, "%s", why.text);
    status = no_such_name("deck", "evenspool deck list", name, count ? decks->name : NULL,
                          sizeof *decks, count, error);
    free(decks);
    return status;
}

es_status es_ledger_tape_named(es_ledger *l, const char *name, es_tape_record *out, es_error *error)
{
    es_error why = {0};
    es_tape_record *tapes;
    size_t count;
    es_status status = es_store_tape_named(l->store, name, out, &why);
    if (status == ES_OK)
        return ES_OK;
    if (strcmp(why.code, "unknown") != 0 ||
        es_store_list_tapes(l->store, &tapes, &count, &why) != ES_OK)
        return es_fail(error, why.status, why.code, "%s", why.text);
    status = no_such_name("tape", "evenspool trust tape", name, count ? tapes->name : NULL,
                          sizeof *tapes, count, error);
    free(tapes);
    return status;
}

/* --- decks ------------------------------------------------------------------------------------ */

es_deck_record es_ledger_blank_deck(void)
{
    es_deck_record deck;
    es_record_blank(ES_RECORD_DECK, &deck);
    memcpy(deck.transport, "cassette", sizeof "cassette");
    return deck;
}

es_status es_ledger_add_deck(es_ledger *l, const es_deck_record *deck, const char *began,
                             es_error *error)
{
    char when[ES_TIME_ROOM];
    es_deck_record kept = *deck;
    kept.id = 0;
    es_status status = es_ledger_class(deck->transport, error);
    if (status == ES_OK)
        status = es_ledger_time(began, "", when, error);
    return status == ES_OK ? es_store_add_deck(l->store, &kept, when, NULL, error) : status;
}

es_status es_ledger_decks(es_ledger *l, es_deck_record **out, size_t *count, es_error *error)
{
    return es_store_list_decks(l->store, out, count, error);
}

es_status es_ledger_edit_deck(es_ledger *l, const es_deck_record *deck, es_error *error)
{
    es_status status = es_ledger_class(deck->transport, error);
    return status == ES_OK ? es_store_edit_deck(l->store, deck, error) : status;
}

es_status es_ledger_remove_deck(es_ledger *l, const char *name, int with_history, es_error *error)
{
    es_deck_record deck;
    es_removal how = with_history ? ES_REMOVE_WITH_HISTORY : ES_REMOVE_UNUSED;
    es_status status = es_ledger_deck(l, name, &deck, error);
    return status == ES_OK ? es_store_remove_deck(l->store, deck.id, how, error) : status;
}

/* --- epochs ----------------------------------------------------------------------------------- */

/* A day without its time counts as that day's end: what was done on it may be of the new epoch. */
static int began_by(const es_epoch_record *epoch, const char *at)
{
    char end[ES_TIME_ROOM + 4];
    es_text text = es_text_over(end, sizeof end);
    es_text_add(&text, "%s%s", at, strlen(at) == 10 ? "T99" : "");
    return strcmp(epoch->began, end) <= 0;
}

static const es_epoch_record *choose_epoch(const es_epoch_record *epochs, size_t count,
                                           int64_t number, const char *at)
{
    const es_epoch_record *found = NULL;
    for (size_t i = 0; i < count; i++) {
        const es_epoch_record *e = &epochs[i];
        if (number > 0 ? e->number == number
                       : (!found || (e->number > found->number && began_by(e, at))))
            found = e;
    }
    return found;
}

es_status es_ledger_epoch_of(es_ledger *l, const char *name, int64_t number, const char *at,
                             es_epoch_record *out, es_error *error)
{
    es_deck_record deck;
    es_epoch_record *epochs = NULL;
    size_t count = 0;
    es_status status = es_ledger_deck(l, name, &deck, error);
    if (status == ES_OK)
        status = es_store_list_epochs(l->store, deck.id, &epochs, &count, error);
    const es_epoch_record *found =
        choose_epoch(epochs, count, number, at && at[0] ? at : "9999-12-31");
    if (status == ES_OK && !found)
        status = es_fail(error, ES_ERR_INPUT, "unknown",
                         "The deck \"%.100s\" has no epoch %lld; evenspool deck show lists them.",
                         deck.name, (long long)number);
    if (status == ES_OK)
        *out = *found;
    free(epochs);
    return status;
}

es_status es_ledger_set_drift(es_ledger *l, const char *name, double walk_percent, es_error *error)
{
    es_epoch_record epoch;
    if (walk_percent != 0.0 && !isnan(walk_percent) &&
        !(walk_percent >= 1e-4 && walk_percent <= 100.0))
        return es_fail(error, ES_ERR_ARG, "bad-drift",
                       "A deck's drift is 0 or from 0.0001 to 100 %% per square root of a year.");
    es_status status = es_ledger_epoch_of(l, name, 0, NULL, &epoch, error);
    epoch.walk_percent = walk_percent;
    return status == ES_OK ? es_store_edit_epoch(l->store, &epoch, error) : status;
}
