/* Everything out and in again. */
#include "place.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Records in memory, as a document would hold them. */
typedef struct kept_record {
    es_record_type type;
    es_any_record record;
} kept_record;

typedef struct document {
    kept_record *at;
    size_t count;
} document;

static es_status keep(void *user, const es_record_kind *kind, const void *record)
{
    document *d = user;
    d->at = realloc(d->at, (d->count + 1) * sizeof *d->at);
    assert_non_null(d->at);
    kept_record *kept = &d->at[d->count++];
    kept->type = kind->type;
    memcpy(&kept->record, record, kind->size);
    if (kind->type == ES_RECORD_READING)
        kept->record.reading.document = strdup(kept->record.reading.document);
    return ES_OK;
}

static document take_out(es_store *store)
{
    document d = {0};
    assert_ok(es_store_export(store, keep, &d, &error));
    return d;
}

static void forget(document *d)
{
    for (size_t i = 0; i < d->count; i++)
        if (d->at[i].type == ES_RECORD_READING)
            free((void *)(uintptr_t)d->at[i].record.reading.document);
    free(d->at);
}

static es_store *second_store(const test_place *place)
{
    es_store *store;
    assert_ok(
        es_store_open_patiently(in_folder(place, "second.db"), ES_STORE_CREATE, 0, &store, &error));
    return store;
}

static void assert_same_documents(const document *a, const document *b)
{
    assert_int_equal(a->count, b->count);
    for (size_t i = 0; i < a->count; i++) {
        assert_int_equal(a->at[i].type, b->at[i].type);
        assert_same_record(a->at[i].type, &a->at[i].record, &b->at[i].record);
    }
}

static void put_in(es_store *store, const document *d)
{
    assert_ok(es_store_import_begin(store, &error));
    for (size_t i = 0; i < d->count; i++)
        assert_ok(es_store_import(store, d->at[i].type, &d->at[i].record, &error));
    assert_ok(es_store_import_commit(store, &error));
}

/* --- round trips ------------------------------------------------------------------------------ */

static void exports_every_kind_in_order(void **state)
{
    test_place *place = *state;
    fill_store(place->store, 1);
    document d = take_out(place->store);
    int seen[ES_RECORD_TYPE_COUNT] = {0};
    for (size_t i = 0; i < d.count; i++) {
        seen[d.at[i].type] = 1;
        assert_true(i == 0 || d.at[i - 1].type < d.at[i].type ||
                    (d.at[i - 1].type == d.at[i].type &&
                     d.at[i - 1].record.deck.id < d.at[i].record.deck.id));
    }
    for (int i = 0; i < ES_RECORD_TYPE_COUNT; i++)
        assert_true(seen[i]);
    forget(&d);
}

static void comes_back_exactly(void **state)
{
    test_place *place = *state;
    for (int n = 1; n <= 3; n++)
        fill_store(place->store, n);
    es_deck_record gone = sample_deck(9);
    int64_t id; /* a gap in the numbers has to survive too */
    assert_ok(es_store_add_deck(place->store, &gone, "", &id, &error));
    fill_store(place->store, 4);
    assert_ok(es_store_remove_deck(place->store, id, ES_REMOVE_UNUSED, &error));
    es_store *second = second_store(place);
    document out = take_out(place->store);
    put_in(second, &out);
    document back = take_out(second);
    assert_same_documents(&out, &back);
    forget(&out);
    forget(&back);
    es_store_close(second);
}

static void takes_records_in_any_order(void **state)
{
    test_place *place = *state;
    fill_store(place->store, 1);
    es_store *second = second_store(place);
    document out = take_out(place->store);
    for (size_t i = 0; i < out.count / 2; i++) {
        kept_record swap = out.at[i];
        out.at[i] = out.at[out.count - 1 - i];
        out.at[out.count - 1 - i] = swap;
    }
    put_in(second, &out);
    forget(&out);
    document a = take_out(place->store), b = take_out(second);
    assert_same_documents(&a, &b);
    forget(&a);
    forget(&b);
    es_store_close(second);
}

/* --- into records that hold something --------------------------------------------------------- */

