/* The ledger: names, days, epochs, tapes, plays, anchors; what it keeps and what it refuses. */
#include "ledger_help.h"

#include <stdio.h>
#include <stdlib.h>

/* --- decks and names ---------------------------------------------------------------------------- */

static void keeps_decks_by_their_names(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_deck_record deck = es_ledger_blank_deck(), kept, *all;
    strcpy(deck.name, "Küche \xE2\x99\xAB");
    strcpy(deck.transport, "reel-19");
    deck.capstan_m = 0.0079;
    assert_ok(es_ledger_add_deck(l, &deck, "2024-02-29", &error));
    assert_ok(es_ledger_deck(l, deck.name, &kept, &error));
    assert_near(kept.capstan_m, 0.0079, 0.0);
    assert_true(isnan(kept.idler_m));
    strcpy(kept.name, "Keller");
    assert_ok(es_ledger_edit_deck(l, &kept, &error));
    assert_refused(es_ledger_deck(l, deck.name, &kept, &error), ES_ERR_INPUT, "unknown");
    size_t count;
    assert_ok(es_ledger_decks(l, &all, &count, &error));
    assert_int_equal(count, 1);
    assert_string_equal(all->name, "Keller");
    free(all);
    es_ledger_close(l);
}

static void an_unknown_name_is_answered_with_the_nearest(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_deck_record out;
    es_error error = {0};
    add_deck(l, "Workshop");
    add_deck(l, "Attic");
    assert_int_equal(es_ledger_deck(l, "Workshpo", &out, &error), ES_ERR_INPUT);
    assert_string_equal(error.text, "There is no deck \"Workshpo\" (did you mean \"Workshop\"?); "
                                    "evenspool deck list shows them.");
    error = (es_error){0};
    assert_int_equal(es_ledger_deck(l, "Cellar", &out, &error), ES_ERR_INPUT);
    assert_string_equal(error.text, "There is no deck \"Cellar\"; evenspool deck list shows them.");
    error = (es_error){0};
    es_tape_record tape;
    assert_int_equal(es_ledger_tape(l, "T", &tape, &error), ES_ERR_INPUT);
    assert_string_equal(error.text, "There is no tape \"T\"; evenspool trust tape shows them.");
    es_ledger_close(l);
}

static void two_decks_can_not_have_one_name(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_deck_record deck = es_ledger_blank_deck();
    add_deck(l, "A");
    strcpy(deck.name, "A");
    assert_refused(es_ledger_add_deck(l, &deck, NULL, &error), ES_ERR_INPUT, "name-taken");
    strcpy(deck.name, "B");
    strcpy(deck.transport, "casette");
    assert_refused(es_ledger_add_deck(l, &deck, NULL, &error), ES_ERR_ARG, "class");
    strcpy(deck.transport, "cassette");
    assert_refused(es_ledger_add_deck(l, &deck, "yesterday", &error), ES_ERR_ARG, "bad-day");
    assert_refused(es_ledger_add_deck(l, &deck, "2999-01-01", &error), ES_ERR_ARG, "bad-day");
    assert_refused(es_ledger_add_deck(l, &deck, "2026-02-30", &error), ES_ERR_INPUT, "bad-value");
    size_t count;
    es_deck_record *all;
    assert_ok(es_ledger_decks(l, &all, &count, &error));
    assert_int_equal(count, 1);
    free(all);
    es_ledger_close(l);
}

static void a_deck_with_a_history_goes_only_when_asked_twice(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_deck_record out;
    add_deck(l, "A");
    add_deck(l, "B");
    add_play(l, "A", "B", 0.1, 0.02);
    assert_refused(es_ledger_remove_deck(l, "B", 0, &error), ES_ERR_INPUT, "still-used");
    assert_ok(es_ledger_remove_deck(l, "B", 1, &error));
    assert_refused(es_ledger_deck(l, "B", &out, &error), ES_ERR_INPUT, "unknown");
    es_trust_result *r = solve_for(l, NULL);
    assert_int_equal(r->deck_count, 1);
    assert_int_equal(r->link_count, 0);
    es_trust_result_destroy(r);
    es_ledger_close(l);
}

