/* Short ways to fill a ledger for tests. Sentences of failures are shown. */
#ifndef ES_TESTS_LEDGER_HELP_H
#define ES_TESTS_LEDGER_HELP_H

#include "place.h"

#include "evenspool/base/day.h"
#include "live/ledger.h"

#include <string.h>

static inline es_ledger *open_ledger(const test_place *place, es_ledger_mode mode)
{
    es_ledger *l;
    assert_ok(es_ledger_open(place->path, mode, &l, &error));
    return l;
}

/* A deck that stands still, so that days don't matter. */
static inline void add_deck(es_ledger *l, const char *name)
{
    es_deck_record deck = es_ledger_blank_deck();
    strcpy(deck.name, name);
    assert_ok(es_ledger_add_deck(l, &deck, NULL, &error));
    assert_ok(es_ledger_set_drift(l, name, 0.0, &error));
}

static inline int64_t add_play(es_ledger *l, const char *from, const char *to, double heard_percent,
                               double u_percent)
{
    es_play_entry entry = es_ledger_blank_play();
    int64_t id;
    entry.recorded_on = from;
    entry.played_on = to;
    entry.heard_percent = heard_percent;
    entry.u_percent = u_percent;
    assert_ok(es_ledger_add_play(l, &entry, &id, NULL, &error));
    return id;
}

static inline int64_t add_anchor_on(es_ledger *l, const char *deck, const char *method,
                                    double error_percent, double u95_percent, const char *day)
{
    es_anchor_entry entry = es_ledger_blank_anchor();
    es_anchor_outcome outcome;
    entry.method = method;
    entry.error_percent = error_percent;
    entry.u95_percent = u95_percent;
    assert_ok(es_ledger_add_anchor(l, &entry, deck, 0, day, NULL, &outcome, &error));
    return outcome.anchor.id;
}

static inline es_trust_result *solve_for(es_ledger *l, const char *deck)
{
    es_trust_asked asked = es_trust_asked_defaults();
    es_trust_result *result;
    asked.deck = deck;
    assert_ok(es_ledger_solve(l, &asked, &result, &error));
    return result;
}

/* As it is now. */
static inline const es_trust_deck *deck_of(const es_trust_result *result, const char *name)
{
    for (size_t i = 0; i < result->deck_count; i++)
        if (result->decks[i].latest && strcmp(result->decks[i].name, name) == 0)
            return &result->decks[i];
    fail_msg("no deck %s", name);
    return NULL;
}

static inline es_tape_record home_made(es_ledger *l, const char *name, const char *deck,
                                       const char *day)
{
    es_tape_record tape = es_ledger_blank_tape(), kept;
    es_recording recording = {deck, 0, day};
    strcpy(tape.name, name);
    assert_ok(es_ledger_add_tape(l, &tape, &recording, &error));
    assert_ok(es_ledger_tape(l, name, &kept, &error));
    return kept;
}

#endif
