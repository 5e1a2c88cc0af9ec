/* Decks and epochs. */
#include "place.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void keeps_a_deck_as_it_was_given(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck = sample_deck(1), kept, named;
    int64_t id;
    assert_ok(es_store_add_deck(store, &deck, "", &id, &error));
    assert_int_equal(id, 1);
    deck.id = id;
    assert_ok(es_store_show_deck(store, id, &kept, &error));
    assert_same_record(ES_RECORD_DECK, &kept, &deck);
    assert_ok(es_store_deck_named(store, "deck 1", &named, &error));
    assert_same_record(ES_RECORD_DECK, &named, &deck);
}

static void keeps_unknown_sizes_unknown(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck, kept;
    es_record_blank(ES_RECORD_DECK, &deck);
    strcpy(deck.name, "bare");
    strcpy(deck.transport, "reel-19");
    int64_t id;
    assert_ok(es_store_add_deck(store, &deck, "", &id, &error));
    assert_ok(es_store_show_deck(store, id, &kept, &error));
    assert_true(isnan(kept.speed_m_s) && isnan(kept.capstan_m) && isnan(kept.hub_radius_m));
    assert_string_equal(kept.notes, "");
}

static void lists_decks_in_order_of_id(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record *decks;
    size_t count;
    assert_ok(es_store_list_decks(store, &decks, &count, &error));
    assert_int_equal(count, 0);
    assert_null(decks);
    for (int n = 40; n > 0; n--) {
        es_deck_record deck = sample_deck(n);
        assert_ok(es_store_add_deck(store, &deck, "", NULL, &error));
    }
    assert_ok(es_store_list_decks(store, &decks, &count, &error));
    assert_int_equal(count, 40);
    for (size_t i = 0; i < count; i++) {
        es_deck_record wanted = sample_deck(40 - (int)i);
        wanted.id = (int64_t)i + 1;
        assert_same_record(ES_RECORD_DECK, &decks[i], &wanted);
    }
    free(decks);
}

static void edits_every_field_of_a_deck(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck = sample_deck(1), other = sample_deck(2), kept;
    int64_t id;
    assert_ok(es_store_add_deck(store, &deck, "", &id, &error));
    other.id = id;
    other.belt_m = (double)NAN;
    other.notes[0] = '\0';
    assert_ok(es_store_edit_deck(store, &other, &error));
    assert_ok(es_store_show_deck(store, id, &kept, &error));
    assert_same_record(ES_RECORD_DECK, &kept, &other);
}

static void refuses_a_second_deck_of_one_name(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck = sample_deck(1), other = sample_deck(2), kept;
    int64_t id, second;
    assert_ok(es_store_add_deck(store, &deck, "", NULL, &error));
    assert_refused(es_store_add_deck(store, &deck, "", &id, &error), ES_ERR_INPUT, "name-taken");
    assert_int_equal(id, 0);
    assert_ok(es_store_add_deck(store, &other, "", &second, &error));
    deck.id = second;
    assert_refused(es_store_edit_deck(store, &deck, &error), ES_ERR_INPUT, "name-taken");
    assert_ok(es_store_show_deck(store, second, &kept, &error));
    assert_string_equal(kept.name, "deck 2");
    es_epoch_record *epochs;
    size_t count;
    assert_ok(es_store_list_epochs(store, 0, &epochs, &count, &error));
    assert_int_equal(count, 2); /* none of a deck that was refused */
    free(epochs);
}

static void refuses_decks_that_are_not_there(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck = sample_deck(1), kept;
    assert_refused(es_store_show_deck(store, 7, &kept, &error), ES_ERR_INPUT, "unknown");
    assert_true(kept.id == 0 && isnan(kept.belt_m) && kept.name[0] == '\0');
    assert_refused(es_store_deck_named(store, "nobody", &kept, &error), ES_ERR_INPUT, "unknown");
    deck.id = 7;
    assert_refused(es_store_edit_deck(store, &deck, &error), ES_ERR_INPUT, "unknown");
    assert_refused(es_store_remove_deck(store, 7, ES_REMOVE_UNUSED, &error), ES_ERR_INPUT,
                   "unknown");
    assert_refused(es_store_remove_deck(store, 7, ES_REMOVE_WITH_HISTORY, &error), ES_ERR_INPUT,
                   "unknown");
}

/* --- epochs ----------------------------------------------------------------------------------- */