static void changes_that_begin_together_are_kept_together(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_deck_record out;
    add_deck(l, "A");
    assert_ok(es_ledger_begin(l, &error));
    assert_ok(es_ledger_deck(l, "A", &out, &error));
    strcpy(out.name, "Z");
    assert_ok(es_ledger_edit_deck(l, &out, &error));
    es_error why = {0};
    es_status status = es_ledger_adjusted(l, "Z", "not a day", "", &why);
    assert_int_equal(es_ledger_end(l, status, &why), ES_ERR_ARG);
    assert_ok(es_ledger_deck(l, "A", &out, &error));
    es_ledger_close(l);
}

/* --- epochs --------------------------------------------------------------------------------------- */

static void an_adjusted_deck_is_a_new_unknown(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    add_anchor_on(l, "A", "tape-length", 0.40, 0.08, "2026-01-10");
    assert_ok(es_ledger_adjusted(l, "A", "2026-02-01", "new belt", &error));
    es_trust_result *r = solve_for(l, NULL);
    assert_int_equal(r->deck_count, 2);
    assert_true(r->decks[0].tied && !r->decks[0].latest);
    assert_near(r->decks[0].error_percent, 0.40, 1e-12);
    assert_string_equal(r->decks[0].day, "2026-02-01"); /* when that epoch ended */
    assert_true(!r->decks[1].tied && r->decks[1].latest);
    assert_true(isnan(r->decks[1].error_percent) && isnan(r->decks[1].u95_percent));
    assert_string_equal(r->decks[1].tied_to, "not tied to true speed");
    assert_int_equal(r->untied_decks, 1);
    es_trust_result_destroy(r);
    assert_refused(es_ledger_adjusted(l, "A", "2026-01-01", "", &error), ES_ERR_INPUT,
                   "contradiction");
    es_ledger_close(l);
}

static void the_day_says_which_epoch_it_was(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    assert_ok(es_ledger_adjusted(l, "A", "2026-02-01T12:00:00Z", "", &error));
    static const struct {
        const char *day;
        int64_t asked, number;
    } cases[] = {{"2025-12-31", 0, 1},
                 {"2026-02-01", 0, 2},
                 {"2026-02-01T11:59:59Z", 0, 1},
                 {"2026-02-01T12:00:00Z", 0, 2},
                 {"2026-03-01", 0, 2},
                 {NULL, 0, 2},
                 {"2026-03-01", 1, 1}};
    es_history *h;
    for (size_t i = 0; i < COUNT(cases); i++) {
        es_anchor_entry entry = es_ledger_blank_anchor();
        es_anchor_outcome outcome;
        entry.method = "other";
        entry.error_percent = 0.1;
        entry.u95_percent = 0.1;
        assert_ok(es_ledger_add_anchor(l, &entry, "A", cases[i].asked, cases[i].day, "note",
                                       &outcome, &error));
        assert_ok(es_ledger_history(l, NULL, &h, &error));
        assert_int_equal(h->anchors[i].number, cases[i].number);
        es_history_destroy(h);
    }
    es_anchor_entry entry = es_ledger_blank_anchor();
    es_anchor_outcome outcome;
    entry.method = "other";
    entry.error_percent = entry.u95_percent = 0.1;
    assert_refused(es_ledger_add_anchor(l, &entry, "A", 3, NULL, NULL, &outcome, &error),
                   ES_ERR_INPUT, "unknown");
    es_ledger_close(l);
}

