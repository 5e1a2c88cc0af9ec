/* Locked by others, write-protected, and a full disk. */
#include "place.h"

#include <sched.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

/* --- locked ----------------------------------------------------------------------------------- */

typedef struct other_program {
    pid_t id;
    int let_go;
} other_program;

/* A process that runs `sql` on the records and holds what it got until it is let go. */
static other_program hold(const test_place *place, const char *sql)
{
    int ready[2], let_go[2];
    char byte;
    assert_int_equal(pipe(ready) | pipe(let_go), 0);
    pid_t id = fork();
    if (id == 0) {
        sqlite3 *db;
        close(let_go[1]);
        int code = sqlite3_open(place->path, &db);
        sqlite3_busy_timeout(db, 5000);
        code |= sqlite3_exec(db, sql, NULL, NULL, NULL);
        byte = code == SQLITE_OK ? 'y' : 'n';
        code |= write(ready[1], &byte, 1) != 1;
        code |= read(let_go[0], &byte, 1) != 0;
        _exit(sqlite3_close(db) | code);
    }
    close(ready[1]);
    close(let_go[0]);
    assert_int_equal(read(ready[0], &byte, 1), 1);
    assert_int_equal(byte, 'y');
    close(ready[0]);
    return (other_program){id, let_go[1]};
}

static void end(other_program other)
{
    int result;
    close(other.let_go);
    assert_int_equal(waitpid(other.id, &result, 0), other.id);
    assert_int_equal(result, 0);
}

static void says_that_another_program_is_writing(void **state)
{
    test_place *place = *state;
    es_deck_record deck = sample_deck(1);
    es_store_close(place->store);
    place->store = NULL;
    other_program other = hold(place, "BEGIN IMMEDIATE; DELETE FROM epoch");
    assert_ok(es_store_open_patiently(place->path, ES_STORE_WRITE, 20, &place->store, &error));
    assert_refused(es_store_add_deck(place->store, &deck, "", NULL, &error), ES_ERR_IO, "locked");
    assert_refused(es_store_begin(place->store, &error), ES_ERR_IO, "locked");
    assert_refused(es_store_import_begin(place->store, &error), ES_ERR_IO, "locked");
    assert_refused(es_store_deck_named(place->store, "deck 1", &deck, &error), ES_ERR_INPUT,
                   "unknown"); /* reading goes on */
    end(other);
    deck = sample_deck(1);
    assert_ok(es_store_add_deck(place->store, &deck, "", NULL, &error));
}

static void says_that_another_program_holds_the_file(void **state)
{
    test_place *place = *state;
    es_store_close(place->store);
    place->store = NULL;
    other_program other = hold(
        place, "PRAGMA journal_mode = DELETE; PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE");
    for (int mode = ES_STORE_READ; mode <= ES_STORE_CREATE; mode++)
        assert_refused(
            es_store_open_patiently(place->path, (es_store_mode)mode, 20, &place->store, &error),
            ES_ERR_IO, "locked");
    end(other);
    assert_ok(es_store_open_patiently(place->path, ES_STORE_WRITE, 20, &place->store, &error));
}

static void waits_for_a_writer_that_finishes(void **state)
{
    test_place *place = *state;
    es_deck_record deck = sample_deck(1);
    es_store_close(place->store);
    place->store = NULL;
    other_program other = hold(place, "BEGIN IMMEDIATE");
    assert_ok(es_store_open(place->path, ES_STORE_WRITE, &place->store, &error));
    pid_t asking = fork();
    if (asking == 0) {
        close(other.let_go);
        es_store *store;
        es_status status = es_store_open(place->path, ES_STORE_WRITE, &store, NULL);
        if (status == ES_OK)
            status = es_store_add_deck(store, &deck, "", NULL, NULL);
        es_store_close(store);
        _exit((int)status);
    }
    int result;
    usleep(100000); /* it waits much longer than that */
    end(other);
    assert_int_equal(waitpid(asking, &result, 0), asking);
    assert_int_equal(result, 0);
    assert_ok(es_store_deck_named(place->store, "deck 1", &deck, &error));
}

/* --- write-protected -------------------------------------------------------------------------- */

static int refused_with(const test_place *place, es_store_mode mode, const char *code)
{
    es_store *store;
    es_error error = {0};
    es_status status = es_store_open_patiently(place->path, mode, 0, &store, &error);
    es_store_close(store);
    return status == ES_ERR_IO && strcmp(error.code, code) == 0;
}