static void moves_numbers_up_behind_those_that_are_there(void **state)
{
    test_place *place = *state;
    fill_store(place->store, 1);
    fill_store(place->store, 2);
    es_store *second = second_store(place);
    fill_store(second, 3);
    document out = take_out(place->store), before = take_out(second);
    put_in(second, &out);
    document after = take_out(second);
    assert_int_equal(after.count, out.count + before.count);
    es_deck_record deck;
    es_job_record *jobs;
    es_reading_record reading;
    size_t count;
    assert_ok(es_store_deck_named(second, "deck 2", &deck, &error));
    assert_int_equal(deck.id, 3);
    assert_ok(es_store_list_jobs(second, deck.id, &jobs, &count, &error));
    assert_int_equal(count, 1);
    assert_ok(es_store_show_reading(second, jobs[0].as_found, &reading, NULL, &error));
    assert_true(reading.deck == deck.id && reading.job == jobs[0].id);
    es_tape_record tape;
    assert_ok(es_store_show_tape(second, reading.tape, &tape, &error));
    assert_string_equal(tape.name, "tape 2");
    free(jobs);
    forget(&out);
    forget(&before);
    forget(&after);
    es_store_close(second);
}

static void refuses_a_deck_that_is_there_already(void **state)
{
    test_place *place = *state;
    fill_store(place->store, 1);
    document out = take_out(place->store);
    assert_ok(es_store_import_begin(place->store, &error));
    assert_refused(es_store_import(place->store, out.at[0].type, &out.at[0].record, &error),
                   ES_ERR_INPUT, "name-taken");
    assert_int_equal(es_store_import_rollback(place->store), ES_OK);
    document after = take_out(place->store);
    assert_same_documents(&out, &after);
    forget(&out);
    forget(&after);
}

/* --- rubbish ---------------------------------------------------------------------------------- */

static void put_in_all_but(es_store *store, const document *d, size_t without)
{
    assert_ok(es_store_import_begin(store, &error));
    for (size_t i = 0; i < d->count; i++)
        if (i != without)
            assert_ok(es_store_import(store, d->at[i].type, &d->at[i].record, &error));
}

static int others_refer_to(es_record_type type)
{
    return type <= ES_RECORD_READING || type == ES_RECORD_ANCHOR;
}

static void refuses_a_document_in_which_a_record_is_missing(void **state)
{
    test_place *place = *state;
    fill_store(place->store, 1);
    document out = take_out(place->store);
    es_store *second = second_store(place);
    size_t refused = 0;
    for (size_t without = 0; without < out.count; without++) {
        if (!others_refer_to(out.at[without].type))
            continue;
        put_in_all_but(second, &out, without);
        assert_refused(es_store_import_commit(second, &error), ES_ERR_INPUT, "unknown");
        document after = take_out(second);
        assert_int_equal(after.count, 0);
        refused++;
    }
    assert_int_equal(refused, 7); /* deck, two epochs, tape, job, reading, anchor */
    forget(&out);
    es_store_close(second);
}

static void refuses_a_deck_without_an_epoch(void **state)
{
    test_place *place = *state;
    es_deck_record deck = sample_deck(1);
    deck.id = 4;
    assert_ok(es_store_import_begin(place->store, &error));
    assert_ok(es_store_import(place->store, ES_RECORD_DECK, &deck, &error));
    assert_refused(es_store_import_commit(place->store, &error), ES_ERR_INPUT, "contradiction");
    document after = take_out(place->store);
    assert_int_equal(after.count, 0);
    assert_refused(es_store_import_commit(place->store, &error), ES_ERR_ARG, "no-transaction");
}

static void refuses_numbers_out_of_range(void **state)
{
    test_place *place = *state;
    const int64_t ids[] = {0, -1, INT64_MIN, INT64_MAX, 9007199254740992};
    assert_ok(es_store_import_begin(place->store, &error));
    for (size_t i = 0; i < COUNT(ids); i++) {
        es_deck_record deck = sample_deck(1);
        deck.id = ids[i];
        assert_refused(es_store_import(place->store, ES_RECORD_DECK, &deck, &error), ES_ERR_INPUT,
                       "bad-value");
    }
    es_deck_record deck = sample_deck(1), other = sample_deck(2);
    deck.id = other.id = 9007199254740991;
    assert_ok(es_store_import(place->store, ES_RECORD_DECK, &deck, &error));
    assert_refused(es_store_import(place->store, ES_RECORD_DECK, &other, &error), ES_ERR_INPUT,
                   "contradiction");
    assert_int_equal(es_store_import_rollback(place->store), ES_OK);
    assert_refused(es_store_import(place->store, ES_RECORD_DECK, &deck, &error), ES_ERR_ARG,
                   "no-transaction");
}