/* Entered before anybody said that the deck was adjusted in between. */
static void what_was_done_after_an_adjustment_goes_over_to_it(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    add_anchor_on(l, "A", "other", 0.1, 0.1, "2026-01-10");
    add_anchor_on(l, "A", "other", 0.2, 0.1, "2026-02-01"); /* that day: nobody knows */
    add_anchor_on(l, "A", "other", 0.3, 0.1, "2026-03-01");
    es_play_entry play = es_ledger_blank_play();
    play.recorded_on = play.played_on = "A";
    play.recorded_at = "2026-01-15";
    play.played_at = "2026-02-15";
    play.heard_percent = 0.2;
    play.u_percent = 0.1;
    assert_ok(es_ledger_add_play(l, &play, NULL, NULL, &error));
    home_made(l, "T1", "A", "2026-01-20");
    home_made(l, "T2", "A", "2026-02-20");
    assert_ok(es_ledger_adjusted(l, "A", "2026-02-01", "", &error));
    es_history *h;
    assert_ok(es_ledger_history(l, "A", &h, &error));
    assert_int_equal(h->anchors[0].number, 1);
    assert_int_equal(h->anchors[1].number, 1);
    assert_int_equal(h->anchors[2].number, 2);
    assert_int_equal(h->plays[0].recorded_number, 1);
    assert_int_equal(h->plays[0].played_number, 2);
    int64_t later = h->epochs[1].id, earlier = h->epochs[0].id;
    es_history_destroy(h);
    es_tape_record tape;
    assert_ok(es_ledger_tape(l, "T1", &tape, &error));
    assert_int_equal(tape.recorded_epoch, earlier);
    assert_ok(es_ledger_tape(l, "T2", &tape, &error));
    assert_int_equal(tape.recorded_epoch, later);
    es_ledger_close(l);
}

/* --- tapes ---------------------------------------------------------------------------------------- */

/* DESIGN's example: a tape recorded on a deck known to be +0.40 % fast is a good tape. */
static void a_home_made_tape_has_its_decks_error(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    es_tape_record tape = home_made(l, "T1", "A", "2026-01-12");
    assert_true(isnan(tape.certificate_percent));
    assert_string_equal(tape.certificate_path, "recorded on A, which is not tied to true speed");
    add_anchor_on(l, "A", "tape-length", 0.40, 0.08, "2026-01-10");
    assert_ok(es_ledger_tape(l, "T1", &tape, &error));
    assert_near(tape.certificate_percent, 0.40, 1e-12);
    assert_near(tape.certificate_u95_percent, 0.08, 1e-9);
    assert_string_equal(tape.certificate_path,
                        "recorded on A, which was tied to timed tape length on 2026-01-10");
    es_ledger_close(l);
    assert_ok(es_ledger_tape_certificate(((test_place *)*state)->path, "T1", &tape, &error));
    assert_near(tape.certificate_percent, 0.40, 1e-12);
}

static es_tape_record as_kept(const test_place *place)
{
    es_store *store;
    es_tape_record *all, first;
    size_t count;
    assert_ok(es_store_open(place->path, ES_STORE_READ, &store, &error));
    assert_ok(es_store_list_tapes(store, &all, &count, &error));
    assert_int_equal(count, 1);
    first = *all;
    free(all);
    es_store_close(store);
    return first;
}

static void a_certificate_is_kept_as_last_found(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_tape_record tape, *all, kept;
    size_t count;
    add_deck(l, "A");
    home_made(l, "T1", "A", "2026-01-12");
    add_anchor_on(l, "A", "tape-length", 0.40, 0.08, "2026-01-10");
    assert_ok(es_ledger_tapes(l, &all, &count, &error));
    assert_int_equal(count, 1);
    assert_near(all->certificate_percent, 0.40, 1e-12); /* as it is now */
    free(all);
    assert_true(isnan(as_kept(*state).certificate_percent)); /* found before the anchor */
    assert_ok(es_ledger_tape(l, "T1", &tape, &error));
    kept = as_kept(*state);
    assert_same_record(ES_RECORD_TAPE, &kept, &tape);
    es_ledger_close(l);
}