static int read_only_person(const test_place *place)
{
    es_store *store;
    es_deck_record deck;
    if (!refused_with(place, ES_STORE_WRITE, "read-only") ||
        !refused_with(place, ES_STORE_CREATE, "read-only"))
        return 1;
    if (es_store_open_patiently(place->path, ES_STORE_READ, 0, &store, NULL) != ES_OK)
        return 2;
    es_status status = es_store_deck_named(store, "deck 1", &deck, NULL);
    if (status == ES_OK && es_store_add_deck(store, &deck, "", NULL, NULL) == ES_OK)
        status = ES_ERR_INTERNAL;
    es_store_close(store);
    return status == ES_OK ? 0 : 3;
}

/* With these rights on file and folder; the file stays as it is and alone. */
static void protect(test_place *place, mode_t file, mode_t folder,
                    int (*work)(const test_place *place))
{
    size_t count;
    fill_store(place->store, 1);
    es_store_close(place->store);
    place->store = NULL;
    unsigned char *bytes = file_bytes(place->path, &count);
    assert_int_equal(chmod(place->path, file) | chmod(place->folder, folder), 0);
    int result = as_ordinary_person(place, work);
    assert_int_equal(chmod(place->folder, 0700) | chmod(place->path, 0600), 0);
    assert_int_equal(result, 0);
    assert_true(file_is(place->path, bytes, count));
    assert_int_equal(folder_entries(place->folder), 1);
    free(bytes);
}

static void reads_a_file_that_is_write_protected(void **state)
{
    protect(*state, 0444, 0777, read_only_person);
}

static void reads_from_a_folder_that_is_write_protected(void **state)
{
    protect(*state, 0444, 0555, read_only_person);
}

static void reads_a_writable_file_in_a_protected_folder(void **state)
{
    protect(*state, 0666, 0555, read_only_person);
}

static int person_without_rights(const test_place *place)
{
    char path[320];
    es_store *store;
    es_error error = {0};
    snprintf(path, sizeof path, "%s/new.db", place->folder);
    if (es_store_open_patiently(path, ES_STORE_CREATE, 0, &store, &error) != ES_ERR_IO ||
        strcmp(error.code, "no-permission") != 0)
        return 1;
    snprintf(path, sizeof path, "%s/new/new.db", place->folder);
    error = (es_error){0};
    if (es_store_open_patiently(path, ES_STORE_CREATE, 0, &store, &error) != ES_ERR_IO ||
        strcmp(error.code, "no-folder") != 0)
        return 2;
    return refused_with(place, ES_STORE_READ, "no-permission") ? 0 : 3;
}

static int person_with_an_odd_name(const test_place *place)
{
    es_store *store;
    es_deck_record deck;
    es_status status = es_store_open_patiently(in_folder(place, "100%41 #1?mode=rw&.db"),
                                               ES_STORE_READ, 0, &store, NULL);
    if (status == ES_OK)
        status = es_store_deck_named(store, "deck 1", &deck, NULL);
    es_store_close(store);
    return (int)status;
}

static void reads_a_protected_file_of_any_name(void **state)
{
    test_place *place = *state;
    char path[320];
    fill_store(place->store, 1);
    es_store_close(place->store);
    place->store = NULL;
    snprintf(path, sizeof path, "%s", in_folder(place, "100%41 #1?mode=rw&.db"));
    assert_int_equal(rename(place->path, path), 0);
    assert_int_equal(chmod(path, 0444) | chmod(place->folder, 0555), 0);
    int result = as_ordinary_person(place, person_with_an_odd_name);
    assert_int_equal(chmod(place->folder, 0700), 0);
    assert_int_equal(result, 0);
}

static void says_that_it_may_not_even_read(void **state)
{
    protect(*state, 0000, 0555, person_without_rights);
}

/* --- a full disk ------------------------------------------------------------------------------ */

/* Adds readings until one is refused; 0: all that was acknowledged is there, and no more. */
static int write_until_full(es_store *store, int64_t deck)
{
    es_reading_record reading = sample_reading(deck), *all;
    es_error error = {0};
    size_t acknowledged = 0, count;
    static char document[3000];
    memset(document, ' ', sizeof document - 1);
    memcpy(document, "{}", 2);
    reading.document = document;
    while (acknowledged < 100000 && es_store_add_reading(store, &reading, NULL, &error) == ES_OK)
        acknowledged++;
    if (error.status != ES_ERR_IO || strcmp(error.code, "disk-full") != 0 || acknowledged == 0)
        return 10;
    if (es_store_list_readings(store, deck, &all, &count, NULL) != ES_OK)
        return 11;
    free(all);
    return count == acknowledged ? 0 : 12;
}

/*
 * A transaction that fills the disk, by a caller who goes on after the first refusal: it is kept
 * with all that was acknowledged within it, or, as here, lost as a whole.
 */