static void gives_every_deck_its_first_epoch(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck = sample_deck(1);
    es_epoch_record epoch;
    int64_t id;
    assert_ok(es_store_add_deck(store, &deck, "2020-02-29", &id, &error));
    assert_ok(es_store_latest_epoch(store, id, &epoch, &error));
    assert_true(epoch.deck == id && epoch.number == 1 && isnan(epoch.walk_percent));
    assert_string_equal(epoch.began, "2020-02-29");
    assert_refused(es_store_add_deck(store, &(es_deck_record){.name = "x"}, "", &id, &error),
                   ES_ERR_INPUT, "bad-value");
    deck = sample_deck(2);
    assert_refused(es_store_add_deck(store, &deck, "yesterday", &id, &error), ES_ERR_INPUT,
                   "bad-value");
    assert_refused(es_store_deck_named(store, "deck 2", &deck, &error), ES_ERR_INPUT, "unknown");
}

static void starts_a_new_epoch_when_a_deck_was_adjusted(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck = sample_deck(1);
    es_epoch_record epoch = {.number = 77, .walk_percent = 0.1, .why = "belt"}, kept, *all;
    assert_ok(es_store_add_deck(store, &deck, "", &epoch.deck, &error));
    int64_t id;
    assert_ok(es_store_start_epoch(store, &epoch, &id, &error));
    assert_ok(es_store_latest_epoch(store, epoch.deck, &kept, &error));
    epoch.id = id;
    epoch.number = 2;
    assert_same_record(ES_RECORD_EPOCH, &kept, &epoch);
    size_t count;
    assert_ok(es_store_list_epochs(store, epoch.deck, &all, &count, &error));
    assert_int_equal(count, 2);
    free(all);
    assert_refused(es_store_start_epoch(store, &epoch, &id, &error), ES_ERR_ARG, "has-id");
    epoch.id = 0;
    epoch.deck = 99;
    assert_refused(es_store_start_epoch(store, &epoch, &id, &error), ES_ERR_INPUT, "unknown");
    assert_refused(es_store_latest_epoch(store, 99, &kept, &error), ES_ERR_INPUT, "unknown");
}

static void edits_an_epoch_but_not_its_place(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck = sample_deck(1);
    int64_t id;
    es_epoch_record epoch, kept;
    assert_ok(es_store_add_deck(store, &deck, "", &id, &error));
    assert_ok(es_store_latest_epoch(store, id, &epoch, &error));
    epoch.walk_percent = 0.0;
    strcpy(epoch.began, "2025-12-31");
    assert_ok(es_store_edit_epoch(store, &epoch, &error));
    assert_ok(es_store_show_epoch(store, epoch.id, &kept, &error));
    assert_same_record(ES_RECORD_EPOCH, &kept, &epoch);
    epoch.number = 2;
    assert_refused(es_store_edit_epoch(store, &epoch, &error), ES_ERR_INPUT, "contradiction");
    epoch.walk_percent = -1.0;
    epoch.number = 1;
    assert_refused(es_store_edit_epoch(store, &epoch, &error), ES_ERR_INPUT, "bad-value");
}

static void removes_only_the_latest_epoch(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck = sample_deck(1);
    es_epoch_record epoch = {.walk_percent = (double)NAN}, first;
    int64_t second, third;
    assert_ok(es_store_add_deck(store, &deck, "", &epoch.deck, &error));
    assert_ok(es_store_latest_epoch(store, epoch.deck, &first, &error));
    assert_ok(es_store_start_epoch(store, &epoch, &second, &error));
    assert_ok(es_store_start_epoch(store, &epoch, &third, &error));
    assert_refused(es_store_remove_epoch(store, second, ES_REMOVE_UNUSED, &error), ES_ERR_INPUT,
                   "not-latest");
    assert_ok(es_store_remove_epoch(store, third, ES_REMOVE_UNUSED, &error));
    assert_ok(es_store_remove_epoch(store, second, ES_REMOVE_UNUSED, &error));
    assert_refused(es_store_remove_epoch(store, first.id, ES_REMOVE_UNUSED, &error), ES_ERR_INPUT,
                   "not-latest");
}

/* --- removing --------------------------------------------------------------------------------- */

static es_status count_one(void *user, const es_record_kind *kind, const void *record)
{
    (void)record;
    ((size_t *)user)[kind->type]++;
    return ES_OK;
}

static size_t records_of(es_store *store, size_t counts[ES_RECORD_TYPE_COUNT])
{
    size_t total = 0;
    memset(counts, 0, ES_RECORD_TYPE_COUNT * sizeof *counts);
    assert_ok(es_store_export(store, count_one, counts, &error));
    for (int i = 0; i < ES_RECORD_TYPE_COUNT; i++)
        total += counts[i];
    return total;
}

static void removes_an_unused_deck_with_its_epoch(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    es_deck_record deck = sample_deck(1);
    size_t counts[ES_RECORD_TYPE_COUNT];
    int64_t id, next;
    assert_ok(es_store_add_deck(store, &deck, "", &id, &error));
    assert_ok(es_store_remove_deck(store, id, ES_REMOVE_UNUSED, &error));
    assert_int_equal(records_of(store, counts), 0);
    assert_ok(es_store_add_deck(store, &deck, "", &next, &error));
    assert_true(next > id); /* a number on paper never means another deck */
}