static void a_tape_outlives_its_deck_with_its_last_certificate(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_tape_record tape, kept;
    add_deck(l, "A");
    add_anchor_on(l, "A", "tape-length", 0.40, 0.08, "2026-01-10");
    tape = home_made(l, "T1", "A", "2026-01-12");
    assert_ok(es_ledger_remove_deck(l, "A", 1, &error));
    assert_ok(es_ledger_tape(l, "T1", &kept, &error));
    assert_int_equal(kept.recorded_epoch, 0);
    strcpy(kept.notes, "the deck is gone");
    assert_ok(es_ledger_edit_tape(l, &kept, NULL, &error));
    assert_ok(es_ledger_tape(l, "T1", &kept, &error));
    assert_near(kept.certificate_percent, 0.40, 1e-12);
    assert_string_equal(kept.certificate_path, tape.certificate_path);
    assert_string_equal(kept.notes, "the deck is gone");
    es_ledger_close(l);
}

static void a_bought_tape_keeps_what_its_maker_states(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_tape_record tape = es_ledger_blank_tape(), kept;
    strcpy(tape.name, "B1");
    tape.certificate_percent = 0.0;
    assert_refused(es_ledger_add_tape(l, &tape, NULL, &error), ES_ERR_ARG, "bad-uncertainty");
    tape.certificate_u95_percent = 0.0;
    assert_refused(es_ledger_add_tape(l, &tape, NULL, &error), ES_ERR_ARG, "bad-uncertainty");
    tape.certificate_u95_percent = 0.2;
    assert_ok(es_ledger_add_tape(l, &tape, NULL, &error));
    assert_ok(es_ledger_tape(l, "B1", &kept, &error));
    assert_near(kept.certificate_u95_percent, 0.2, 0.0);
    assert_near(kept.certificate_u_percent, 0.2 / 1.959964, 1e-7); /* JCGM 100 table G.2: 1.960 */
    assert_string_equal(kept.certificate_path, "as stated by its maker");
    add_deck(l, "A");
    es_recording recording = {"A", 0, NULL};
    strcpy(tape.name, "B2");
    assert_refused(es_ledger_add_tape(l, &tape, &recording, &error), ES_ERR_ARG, "contradiction");
    es_ledger_close(l);
}

static void a_tape_of_an_untied_deck_can_not_correct(void **state)
{
    const test_place *place = *state;
    es_ledger *l = open_ledger(place, ES_LEDGER_CREATE);
    es_tape_record tape = es_ledger_blank_tape();
    add_deck(l, "A");
    home_made(l, "T1", "A", NULL);
    strcpy(tape.name, "T2");
    assert_ok(es_ledger_add_tape(l, &tape, NULL, &error));
    es_ledger_close(l);
    assert_refused(es_ledger_tape_certificate(place->path, "T1", &tape, &error), ES_ERR_INPUT,
                   "not-tied");
    assert_refused(es_ledger_tape_certificate(place->path, "T2", &tape, &error), ES_ERR_INPUT,
                   "not-tied");
    assert_refused(es_ledger_tape_certificate(place->path, "T3", &tape, &error), ES_ERR_INPUT,
                   "unknown");
}

/* --- plays ---------------------------------------------------------------------------------------- */

static void a_play_knows_its_tape(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    add_deck(l, "B");
    home_made(l, "T1", "A", "2026-01-12");
    assert_ok(es_ledger_adjusted(l, "A", "2026-02-01", "", &error));
    es_play_entry entry = es_ledger_blank_play();
    entry.tape = "T1";
    entry.played_on = "B";
    entry.played_at = "2026-03-01";
    entry.heard_percent = 0.1;
    entry.u_percent = 0.01;
    assert_ok(es_ledger_add_play(l, &entry, NULL, NULL, &error));
    entry.recorded_on = "A"; /* the deck is named as well: still the tape's own epoch */
    assert_ok(es_ledger_add_play(l, &entry, NULL, NULL, &error));
    es_history *h;
    assert_ok(es_ledger_history(l, "B", &h, &error));
    assert_int_equal(h->play_count, 2);
    for (size_t i = 0; i < 2; i++) {
        assert_string_equal(h->plays[i].recorded_deck, "A");
        assert_int_equal(h->plays[i].recorded_number, 1);
        assert_string_equal(h->plays[i].play.recorded_at, "2026-01-12");
        assert_string_equal(h->plays[i].tape, "T1");
    }
    es_history_destroy(h);
    entry.recorded_epoch = 2;
    assert_refused(es_ledger_add_play(l, &entry, NULL, NULL, &error), ES_ERR_INPUT,
                   "contradiction");
    entry.recorded_epoch = 0;
    entry.recorded_on = "B";
    assert_refused(es_ledger_add_play(l, &entry, NULL, NULL, &error), ES_ERR_INPUT,
                   "contradiction");
    es_ledger_close(l);
}

