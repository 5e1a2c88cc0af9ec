/* Older records brought up to date. Fixtures: fixtures/vN.sql, a file as version N wrote it. */
#include "place.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

static void run(sqlite3 *db, const char *sql)
{
    char *said = NULL;
    if (sqlite3_exec(db, sql, NULL, NULL, &said) != SQLITE_OK)
        fail_msg("%s", said);
}

static void make_old(const char *path, int version)
{
    char fixture[256];
    size_t count;
    snprintf(fixture, sizeof fixture, ES_FIXTURES "/v%d.sql", version);
    unsigned char *sql = file_bytes(fixture, &count);
    assert_non_null(sql);
    sql[count] = '\0';
    sqlite3 *db;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    run(db, (const char *)sql);
    run(db, "PRAGMA journal_mode = WAL");
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
    free(sql);
}

/* All that a query gives, as one text. The caller frees it. */
static char *answer(const char *path, const char *sql)
{
    sqlite3 *db;
    sqlite3_stmt *statement;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
    char *all = strdup("");
    while (sqlite3_step(statement) == SQLITE_ROW)
        for (int i = 0; i < sqlite3_column_count(statement); i++) {
            const char *text = (const char *)sqlite3_column_text(statement, i);
            char *longer = sqlite3_mprintf("%s|%s", all, text ? text : "NULL");
            free(all);
            all = strdup(longer);
            sqlite3_free(longer);
        }
    sqlite3_finalize(statement);
    sqlite3_close(db);
    return all;
}

static void assert_answers_alike(const char *a, const char *b, const char *sql)
{
    char path_a[320], path_b[320];
    snprintf(path_a, sizeof path_a, "%s", a);
    snprintf(path_b, sizeof path_b, "%s", b);
    char *one = answer(path_a, sql), *other = answer(path_b, sql);
    assert_true(strlen(one) > 1);
    assert_string_equal(one, other);
    free(one);
    free(other);
}

static void open_to_write(test_place *place)
{
    assert_ok(es_store_open_patiently(place->path, ES_STORE_WRITE, 0, &place->store, &error));
}

/* --- every earlier version -------------------------------------------------------------------- */

static void brings_every_earlier_version_up_to_date(void **state)
{
    test_place *place = *state;
    char fresh[320];
    snprintf(fresh, sizeof fresh, "%s", in_folder(place, "fresh.db"));
    es_store *store;
    assert_ok(es_store_open(fresh, ES_STORE_CREATE, &store, &error));
    es_store_close(store);
    assert_true(es_store_schema_version() >= 3);
    for (int version = 1; version < es_store_schema_version(); version++) {
        char old[320];
        snprintf(old, sizeof old, "%s/old-%d.db", place->folder, version);
        make_old(old, version);
        assert_ok(es_store_open(old, ES_STORE_WRITE, &store, &error));
        fill_store(store, 77); /* and it works */
        es_store_close(store);
        assert_answers_alike(old, fresh,
                             "SELECT type, name, tbl_name, sql FROM sqlite_schema"
                             " ORDER BY type, name");
        assert_answers_alike(old, fresh, "SELECT * FROM pragma_user_version");
        assert_answers_alike(old, fresh, "SELECT * FROM pragma_application_id");
    }
}

/* --- version 1 -------------------------------------------------------------------------------- */

/* What both versions have of these, whatever columns came later. */
#define JOBS "SELECT id, deck, opened_at, closed_at, asked, as_found, as_left FROM job ORDER BY id"
#define READINGS                                                                                   \
    ("SELECT id, deck, epoch, job, tape, taken_at, schema, error_percent, u95_percent,"            \
     " weighted_quasi_peak_percent, capture, capture_sha256, document FROM reading ORDER BY id")
#define NUDGES "SELECT id, job, place, time_s, size_percent, overshoot FROM nudge ORDER BY id"

/* Brings a file of that version up to date: what is asked for is the same in its copy and in it. */
static void assert_kept(test_place *place, int version, const char *const kept[], size_t count)
{
    make_old(place->path, version);
    open_to_write(place);
    es_store_close(place->store);
    place->store = NULL;
    char copy[320];
    snprintf(copy, sizeof copy, "%s.version-%d", place->path, version);
    for (size_t i = 0; i < count; i++)
        assert_answers_alike(copy, place->path, kept[i]);
}

static void keeps_all_that_version_1_held(void **state)
{
    const char *kept[] = {
        "SELECT * FROM deck ORDER BY id",
        "SELECT id, deck, number, began, why FROM epoch ORDER BY id",
        "SELECT * FROM tape ORDER BY id",
        JOBS,
        READINGS,
        NUDGES,
        "SELECT * FROM play ORDER BY id",
        "SELECT id, epoch, method, made_at, error_percent, u_percent, dof FROM anchor ORDER BY id",
        "SELECT id, u95_percent, note FROM anchor ORDER BY id",
        "SELECT * FROM answer ORDER BY id",
        "SELECT * FROM budget ORDER BY id",
    };
    assert_kept(*state, 1, kept, COUNT(kept));
}