static void says_what_still_uses_a_deck(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    size_t counts[ES_RECORD_TYPE_COUNT];
    int64_t id = fill_store(store, 1);
    size_t before = records_of(store, counts);
    es_error error = {0};
    assert_int_equal(es_store_remove_deck(store, id, ES_REMOVE_UNUSED, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "still-used");
    assert_non_null(strstr(error.text, "(1 tape, 1 job, 1 reading, 1 play, 1 anchor)"));
    assert_int_equal(records_of(store, counts), before);
}

static void removes_a_deck_with_its_history_and_nothing_else(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    size_t counts[ES_RECORD_TYPE_COUNT];
    int64_t first = fill_store(store, 1);
    fill_store(store, 2);
    size_t before = records_of(store, counts);
    assert_ok(es_store_remove_deck(store, first, ES_REMOVE_WITH_HISTORY, &error));
    size_t after = records_of(store, counts);
    assert_int_equal(counts[ES_RECORD_TAPE], 2); /* the tape stays ... */
    assert_int_equal(after, before / 2 + 1);     /* ... and all of the other deck */
    es_tape_record tape;
    assert_ok(es_store_tape_named(store, "tape 1", &tape, &error));
    assert_int_equal(tape.recorded_epoch, 0);
    assert_near(tape.certificate_percent, 0.4 + 1.0 / 7.0, 0.0);
}

static void undoes_all_of_a_transaction(void **state)
{
    es_store *store = ((test_place *)*state)->store;
    size_t counts[ES_RECORD_TYPE_COUNT];
    assert_ok(es_store_begin(store, &error));
    assert_refused(es_store_begin(store, &error), ES_ERR_ARG, "nested");
    fill_store(store, 1);
    assert_int_equal(es_store_rollback(store), ES_OK);
    assert_int_equal(records_of(store, counts), 0);
    assert_int_equal(es_store_rollback(store), ES_ERR_ARG);
    assert_refused(es_store_commit(store, &error), ES_ERR_ARG, "no-transaction");
}

static void goes_on_after_a_refusal_within_a_transaction(void **state)
{
    test_place *place = *state;
    es_store *store = place->store;
    es_deck_record deck = sample_deck(1), kept;
    assert_ok(es_store_begin(store, &error));
    int64_t id = fill_store(store, 1);
    assert_refused(es_store_add_deck(store, &deck, "", NULL, &error), ES_ERR_INPUT, "name-taken");
    assert_refused(es_store_remove_deck(store, id, ES_REMOVE_UNUSED, &error), ES_ERR_INPUT,
                   "still-used");
    es_job_record job = sample_job(id);
    es_nudge_record nudges[] = {sample_nudge(1), sample_nudge(2)}, *none;
    nudges[1].time_s = -1.0; /* the first must go with the second */
    assert_ok(es_store_add_job(store, &job, &job.id, &error));
    assert_refused(es_store_add_nudges(store, job.id, nudges, 2, &error), ES_ERR_INPUT,
                   "bad-value");
    assert_refused(es_store_remove_deck(store, id, ES_REMOVE_UNUSED, &error), ES_ERR_INPUT,
                   "still-used");
    fill_store(store, 2);
    assert_ok(es_store_commit(store, &error));
    es_store_close(store);
    place->store = NULL;
    assert_ok(es_store_open(place->path, ES_STORE_READ, &place->store, &error));
    size_t count;
    assert_ok(es_store_list_nudges(place->store, job.id, &none, &count, &error));
    assert_int_equal(count, 0);
    assert_ok(es_store_deck_named(place->store, "deck 1", &kept, &error));
    assert_ok(es_store_deck_named(place->store, "deck 2", &kept, &error));
}

#define WITH(test) cmocka_unit_test_setup_teardown(test, place_setup_with_store, place_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(keeps_a_deck_as_it_was_given),
        WITH(keeps_unknown_sizes_unknown),
        WITH(lists_decks_in_order_of_id),
        WITH(edits_every_field_of_a_deck),
        WITH(refuses_a_second_deck_of_one_name),
        WITH(refuses_decks_that_are_not_there),
        WITH(gives_every_deck_its_first_epoch),
        WITH(starts_a_new_epoch_when_a_deck_was_adjusted),
        WITH(edits_an_epoch_but_not_its_place),
        WITH(removes_only_the_latest_epoch),
        WITH(removes_an_unused_deck_with_its_epoch),
        WITH(says_what_still_uses_a_deck),
        WITH(removes_a_deck_with_its_history_and_nothing_else),
        WITH(undoes_all_of_a_transaction),
        WITH(goes_on_after_a_refusal_within_a_transaction),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