static void a_play_on_the_same_deck_is_explained(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    es_play_entry entry = es_ledger_blank_play();
    const char *sentence = NULL;
    entry.recorded_on = entry.played_on = "A";
    entry.heard_percent = 0.02;
    entry.u_percent = 0.01;
    assert_ok(es_ledger_add_play(l, &entry, NULL, &sentence, &error));
    assert_one_sentence(sentence);
    es_trust_result *r = solve_for(l, NULL);
    assert_int_equal(r->links[0].role, ES_TRUST_DRIFT_CHECK);
    assert_near(r->links[0].normalised, 2.0, 1e-3);
    assert_false(r->decks[0].tied);
    es_trust_result_destroy(r);
    es_ledger_close(l);
}

static void refuses_plays_that_can_not_be(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    add_deck(l, "B");
    es_play_entry good = es_ledger_blank_play(), bad;
    good.recorded_on = "A";
    good.played_on = "B";
    good.heard_percent = 0.02;
    good.u_percent = 0.01;
    bad = good;
    bad.u_percent = 0.0;
    assert_refused(es_ledger_add_play(l, &bad, NULL, NULL, &error), ES_ERR_ARG, "bad-uncertainty");
    bad.u_percent = -0.1;
    assert_refused(es_ledger_add_play(l, &bad, NULL, NULL, &error), ES_ERR_ARG, "bad-uncertainty");
    bad = good;
    bad.heard_percent = (double)NAN;
    assert_refused(es_ledger_add_play(l, &bad, NULL, NULL, &error), ES_ERR_ARG, "bad-value");
    bad = good;
    bad.played_on = "C";
    assert_refused(es_ledger_add_play(l, &bad, NULL, NULL, &error), ES_ERR_INPUT, "unknown");
    bad = good;
    bad.recorded_at = "2026-01-02";
    bad.played_at = "2026-01-01";
    assert_refused(es_ledger_add_play(l, &bad, NULL, NULL, &error), ES_ERR_INPUT, "contradiction");
    bad = good;
    bad.recorded_on = NULL;
    assert_refused(es_ledger_add_play(l, &bad, NULL, NULL, &error), ES_ERR_ARG, "no-recorder");
    es_tape_record tape = es_ledger_blank_tape();
    strcpy(tape.name, "bought");
    assert_ok(es_ledger_add_tape(l, &tape, NULL, &error));
    bad.tape = "bought";
    assert_refused(es_ledger_add_play(l, &bad, NULL, NULL, &error), ES_ERR_INPUT, "bought-tape");
    assert_refused(es_ledger_remove_play(l, 1, &error), ES_ERR_INPUT, "unknown");
    es_ledger_close(l);
}

/* --- anchors -------------------------------------------------------------------------------------- */

/*
 * 100 m in 2091.2 s at 4.7625 cm/s: 100 / (2091.2 x 0.047625) - 1 = +0.4088 %. Parts relative to the
 * speed: rule (0.3 + 0.2 x 100 mm) / 100 m / sqrt 3, marks 0.5 mm / 100 m / sqrt 3, clock 100 ppm /
 * sqrt 3, stretch 0.03 %, repeat 0.02 % (JCGM 100, 4.3.7; docs/trust.md names the sources).
 */