static int transaction_until_full(es_store *store, int64_t deck)
{
    es_reading_record reading = sample_reading(deck), *all;
    size_t before, after;
    static char large[200000];
    memset(large, ' ', sizeof large - 1);
    memcpy(large, "{}", 2);
    if (es_store_list_readings(store, deck, &all, &before, NULL) != ES_OK)
        return 20;
    free(all);
    es_status status = es_store_begin(store, NULL);
    for (int i = 0; i < 40 && status == ES_OK; i++) {
        reading.document = large;
        status = es_store_add_reading(store, &reading, NULL, NULL);
    }
    reading.document = "{}"; /* there may be room for this again */
    for (int i = 0; i < 3; i++)
        es_store_add_reading(store, &reading, NULL, NULL);
    es_error error = {0};
    if (es_store_commit(store, &error) != ES_ERR_IO)
        return 21;
    if (es_store_list_readings(store, deck, &all, &after, NULL) != ES_OK)
        return 22;
    free(all);
    return after == before ? 0 : 23;
}

static int fill_the_disk(const char *path)
{
    es_store *store;
    es_deck_record deck = sample_deck(1);
    int64_t id;
    if (es_store_open_patiently(path, ES_STORE_CREATE, 0, &store, NULL) != ES_OK)
        return 1;
    if (es_store_add_deck(store, &deck, "", &id, NULL) != ES_OK)
        return 2;
    int result = write_until_full(store, id);
    if (result == 0)
        result = transaction_until_full(store, id);
    es_store_close(store);
    if (result == 0 && es_store_open_patiently(path, ES_STORE_READ, 0, &store, NULL) != ES_OK)
        return 3;
    if (result == 0)
        es_store_close(store);
    return result;
}

static int result_of(pid_t child)
{
    int result;
    assert_int_equal(waitpid(child, &result, 0), child);
    return WIFEXITED(result) ? WEXITSTATUS(result) : 99;
}

static void loses_nothing_when_the_disk_is_full(void **state)
{
    test_place *place = *state;
    pid_t child = fork();
    if (child == 0) { /* a small disk that only this process sees */
        if (unshare(CLONE_NEWNS) != 0 || mount(NULL, "/", NULL, MS_REC | MS_PRIVATE, NULL) != 0 ||
            mount("none", place->folder, "tmpfs", 0, "size=1m") != 0)
            _exit(77);
        _exit(fill_the_disk(place->path));
    }
    int result = result_of(child);
    if (result == 77)
        skip(); /* only root may mount */
    assert_int_equal(result, 0);
}

static void loses_nothing_when_a_file_may_not_grow(void **state)
{
    test_place *place = *state;
    pid_t child = fork();
    if (child == 0) {
        struct rlimit most = {600000, 600000};
        signal(SIGXFSZ, SIG_IGN);
        if (setrlimit(RLIMIT_FSIZE, &most) != 0)
            _exit(98);
        _exit(fill_the_disk(in_folder(place, "limited.db")));
    }
    assert_int_equal(result_of(child), 0);
}

static void makes_nothing_on_a_full_disk(void **state)
{
    test_place *place = *state;
    pid_t child = fork();
    if (child == 0) {
        struct rlimit most = {10000, 10000};
        es_store *store;
        es_error error = {0};
        signal(SIGXFSZ, SIG_IGN);
        if (setrlimit(RLIMIT_FSIZE, &most) != 0)
            _exit(98);
        if (es_store_open_patiently(in_folder(place, "new.db"), ES_STORE_CREATE, 0, &store,
                                    &error) != ES_ERR_IO)
            _exit(1);
        _exit(strcmp(error.code, "disk-full") == 0 ? 0 : 2);
    }
    assert_int_equal(result_of(child), 0);
    /* later, with room */
    assert_ok(es_store_open_patiently(in_folder(place, "new.db"), ES_STORE_CREATE, 0, &place->store,
                                      &error));
}

#define WITH(test) cmocka_unit_test_setup_teardown(test, place_setup_with_store, place_teardown)
#define WITHOUT(test) cmocka_unit_test_setup_teardown(test, place_setup, place_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(says_that_another_program_is_writing),
        WITH(says_that_another_program_holds_the_file),
        WITH(waits_for_a_writer_that_finishes),
        WITH(reads_a_file_that_is_write_protected),
        WITH(reads_from_a_folder_that_is_write_protected),
        WITH(reads_a_writable_file_in_a_protected_folder),
        WITH(reads_a_protected_file_of_any_name),
        WITH(says_that_it_may_not_even_read),
        WITHOUT(loses_nothing_when_the_disk_is_full),
        WITHOUT(loses_nothing_when_a_file_may_not_grow),
        WITHOUT(makes_nothing_on_a_full_disk),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
