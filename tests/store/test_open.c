/* Opening: what is taken, what is refused, and that what is refused stays as it was. */
#include "place.h"

#include "alloc_probe.h"
#include "store/inside.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

static es_status open_now(const char *path, es_store_mode mode, es_store **store, es_error *error)
{
    return es_store_open_patiently(path, mode, 0, store, error);
}

/* Refused in every mode, and not one byte or file is different afterwards. */
static void assert_left_alone(const test_place *place, const char *path, const char *code)
{
    size_t count, entries = folder_entries(place->folder);
    unsigned char *bytes = file_bytes(path, &count);
    for (int mode = ES_STORE_READ; mode <= ES_STORE_CREATE; mode++) {
        es_store *store = (es_store *)(uintptr_t)1;
        assert_refused(open_now(path, (es_store_mode)mode, &store, &error), ES_ERR_IO, code);
        assert_null(store);
        assert_true(file_is(path, bytes, count));
        assert_int_equal(folder_entries(place->folder), entries);
    }
    free(bytes);
}

/* A database that SQLite itself made from these words. */
static void make_database(const char *path, const char *sql)
{
    sqlite3 *db;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

static int64_t ask(sqlite3 *db, const char *sql)
{
    sqlite3_stmt *statement;
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    int64_t value = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    return value;
}

/* --- taken ------------------------------------------------------------------------------------ */

static void makes_the_file_and_its_folders(void **state)
{
    test_place *place = *state;
    char path[320];
    snprintf(path, sizeof path, "%s/a/b/records.db", place->folder);
    assert_refused(open_now(path, ES_STORE_READ, &place->store, &error), ES_ERR_IO, "no-records");
    assert_refused(open_now(path, ES_STORE_WRITE, &place->store, &error), ES_ERR_IO, "no-records");
    assert_int_equal(folder_entries(place->folder), 0);
    assert_ok(open_now(path, ES_STORE_CREATE, &place->store, &error));
    struct stat about;
    snprintf(path, sizeof path, "%s/a", place->folder);
    assert_int_equal(stat(path, &about), 0);
    assert_int_equal(about.st_mode & 0777, 0700);
}

static void leaves_one_file_when_closed(void **state)
{
    test_place *place = *state;
    assert_ok(open_now(place->path, ES_STORE_CREATE, &place->store, &error));
    fill_store(place->store, 1);
    es_store_close(place->store);
    place->store = NULL;
    assert_int_equal(folder_entries(place->folder), 1);
    es_store_close(NULL);
}

static void writes_safely(void **state)
{
    test_place *place = *state;
    assert_ok(open_now(place->path, ES_STORE_CREATE, &place->store, &error));
    sqlite3 *db = place->store->db;
    assert_true(ask(db, "PRAGMA synchronous") >= 2); /* FULL or more */
    assert_int_equal(ask(db, "PRAGMA foreign_keys"), 1);
    assert_int_equal(ask(db, "SELECT journal_mode = 'wal' FROM pragma_journal_mode"), 1);
    assert_int_equal(ask(db, "PRAGMA user_version"), es_store_schema_version());
    assert_int_equal(ask(db, "PRAGMA application_id"), 0x45765370);
}

static void takes_an_empty_file_as_new(void **state)
{
    test_place *place = *state;
    write_bytes(place->path, "", 0);
    assert_refused(open_now(place->path, ES_STORE_WRITE, &place->store, &error), ES_ERR_IO,
                   "no-records");
    assert_ok(open_now(place->path, ES_STORE_CREATE, &place->store, &error));
    fill_store(place->store, 1);
}

static void takes_names_that_mean_something_to_the_database(void **state)
{
    test_place *place = *state;
    char here[512];
    assert_non_null(getcwd(here, sizeof here));
    assert_int_equal(chdir(place->folder), 0);
    const char *names[] = {":memory:", "file:x?mode=memory", "records %41?.db", "./plain.db"};
    for (size_t i = 0; i < COUNT(names); i++) {
        es_store *store;
        assert_ok(open_now(names[i], ES_STORE_CREATE, &store, &error));
        es_store_close(store);
        assert_int_equal(access(names[i], F_OK), 0);
    }
    assert_int_equal(chdir(here), 0);
}

static void writes_nothing_when_opened_to_be_read(void **state)
{
    test_place *place = *state;
    assert_ok(open_now(place->path, ES_STORE_CREATE, &place->store, &error));
    int64_t id = fill_store(place->store, 1);
    es_store_close(place->store);
    assert_ok(open_now(place->path, ES_STORE_READ, &place->store, &error));
    es_deck_record deck = sample_deck(2);
    assert_refused(es_store_add_deck(place->store, &deck, "", NULL, &error), ES_ERR_IO,
                   "read-only");
    assert_refused(es_store_remove_deck(place->store, id, ES_REMOVE_WITH_HISTORY, &error),
                   ES_ERR_IO, "read-only");
    assert_refused(es_store_begin(place->store, &error), ES_ERR_IO, "read-only");
    assert_refused(es_store_import_begin(place->store, &error), ES_ERR_IO, "read-only");
    assert_ok(es_store_show_deck(place->store, id, &deck, &error));
}

static void lets_many_make_the_file_at_once(void **state)
{
    test_place *place = *state;
    enum { PROGRAMS = 6 };
    pid_t child[PROGRAMS];
    for (int i = 0; i < PROGRAMS; i++)
        if ((child[i] = fork()) == 0) {
            es_store *store;
            es_deck_record deck = sample_deck(i);
            es_status status = es_store_open(place->path, ES_STORE_CREATE, &store, NULL);
            if (status == ES_OK)
                status = es_store_add_deck(store, &deck, "", NULL, NULL);
            es_store_close(store);
            _exit((int)status);
        }
    for (int i = 0; i < PROGRAMS; i++) {
        int result;
        assert_int_equal(waitpid(child[i], &result, 0), child[i]);
        assert_int_equal(result, 0);
    }
    es_deck_record *decks;
    size_t count;
    assert_ok(open_now(place->path, ES_STORE_WRITE, &place->store, &error));
    assert_ok(es_store_list_decks(place->store, &decks, &count, &error));
    assert_int_equal(count, PROGRAMS);
    free(decks);
}

/* --- refused ---------------------------------------------------------------------------------- */

static void refuses_what_is_no_database(void **state)
{
    test_place *place = *state;
    char a_hundred_bytes[121]; /* as many as a database's header has, and more */
    memset(a_hundred_bytes, 'x', sizeof a_hundred_bytes - 1);
    a_hundred_bytes[sizeof a_hundred_bytes - 1] = '\0';
    const char *texts[] = {"x", "{\"schema\": \"evenspool.records/2\"}\n",
                           "SQLite format 3", /* its first bytes alone */
                           "RIFF\x24\x00\x00\x00WAVEfmt ", a_hundred_bytes};
    for (size_t i = 0; i < COUNT(texts); i++) {
        write_bytes(place->path, texts[i], strlen(texts[i]));
        assert_left_alone(place, place->path, "not-records");
    }
}

static void refuses_another_programs_database(void **state)
{
    test_place *place = *state;
    make_database(place->path, "CREATE TABLE deck (id INTEGER); PRAGMA application_id = 77");
    assert_left_alone(place, place->path, "not-records");
    make_database(in_folder(place, "b.db"), "CREATE TABLE deck (id INTEGER)");
    assert_left_alone(place, in_folder(place, "b.db"), "not-records");
    make_database(in_folder(place, "c.db"), "PRAGMA user_version = 2");
    assert_left_alone(place, in_folder(place, "c.db"), "not-records");
}

static void refuses_a_newer_version(void **state)
{
    test_place *place = *state;
    char sql[128];
    assert_ok(open_now(place->path, ES_STORE_CREATE, &place->store, &error));
    fill_store(place->store, 1);
    es_store_close(place->store);
    place->store = NULL;
    snprintf(sql, sizeof sql, "PRAGMA user_version = %d", es_store_schema_version() + 1);
    make_database(place->path, sql);
    assert_left_alone(place, place->path, "newer-records");
}

/* The newer version still stands only in the log that a killed program left. */
static void refuses_a_newer_version_in_the_log(void **state)
{
    test_place *place = *state;
    assert_ok(open_now(place->path, ES_STORE_CREATE, &place->store, &error));
    es_store_close(place->store);
    place->store = NULL;
    if (fork() == 0) {
        sqlite3 *db;
        sqlite3_open(place->path, &db);
        sqlite3_exec(db, "PRAGMA user_version = 99; CREATE TABLE future (x)", NULL, NULL, NULL);
        _exit(0); /* without closing */
    }
    int result;
    wait(&result);
    size_t count, log_count;
    unsigned char *bytes = file_bytes(place->path, &count);
    unsigned char *log = file_bytes(in_folder(place, "records.db-wal"), &log_count);
    assert_true(log_count > 0);
    for (int mode = ES_STORE_READ; mode <= ES_STORE_CREATE; mode++) {
        assert_refused(open_now(place->path, (es_store_mode)mode, &place->store, &error), ES_ERR_IO,
                       "newer-records");
        assert_true(file_is(place->path, bytes, count));
        assert_true(file_is(in_folder(place, "records.db-wal"), log, log_count));
    }
    free(bytes);
    free(log);
}

static void refuses_records_that_lack_a_table_or_column(void **state)
{
    test_place *place = *state;
    const char *harm[] = {"DROP TABLE budget", "ALTER TABLE deck RENAME COLUMN photo TO picture"};
    for (size_t i = 0; i < COUNT(harm); i++) {
        unlink(place->path);
        assert_ok(open_now(place->path, ES_STORE_CREATE, &place->store, &error));
        es_store_close(place->store);
        place->store = NULL;
        make_database(place->path, harm[i]);
        assert_left_alone(place, place->path, "damaged-records");
    }
}

static void refuses_paths_that_name_no_file(void **state)
{
    test_place *place = *state;
    char path[320], longer[8192];
    assert_refused(open_now(place->folder, ES_STORE_CREATE, &place->store, &error), ES_ERR_IO,
                   "not-a-file");
    assert_refused(open_now("/dev/null", ES_STORE_CREATE, &place->store, &error), ES_ERR_IO,
                   "not-a-file");
    assert_refused(open_now("", ES_STORE_CREATE, &place->store, &error), ES_ERR_IO, "not-a-file");
    memset(longer, 'a', sizeof longer - 1);
    longer[sizeof longer - 1] = '\0';
    assert_refused(open_now(longer, ES_STORE_CREATE, &place->store, &error), ES_ERR_IO,
                   "not-a-file");
    write_bytes(place->path, "x", 1);
    snprintf(path, sizeof path, "%s/below.db", place->path);
    assert_refused(open_now(path, ES_STORE_CREATE, &place->store, &error), ES_ERR_IO, "no-folder");
    assert_refused(open_now("/proc/none/records.db", ES_STORE_CREATE, &place->store, &error),
                   ES_ERR_IO, "no-folder");
    assert_refused(es_store_open_patiently(path, ES_STORE_READ, -1, &place->store, &error),
                   ES_ERR_ARG, "bad-patience");
}

/* --- the usual place -------------------------------------------------------------------------- */

static void finds_the_usual_place(void **state)
{
    (void)state;
    char path[64];
    setenv("HOME", "/people/someone", 1);
    setenv("XDG_DATA_HOME", "/data", 1);
    assert_ok(es_store_default_path(path, sizeof path, &error));
    assert_string_equal(path, "/data/evenspool/records.db");
    const char *ignored[] = {"relative/data", "", "~/data"};
    for (size_t i = 0; i < COUNT(ignored); i++) {
        setenv("XDG_DATA_HOME", ignored[i], 1);
        assert_ok(es_store_default_path(path, sizeof path, &error));
        assert_string_equal(path, "/people/someone/.local/share/evenspool/records.db");
    }
    unsetenv("XDG_DATA_HOME");
    assert_ok(es_store_default_path(path, sizeof path, &error));
    assert_refused(es_store_default_path(path, 20, &error), ES_ERR_SPACE, "path-too-long");
    assert_string_equal(path, "");
    unsetenv("HOME");
    assert_refused(es_store_default_path(path, sizeof path, &error), ES_ERR_INPUT, "no-home");
}

/* --- memory ----------------------------------------------------------------------------------- */

static es_status use(const char *path)
{
    es_store *store;
    es_deck_record *decks = NULL;
    size_t count;
    es_status status = open_now(path, ES_STORE_WRITE, &store, NULL);
    if (status == ES_OK)
        status = es_store_list_decks(store, &decks, &count, NULL);
    free(decks);
    es_store_close(store);
    return status;
}

static void leaves_nothing_when_memory_runs_out(void **state)
{
    test_place *place = *state;
    assert_ok(open_now(place->path, ES_STORE_CREATE, &place->store, &error));
    for (int n = 0; n < 40; n++) { /* so that the list grows */
        es_deck_record deck = sample_deck(n);
        assert_ok(es_store_add_deck(place->store, &deck, "", NULL, &error));
    }
    alloc_probe_reset();
    assert_int_equal(use(place->path), ES_OK);
    long wanted = alloc_probe_calls();
    assert_true(wanted >= 4);
    for (long allowed = 0; allowed < wanted; allowed++) {
        alloc_probe_fail_after(allowed);
        es_status status = use(place->path);
        long left = alloc_probe_live();
        alloc_probe_reset();
        assert_int_equal(status, ES_ERR_NOMEM);
        assert_int_equal(left, 0);
    }
}

#define WITH(test) cmocka_unit_test_setup_teardown(test, place_setup, place_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(makes_the_file_and_its_folders),
        WITH(leaves_one_file_when_closed),
        WITH(writes_safely),
        WITH(takes_an_empty_file_as_new),
        WITH(takes_names_that_mean_something_to_the_database),
        WITH(writes_nothing_when_opened_to_be_read),
        WITH(lets_many_make_the_file_at_once),
        WITH(refuses_what_is_no_database),
        WITH(refuses_another_programs_database),
        WITH(refuses_a_newer_version),
        WITH(refuses_a_newer_version_in_the_log),
        WITH(refuses_records_that_lack_a_table_or_column),
        WITH(refuses_paths_that_name_no_file),
        WITH(finds_the_usual_place),
        WITH(leaves_nothing_when_memory_runs_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
