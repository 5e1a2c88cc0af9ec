/* Records files with bytes changed, cut off or overwritten. */
#include "place.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define FLIPS 600
#define PAGE 4096

typedef struct whole_file {
    unsigned char *bytes;
    size_t count;
} whole_file;

static whole_file make_records(test_place *place)
{
    whole_file file;
    assert_ok(es_store_open_patiently(place->path, ES_STORE_CREATE, 0, &place->store, &error));
    for (int n = 1; n <= 5; n++)
        fill_store(place->store, n);
    es_store_close(place->store);
    place->store = NULL;
    file.bytes = file_bytes(place->path, &file.count);
    return file;
}

static es_status look_away(void *user, const es_record_kind *kind, const void *record)
{
    (void)user;
    (void)kind;
    (void)record;
    return ES_OK;
}

static int is_one_of(const char *code)
{
    return strcmp(code, "damaged-records") == 0 || strcmp(code, "not-records") == 0 ||
           strcmp(code, "newer-records") == 0 || strcmp(code, "disk-failed") == 0;
}

/* Opens and reads all of it. 1: refused; then the file is as it was and nothing stands beside it. */
static int refused(test_place *place, const unsigned char *bytes, size_t count)
{
    es_error error = {0};
    es_store *store;
    es_status status = es_store_open_patiently(place->path, ES_STORE_WRITE, 0, &store, &error);
    if (status == ES_OK)
        status = es_store_export(store, look_away, NULL, &error);
    es_store_close(store);
    if (status == ES_OK)
        return 0;
    if (!is_one_of(error.code))
        fail_msg("%s: %s", error.code, error.text);
    assert_one_sentence(error.text);
    assert_true(file_is(place->path, bytes, count));
    assert_int_equal(folder_entries(place->folder), 1);
    return 1;
}

static void is_refused_or_whole_after_any_flipped_byte(void **state)
{
    test_place *place = *state;
    whole_file file = make_records(place);
    uint64_t seed = 1;
    int refusals = 0;
    for (int i = 0; i < FLIPS; i++) {
        seed = seed * 6364136223846793005u + 1442695040888963407u;
        size_t at = (size_t)(seed >> 33) % file.count;
        /* every third into the first bytes of a page, where what it is stands written */
        if (i % 3 == 0)
            at = at / PAGE * PAGE + at % 32;
        unsigned char was = file.bytes[at];
        file.bytes[at] ^= (unsigned char)(1u << (seed >> 61));
        write_bytes(place->path, file.bytes, file.count);
        refusals += refused(place, file.bytes, file.count);
        file.bytes[at] = was;
    }
    assert_true(refusals > FLIPS / 20);
    print_message("%d of %d flipped bytes were noticed\n", refusals, FLIPS);
    free(file.bytes);
}

static void refuses_a_file_that_is_cut_off(void **state)
{
    test_place *place = *state;
    whole_file file = make_records(place);
    for (size_t count = 1; count < file.count; count += count < 200 ? 33 : 1537) {
        write_bytes(place->path, file.bytes, count);
        assert_true(refused(place, file.bytes, count));
    }
    write_bytes(place->path, file.bytes, file.count);
    assert_false(refused(place, file.bytes, file.count));
    free(file.bytes);
}

static void refuses_a_file_with_any_page_overwritten(void **state)
{
    test_place *place = *state;
    whole_file file = make_records(place);
    assert_int_equal(file.count % PAGE, 0);
    for (size_t page = 0; page < file.count / PAGE; page++) {
        unsigned char kept[PAGE];
        memcpy(kept, file.bytes + page * PAGE, PAGE);
        memset(file.bytes + page * PAGE, 0xA5, PAGE);
        write_bytes(place->path, file.bytes, file.count);
        if (!refused(place, file.bytes, file.count))
            fail_msg("page %zu", page + 1);
        memset(file.bytes + page * PAGE, 0, PAGE);
        write_bytes(place->path, file.bytes, file.count);
        if (!refused(place, file.bytes, file.count))
            fail_msg("page %zu of zeros", page + 1);
        memcpy(file.bytes + page * PAGE, kept, PAGE);
    }
    free(file.bytes);
}

/* What another program wrote into the tables: longer than a record holds, or with a zero inside. */
static void refuses_texts_that_fit_no_record(void **state)
{
    test_place *place = *state;
    const char *harm[] = {"UPDATE deck SET name = printf('%0256d', 1) WHERE id = 1",
                          "UPDATE deck SET notes = 'a' || char(0) || 'b' WHERE id = 1"};
    for (size_t i = 0; i < COUNT(harm); i++) {
        es_deck_record deck, *all;
        size_t count;
        sqlite3 *db;
        unlink(place->path);
        whole_file file = make_records(place);
        free(file.bytes);
        assert_int_equal(sqlite3_open(place->path, &db), SQLITE_OK);
        assert_int_equal(sqlite3_exec(db, harm[i], NULL, NULL, NULL), SQLITE_OK);
        sqlite3_close(db);
        assert_ok(es_store_open_patiently(place->path, ES_STORE_READ, 0, &place->store, &error));
        assert_refused(es_store_show_deck(place->store, 1, &deck, &error), ES_ERR_IO,
                       "damaged-records");
        assert_refused(es_store_list_decks(place->store, &all, &count, &error), ES_ERR_IO,
                       "damaged-records");
        assert_ok(es_store_show_deck(place->store, 2, &deck, &error));
        es_store_close(place->store);
        place->store = NULL;
    }
}

/* A log of nonsense holds nothing that was acknowledged: SQLite's checksums set it aside. */
static void is_not_misled_by_a_broken_log(void **state)
{
    test_place *place = *state;
    whole_file file = make_records(place);
    unsigned char rubbish[9000];
    for (size_t i = 0; i < sizeof rubbish; i++)
        rubbish[i] = (unsigned char)(i * 7 + i / 256);
    write_bytes(in_folder(place, "records.db-wal"), rubbish, sizeof rubbish);
    es_deck_record deck;
    assert_ok(es_store_open_patiently(place->path, ES_STORE_WRITE, 0, &place->store, &error));
    assert_ok(es_store_deck_named(place->store, "deck 5", &deck, &error));
    free(file.bytes);
}

#define WITH(test) cmocka_unit_test_setup_teardown(test, place_setup, place_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(is_refused_or_whole_after_any_flipped_byte),
        WITH(refuses_a_file_that_is_cut_off),
        WITH(refuses_a_file_with_any_page_overwritten),
        WITH(refuses_texts_that_fit_no_record),
        WITH(is_not_misled_by_a_broken_log),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