static void turns_remarks_into_records(void **state)
{
    test_place *place = *state;
    make_old(place->path, 1);
    open_to_write(place);
    es_remark_record *remarks;
    es_epoch_record epoch;
    size_t count;
    assert_ok(es_store_list_remarks(place->store, 1, &remarks, &count, &error));
    assert_int_equal(count, 1);
    assert_string_equal(remarks[0].text, "Line one.\nLine two with 'quotes' and \xC3\xBCn\xC3\xAF"
                                         "code.");
    assert_string_equal(remarks[0].made_at, "2025-06-07T08:00:00Z");
    free(remarks);
    assert_ok(es_store_list_remarks(place->store, 2, &remarks, &count, &error));
    assert_int_equal(count, 0);
    assert_ok(es_store_latest_epoch(place->store, 1, &epoch, &error));
    assert_true(epoch.id == 5 && epoch.number == 2 && isnan(epoch.walk_percent));
}

static void reads_the_figures_of_version_1_to_the_bit(void **state)
{
    test_place *place = *state;
    make_old(place->path, 1);
    open_to_write(place);
    es_reading_record reading;
    es_tape_record tape;
    es_anchor_record anchor;
    char *document;
    assert_ok(es_store_show_reading(place->store, 1, &reading, &document, &error));
    assert_true(reading.error_percent == 1.0 / 3.0 && isnan(reading.weighted_quasi_peak_percent));
    assert_string_equal(document, "{\"schema\":\"evenspool.check/1\", \"x\": 1e-1}");
    free(document);
    assert_ok(es_store_show_tape(place->store, 1, &tape, &error));
    assert_true(isinf(tape.certificate_dof) && tape.thickness_m == 18e-6);
    assert_ok(es_store_show_anchor(place->store, 1, &anchor, &error));
    assert_true(isnan(anchor.u95_by_shape_percent) && anchor.u_percent == 0.03);
}

/* --- version 2 -------------------------------------------------------------------------------- */

static void keeps_all_that_version_2_held(void **state)
{
    const char *kept[] = {
        "SELECT * FROM deck ORDER BY id",
        "SELECT * FROM epoch ORDER BY id",
        "SELECT * FROM tape ORDER BY id",
        JOBS,
        READINGS,
        NUDGES,
        "SELECT * FROM remark ORDER BY id",
        "SELECT * FROM play ORDER BY id",
        "SELECT * FROM anchor ORDER BY id",
        "SELECT * FROM answer ORDER BY id",
        "SELECT * FROM budget ORDER BY id",
    };
    assert_kept(*state, 2, kept, COUNT(kept));
}

/* A job, a nudge and a reading of before are the speed's, and nothing is said in another unit. */
static void takes_earlier_jobs_as_the_speeds(void **state)
{
    test_place *place = *state;
    for (int version = 1; version <= 2; version++) {
        char old[320];
        snprintf(old, sizeof old, "%s/jobs-%d.db", place->folder, version);
        make_old(old, version);
        es_store *store;
        es_job_record *jobs;
        es_nudge_record *nudges;
        es_reading_record reading;
        size_t count;
        assert_ok(es_store_open(old, ES_STORE_WRITE, &store, &error));
        assert_ok(es_store_list_jobs(store, 0, &jobs, &count, &error));
        assert_int_equal(count, 2);
        assert_string_equal(jobs[0].adjust, "speed");
        assert_string_equal(jobs[1].adjust, "speed");
        assert_ok(es_store_list_nudges(store, 1, &nudges, &count, &error));
        assert_int_equal(count, 1);
        assert_true(nudges->size_percent == -0.3 && isnan(nudges->size_us));
        assert_true(isnan(nudges->size_db));
        assert_ok(es_store_show_reading(store, 1, &reading, NULL, &error));
        assert_true(reading.error_percent == 1.0 / 3.0 && isnan(reading.error_us));
        assert_true(isnan(reading.u95_us) && isnan(reading.error_db) && isnan(reading.u95_db));
        free(jobs);
        free(nudges);
        es_store_close(store);
    }
}

/* --- the copy --------------------------------------------------------------------------------- */

static void takes_a_copy_that_can_be_put_back(void **state)
{
    test_place *place = *state;
    char copy[320];
    make_old(place->path, 1);
    open_to_write(place);
    es_store_close(place->store);
    snprintf(copy, sizeof copy, "%s", in_folder(place, "records.db.version-1"));
    char *version = answer(copy, "SELECT * FROM pragma_user_version");
    assert_string_equal(version, "|1");
    free(version);
    char *health = answer(copy, "SELECT * FROM pragma_integrity_check");
    assert_string_equal(health, "|ok");
    free(health);
    assert_int_equal(rename(copy, place->path), 0);
    open_to_write(place);
    es_deck_record deck;
    assert_ok(es_store_show_deck(place->store, 3, &deck, &error));
}