static void an_anchor_follows_from_its_answers(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    add_deck(l, "A");
    es_anchor_entry entry = es_ledger_blank_anchor();
    es_anchor_outcome outcome;
    entry.method = "tape-length";
    entry.answer_count = 2;
    entry.keys[0] = "time_s";
    entry.values[0] = 2091.2;
    entry.keys[1] = "length_m";
    entry.values[1] = 100.0;
    double ratio = 100.0 / (2091.2 * 0.047625);
    double u =
        100.0 * ratio * sqrt((0.000203 * 0.000203 + 5e-6 * 5e-6 + 1e-4 * 1e-4) / 3.0 + 9e-8 + 4e-8);
    assert_ok(es_ledger_add_anchor(l, &entry, "A", 0, "2026-01-10", "by clicks", &outcome, &error));
    assert_near(outcome.anchor.error_percent, 100.0 * (ratio - 1.0), 1e-9);
    assert_near(outcome.anchor.u_percent, u, 1e-9);
    assert_int_equal(outcome.budget_count, 5);
    es_history *h;
    assert_ok(es_ledger_history(l, "A", &h, &error));
    assert_int_equal(h->anchor_count, 1);
    assert_int_equal(h->answer_count, 11);
    assert_int_equal(h->budget_count, 5);
    assert_string_equal(h->anchors->name, "timed tape length");
    assert_string_equal(h->anchors->anchor.note, "by clicks");
    assert_string_equal(h->answers[1].key, "time_s");
    assert_near(h->answers[1].value, 2091.2, 0.0);
    assert_true(isnan(h->answers[3].value)); /* left open: the default */
    assert_string_equal(h->budget[0].what, "rule");
    assert_string_equal(h->budget[0].shape, "rectangular");
    es_history_destroy(h);
    es_ledger_close(l);
}

static void a_stated_anchor_keeps_its_method(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_history *h;
    add_deck(l, "A");
    add_anchor_on(l, "A", "music", -0.65, 0.5, "2026-01-10");
    assert_ok(es_ledger_history(l, "A", &h, &error));
    assert_string_equal(h->anchors->anchor.method, "music");
    assert_near(h->anchors->anchor.u95_percent, 0.5, 1e-12);
    assert_int_equal(h->answer_count, 0);
    es_history_destroy(h);
    es_trust_result *r = solve_for(l, NULL);
    assert_near(r->decks->error_percent, -0.65, 1e-12);
    assert_near(r->decks->u95_percent, 0.5, 1e-9); /* what went in comes out */
    assert_string_equal(r->decks->tied_to, "tied to music against a digital copy on 2026-01-10");
    es_trust_result_destroy(r);
    es_ledger_close(l);
}

/* Somebody else's way to the figure, for which there is no form. */
static void a_stated_anchor_may_have_a_method_of_its_own(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_history *h;
    add_deck(l, "A");
    add_anchor_on(l, "A", "Laser Doppler", 0.1, 0.02, "2026-01-10");
    assert_ok(es_ledger_history(l, "A", &h, &error));
    assert_string_equal(h->anchors->anchor.method, "laser-doppler");
    es_history_destroy(h);
    es_trust_result *r = solve_for(l, NULL);
    assert_string_equal(r->decks->tied_to, "tied to laser-doppler on 2026-01-10");
    es_trust_result_destroy(r);
    es_anchor_entry entry = es_ledger_blank_anchor();
    es_anchor_outcome outcome;
    entry.method = "f\xC3\xBChlung";
    entry.error_percent = entry.u95_percent = 0.1;
    assert_refused(es_ledger_add_anchor(l, &entry, "A", 0, NULL, NULL, &outcome, &error),
                   ES_ERR_INPUT, "bad-value");
    es_ledger_close(l);
}