static void refuses_a_reading_that_mixes_decks(void **state)
{
    test_place *place = *state;
    fill_store(place->store, 1);
    fill_store(place->store, 2);
    document out = take_out(place->store);
    es_store *second = second_store(place);
    assert_ok(es_store_import_begin(second, &error));
    for (size_t i = 0; i < out.count; i++) {
        if (out.at[i].type == ES_RECORD_READING && out.at[i].record.reading.id == 2)
            out.at[i].record.reading.epoch = 1;
        assert_ok(es_store_import(second, out.at[i].type, &out.at[i].record, &error));
    }
    assert_refused(es_store_import_commit(second, &error), ES_ERR_INPUT, "unknown");
    document after = take_out(second);
    assert_int_equal(after.count, 0);
    forget(&out);
    es_store_close(second);
}

/* --- while it runs ---------------------------------------------------------------------------- */

static es_status try_to_write(void *user, const es_record_kind *kind, const void *record)
{
    (void)kind;
    (void)record;
    es_deck_record deck = sample_deck(5);
    assert_refused(es_store_add_deck(user, &deck, "", NULL, &error), ES_ERR_ARG, "exporting");
    return ES_ERR_SPACE;
}

static void ends_when_the_visitor_says_so(void **state)
{
    test_place *place = *state;
    fill_store(place->store, 1);
    assert_int_equal(es_store_export(place->store, try_to_write, place->store, NULL), ES_ERR_SPACE);
    es_deck_record deck = sample_deck(5);
    assert_ok(es_store_add_deck(place->store, &deck, "", NULL, &error));
}

typedef struct meanwhile {
    es_store *writer;
    size_t decks, epochs;
} meanwhile;

static es_status write_beside(void *user, const es_record_kind *kind, const void *record)
{
    (void)record;
    meanwhile *m = user;
    es_deck_record deck = sample_deck(100 + (int)m->decks);
    m->epochs += kind->type == ES_RECORD_EPOCH;
    if (kind->type != ES_RECORD_DECK)
        return ES_OK;
    m->decks++;
    assert_ok(es_store_add_deck(m->writer, &deck, "", NULL, &error));
    return ES_OK;
}

static void exports_one_moment_while_another_program_writes(void **state)
{
    test_place *place = *state;
    fill_store(place->store, 1);
    fill_store(place->store, 2);
    meanwhile m = {0};
    assert_ok(es_store_open_patiently(place->path, ES_STORE_WRITE, 0, &m.writer, &error));
    assert_ok(es_store_export(place->store, write_beside, &m, &error));
    assert_int_equal(m.decks, 2);
    assert_int_equal(m.epochs, 4); /* two each, and none of the decks that came meanwhile */
    es_store_close(m.writer);
    document after = take_out(place->store);
    assert_true(after.at[2].type == ES_RECORD_DECK && after.at[3].type == ES_RECORD_DECK);
    forget(&after);
}

#define WITH(test) cmocka_unit_test_setup_teardown(test, place_setup_with_store, place_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(exports_every_kind_in_order),
        WITH(comes_back_exactly),
        WITH(takes_records_in_any_order),
        WITH(moves_numbers_up_behind_those_that_are_there),
        WITH(refuses_a_deck_that_is_there_already),
        WITH(refuses_a_document_in_which_a_record_is_missing),
        WITH(refuses_a_deck_without_an_epoch),
        WITH(refuses_numbers_out_of_range),
        WITH(refuses_a_reading_that_mixes_decks),
        WITH(ends_when_the_visitor_says_so),
        WITH(exports_one_moment_while_another_program_writes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