static void never_takes_the_name_of_another_file(void **state)
{
    test_place *place = *state;
    make_old(place->path, 1);
    write_bytes(in_folder(place, "records.db.version-1"), "mine", 4);
    open_to_write(place);
    assert_true(
        file_is(in_folder(place, "records.db.version-1"), (const unsigned char *)"mine", 4));
    assert_int_equal(access(in_folder(place, "records.db.version-1-2"), F_OK), 0);
}

static void takes_no_copy_when_all_is_up_to_date(void **state)
{
    test_place *place = *state;
    assert_ok(es_store_open(place->path, ES_STORE_CREATE, &place->store, &error));
    es_store_close(place->store);
    open_to_write(place);
    assert_int_equal(access(in_folder(place, "records.db.version-1"), F_OK), -1);
}

static void is_done_once_when_several_open_at_once(void **state)
{
    test_place *place = *state;
    enum { PROGRAMS = 6 };
    pid_t child[PROGRAMS];
    make_old(place->path, 1);
    for (int i = 0; i < PROGRAMS; i++)
        if ((child[i] = fork()) == 0) {
            es_store *store;
            es_status status =
                es_store_open(place->path, i % 2 ? ES_STORE_READ : ES_STORE_WRITE, &store, NULL);
            es_store_close(store);
            _exit((int)status);
        }
    for (int i = 0; i < PROGRAMS; i++) {
        int result;
        assert_int_equal(waitpid(child[i], &result, 0), child[i]);
        assert_int_equal(result, 0);
    }
    assert_int_equal(access(in_folder(place, "records.db.version-1"), F_OK), 0);
    assert_int_equal(access(in_folder(place, "records.db.version-1-2"), F_OK), -1);
    es_remark_record *remarks;
    size_t count;
    open_to_write(place);
    assert_ok(es_store_list_remarks(place->store, 1, &remarks, &count, &error));
    assert_int_equal(count, 1);
    free(remarks);
}

/* --- when it can't be done -------------------------------------------------------------------- */

static void leaves_old_records_that_contradict_themselves(void **state)
{
    test_place *place = *state;
    make_old(place->path, 1);
    sqlite3 *db;
    assert_int_equal(sqlite3_open(place->path, &db), SQLITE_OK);
    run(db, "PRAGMA foreign_keys = OFF; DELETE FROM deck WHERE id = 3");
    sqlite3_close(db);
    size_t count;
    unsigned char *bytes = file_bytes(place->path, &count);
    assert_refused(es_store_open_patiently(place->path, ES_STORE_WRITE, 0, &place->store, &error),
                   ES_ERR_IO, "damaged-records");
    assert_true(file_is(place->path, bytes, count));
    assert_int_equal(folder_entries(place->folder), 1);
    free(bytes);
}

static int open_old_without_rights(const test_place *place)
{
    es_store *store;
    es_error error = {0};
    for (int mode = ES_STORE_READ; mode <= ES_STORE_CREATE; mode++) {
        error = (es_error){0};
        const char *wanted = mode == ES_STORE_READ ? "older-records" : "read-only";
        if (es_store_open_patiently(place->path, (es_store_mode)mode, 0, &store, &error) !=
                ES_ERR_IO ||
            strcmp(error.code, wanted) != 0)
            return 1;
    }
    return 0;
}

static void says_that_old_records_cannot_be_written(void **state)
{
    test_place *place = *state;
    make_old(place->path, 1);
    assert_int_equal(chmod(place->path, 0444), 0);
    assert_int_equal(chmod(place->folder, 0555), 0);
    int result = as_ordinary_person(place, open_old_without_rights);
    assert_int_equal(chmod(place->folder, 0700), 0);
    assert_int_equal(result, 0);
    assert_int_equal(folder_entries(place->folder), 1);
}

#define WITH(test) cmocka_unit_test_setup_teardown(test, place_setup, place_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(brings_every_earlier_version_up_to_date),
        WITH(keeps_all_that_version_1_held),
        WITH(turns_remarks_into_records),
        WITH(reads_the_figures_of_version_1_to_the_bit),
        WITH(keeps_all_that_version_2_held),
        WITH(takes_earlier_jobs_as_the_speeds),
        WITH(takes_a_copy_that_can_be_put_back),
        WITH(never_takes_the_name_of_another_file),
        WITH(takes_no_copy_when_all_is_up_to_date),
        WITH(is_done_once_when_several_open_at_once),
        WITH(leaves_old_records_that_contradict_themselves),
        WITH(says_that_old_records_cannot_be_written),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
