#include "live/ledger_inside.h"

#include "evenspool/base/record_kinds.h"
#include "evenspool/trust/uncertainty.h"
#include "store/decks.h"
#include "store/plays.h"

#include <math.h>
#include <string.h>

es_play_entry es_ledger_blank_play(void)
{
    double unknown = (double)NAN;
    return (es_play_entry){.heard_percent = unknown, .u_percent = unknown, .dof = (double)INFINITY};
}

/* u95 goes by the shapes of the parts and by how few turns were averaged; the parts know neither. */
es_status es_ledger_take_heard(const es_check_result *measured, es_play_entry *entry,
                               es_error *error)
{
    const es_speed_facts *s = &measured->speed;
    double u[ES_BUDGET_MOST], each[ES_BUDGET_MOST];
    size_t count = 0;
    for (size_t i = 0; i < s->budget_count; i++)
        if (!isnan(s->budget[i].u_percent)) {
            u[count] = s->budget[i].u_percent;
            each[count++] = 1.0;
        }
    if (isnan(s->heard_percent) || isnan(s->u95_percent))
        return es_fail(error, ES_ERR_INPUT, "no-tone",
                       "No usual test tone was heard in it; name the tone that was written with "
                       "--tone.");
    entry->heard_percent = s->heard_percent;
    entry->u_percent = fmax(es_combined_u(each, u, NULL, count), es_ledger_u_of(s->u95_percent));
    return ES_OK;
}

/* --- which tape, which deck, when -------------------------------------------------------------- */

static es_status not_recorded_here(const char *tape, const char *played_on, es_error *error)
{
    return es_fail(
        error, ES_ERR_INPUT, "bought-tape",
        "No deck of yours recorded the tape \"%.60s\", so playing it is no comparison of "
        "two decks but an anchor: evenspool trust anchor \"%.60s\" --method test-tape.",
        tape, played_on);
}

static es_status another_deck(es_ledger *l, const es_tape_record *tape, es_error *error)
{
    es_epoch_record epoch;
    es_deck_record deck;
    es_status status = es_store_show_epoch(l->store, tape->recorded_epoch, &epoch, error);
    if (status == ES_OK)
        status = es_store_show_deck(l->store, epoch.deck, &deck, error);
    return status == ES_OK
               ? es_fail(error, ES_ERR_INPUT, "contradiction",
                         "The tape \"%.60s\" was recorded on \"%.60s\" (epoch %lld), as "
                         "the records have it, and not on another deck.",
                         tape->name, deck.name, (long long)epoch.number)
               : status;
}

/* The epoch that recorded a tape that is known by name, checked against what was said besides. */
static es_status take_tape(es_ledger *l, const es_play_entry *entry, es_play_record *play,
                           es_error *error)
{
    es_tape_record tape;
    es_epoch_record epoch, named;
    es_status status = es_ledger_tape_named(l, entry->tape, &tape, error);
    if (status == ES_OK && !tape.recorded_epoch)
        return not_recorded_here(tape.name, entry->played_on, error);
    if (status == ES_OK)
        status = es_store_show_epoch(l->store, tape.recorded_epoch, &epoch, error);
    if (status == ES_OK && entry->recorded_on)
        status =
            es_ledger_epoch_of(l, entry->recorded_on, entry->recorded_epoch, NULL, &named, error);
    if (status != ES_OK)
        return status;
    if (entry->recorded_on &&
        (named.deck != epoch.deck || (entry->recorded_epoch > 0 && named.id != epoch.id)))
        return another_deck(l, &tape, error);
    play->tape = tape.id;
    play->recorded_on = epoch.id;
    memcpy(play->recorded_at, tape.recorded_at, sizeof play->recorded_at);
    return ES_OK;
}

static es_status take_recorder(es_ledger *l, const es_play_entry *entry, es_play_record *play,
                               es_error *error)
{
    es_epoch_record epoch;
    if (entry->tape)
        return take_tape(l, entry, play, error);
    if (!entry->recorded_on)
        return es_fail(error, ES_ERR_ARG, "no-recorder",
                       "Say which deck recorded the tape, or which tape it is.");
    es_status status = es_ledger_epoch_of(l, entry->recorded_on, entry->recorded_epoch,
                                          entry->recorded_at, &epoch, error);
    play->recorded_on = status == ES_OK ? epoch.id : 0;
    return status;
}

static es_status take_days(const es_play_entry *entry, es_play_record *play, es_error *error)
{
    char now[ES_TIME_ROOM];
    es_ledger_now(now);
    es_status status = es_ledger_time(entry->played_at, now, play->played_at, error);
    const char *recorded = play->recorded_at[0] ? play->recorded_at : play->played_at;
    char usual[ES_TIME_ROOM];
    memcpy(usual, recorded, sizeof usual);
    if (status == ES_OK)
        status = es_ledger_time(entry->recorded_at, usual, play->recorded_at, error);
    if (status == ES_OK && es_day_of(play->recorded_at) > es_day_of(play->played_at))
        return es_fail(error, ES_ERR_INPUT, "contradiction",
                       "A tape can't be played (%.10s) before it is recorded (%.10s).",
                       play->played_at, play->recorded_at);
    return status;
}

static es_status take_figures(const es_play_entry *entry, es_play_record *play, es_error *error)
{
    play->heard_percent = entry->heard_percent;
    play->u_percent = entry->u_percent;
    play->dof = entry->dof;
    play->reading = entry->reading;
    if (!(play->heard_percent > -90.0 && play->heard_percent < 900.0))
        return es_fail(error, ES_ERR_ARG, "bad-value",
                       "What was heard is no speed error; give 100 x (heard / written - 1).");
    if (!(play->u_percent >= 1e-6 && play->u_percent <= 100.0))
        return es_fail(error, ES_ERR_ARG, "bad-uncertainty",
                       "A play needs an uncertainty above zero (0.000001 to 100 %%): no "
                       "measurement is without doubt.");
    return es_ledger_text("note", entry->note, play->note, sizeof play->note, error);
}

/* --- door -------------------------------------------------------------------------------------- */

static es_status compose(es_ledger *l, const es_play_entry *entry, es_play_record *play,
                         es_error *error)
{
    es_epoch_record epoch = {0};
    es_record_blank(ES_RECORD_PLAY, play);
    es_status status = take_figures(entry, play, error);
    if (status == ES_OK)
        status = take_recorder(l, entry, play, error);
    if (status == ES_OK)
        status = take_days(entry, play, error);
    if (status == ES_OK)
        status = es_ledger_epoch_of(l, entry->played_on, entry->played_epoch, entry->played_at,
                                    &epoch, error);
    play->played_on = epoch.id;
    return status;
}

es_status es_ledger_add_play(es_ledger *l, const es_play_entry *entry, int64_t *id,
                             const char **same_deck, es_error *error)
{
    es_play_record play;
    int64_t added = 0;
    es_status status = compose(l, entry, &play, error);
    if (status == ES_OK)
        status = es_store_add_play(l->store, &play, &added, error);
    if (id)
        *id = added;
    if (same_deck)
        *same_deck =
            status == ES_OK && play.recorded_on == play.played_on ? es_same_deck_sentence() : NULL;
    return status;
}

es_status es_ledger_remove_play(es_ledger *l, int64_t id, es_error *error)
{
    return es_store_remove_play(l->store, id, error);
}
