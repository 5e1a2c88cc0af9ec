/* A folder of its own for each test, sample records, and records compared field by field. */
#ifndef ES_TESTS_PLACE_H
#define ES_TESTS_PLACE_H

#include "cm.h"

#include "evenspool/base/record_kinds.h"
#include "store/anchors.h"
#include "store/decks.h"
#include "store/exchange.h"
#include "store/jobs.h"
#include "store/plays.h"
#include "store/readings.h"
#include "store/store.h"
#include "store/tapes.h"

typedef struct test_place {
    char folder[128]; /* below TMPDIR, or /tmp */
    char path[160];   /* folder/records.db */
    es_store *store;
} test_place;

/* cmocka's setup and teardown; _with_store opens it, without a wait for others. */
int place_setup(void **state);
int place_setup_with_store(void **state);
int place_teardown(void **state);

/* The sentence is shown when the call fails. */
#define assert_ok(call)                                                                            \
    do {                                                                                           \
        es_error error = {0};                                                                      \
        if ((call) != ES_OK)                                                                       \
            fail_msg("%s: %s", error.code, error.text);                                            \
    } while (0)

/* Fails with that status and code, and says one whole sentence. `error` is the call's argument. */
#define assert_refused(call, wanted_status, wanted_code)                                           \
    do {                                                                                           \
        es_error error = {0};                                                                      \
        assert_int_equal((call), (wanted_status));                                                 \
        assert_int_equal(error.status, (wanted_status));                                           \
        assert_string_equal(error.code, (wanted_code));                                            \
        assert_one_sentence(error.text);                                                           \
    } while (0)
void assert_one_sentence(const char *text);

/* Every field: numbers to the bit (NaN like NaN), documents by their text. */
void assert_same_record(es_record_type type, const void *a, const void *b);

/* Samples with every field filled in; `n` makes them differ. References are the caller's. */
es_deck_record sample_deck(int n);
es_tape_record sample_tape(int n);
es_job_record sample_job(int64_t deck);
es_reading_record sample_reading(int64_t deck);
es_nudge_record sample_nudge(int n);
es_play_record sample_play(int64_t recorded_on, int64_t played_on);
es_anchor_record sample_anchor(int64_t epoch);
es_answer_record sample_answer(int n);
es_budget_record sample_budget(int n);

/* One of everything, all references used; returns the deck's id. */
int64_t fill_store(es_store *store, int n);

/* Bytes of a file, with the count; freed by the caller. NULL: there is none. */
unsigned char *file_bytes(const char *path, size_t *count);
void write_bytes(const char *path, const void *bytes, size_t count);
int file_is(const char *path, const unsigned char *bytes, size_t count);
/* How many entries the folder has. */
size_t folder_entries(const char *folder);
/* folder/name, static storage. */
const char *in_folder(const test_place *place, const char *name);

/* Runs work as a person without special rights (root may write anywhere); returns its result. */
int as_ordinary_person(const test_place *place, int (*work)(const test_place *place));

#endif