static void refuses_anchors_that_can_not_be(void **state)
{
    es_ledger *l = open_ledger(*state, ES_LEDGER_CREATE);
    es_anchor_entry entry = es_ledger_blank_anchor(), bad;
    es_anchor_outcome outcome;
    entry.method = "other";
    entry.error_percent = 0.1;
    entry.u95_percent = 0.1;
    bad = entry;
    bad.method = "tape-lenght";
    assert_refused(es_ledger_reckon_anchor(&bad, &outcome, &error), ES_ERR_ARG, "no-method");
    bad.method = "";
    assert_refused(es_ledger_reckon_anchor(&bad, &outcome, &error), ES_ERR_ARG, "no-method");
    bad.method = "guess";
    bad.error_percent = bad.u95_percent = (double)NAN;
    assert_refused(es_ledger_reckon_anchor(&bad, &outcome, &error), ES_ERR_ARG, "no-method");
    bad = entry;
    bad.u95_percent = 0.0;
    assert_refused(es_ledger_reckon_anchor(&bad, &outcome, &error), ES_ERR_ARG, "bad-uncertainty");
    bad.u95_percent = (double)NAN;
    assert_refused(es_ledger_reckon_anchor(&bad, &outcome, &error), ES_ERR_ARG, "half-stated");
    bad = entry;
    bad.answer_count = 1;
    bad.keys[0] = "k";
    bad.values[0] = 2.0;
    assert_refused(es_ledger_reckon_anchor(&bad, &outcome, &error), ES_ERR_ARG, "contradiction");
    bad.error_percent = bad.u95_percent = (double)NAN;
    assert_refused(es_ledger_reckon_anchor(&bad, &outcome, &error), ES_ERR_INPUT, "missing-answer");
    bad.keys[0] = "eror_percent";
    assert_refused(es_ledger_reckon_anchor(&bad, &outcome, &error), ES_ERR_ARG, "no-question");
    assert_refused(es_ledger_add_anchor(l, &entry, "A", 0, NULL, NULL, &outcome, &error),
                   ES_ERR_INPUT, "unknown");
    assert_true(isnan(outcome.anchor.error_percent));
    assert_refused(es_ledger_remove_anchor(l, 7, &error), ES_ERR_INPUT, "unknown");
    es_ledger_close(l);
}

static void every_method_has_a_form(void **state)
{
    (void)state;
    es_anchor_form form, same;
    size_t count = 0;
    for (; es_ledger_anchor_form(count, &form); count++) {
        assert_true(form.question_count > 0);
        assert_ok(es_ledger_anchor_form_named(form.about->key, &same, &error));
        assert_ptr_equal(same.questions, form.questions);
    }
    assert_int_equal(count, 9);
}

#define PLACE(test) cmocka_unit_test_setup_teardown(test, place_setup, place_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE(keeps_decks_by_their_names),
        PLACE(an_unknown_name_is_answered_with_the_nearest),
        PLACE(two_decks_can_not_have_one_name),
        PLACE(a_deck_with_a_history_goes_only_when_asked_twice),
        PLACE(changes_that_begin_together_are_kept_together),
        PLACE(an_adjusted_deck_is_a_new_unknown),
        PLACE(the_day_says_which_epoch_it_was),
        PLACE(what_was_done_after_an_adjustment_goes_over_to_it),
        PLACE(a_home_made_tape_has_its_decks_error),
        PLACE(a_tape_outlives_its_deck_with_its_last_certificate),
        PLACE(a_certificate_is_kept_as_last_found),
        PLACE(a_bought_tape_keeps_what_its_maker_states),
        PLACE(a_tape_of_an_untied_deck_can_not_correct),
        PLACE(a_play_knows_its_tape),
        PLACE(a_play_on_the_same_deck_is_explained),
        PLACE(refuses_plays_that_can_not_be),
        PLACE(an_anchor_follows_from_its_answers),
        PLACE(a_stated_anchor_keeps_its_method),
        PLACE(a_stated_anchor_may_have_a_method_of_its_own),
        PLACE(refuses_anchors_that_can_not_be),
        PLACE(every_method_has_a_form),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
