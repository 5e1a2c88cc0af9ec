#include "store/inside.h"

#include "evenspool/base/text.h"
#include "store/copy.h"
#include "store/look.h"
#include "store/schema.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#define PATIENCE_MOST_MS 600000

/* --- the file --------------------------------------------------------------------------------- */

/* Makes the folders above path that are missing, for their owner alone (XDG Base Directory 0.8). */
static es_status make_folders(const char *path, es_error *error)
{
    char folder[ES_STORE_PATH_ROOM];
    for (const char *slash = strchr(path + 1, '/'); slash; slash = strchr(slash + 1, '/')) {
        es_text text = es_text_over(folder, sizeof folder);
        es_text_add(&text, "%.*s", (int)(slash - path), path);
        if (mkdir(folder, 0700) != 0 && errno != EEXIST)
            return es_fail(error, ES_ERR_IO, "no-folder",
                           "The folder for the records can't be made: %s.", strerror(errno));
    }
    return ES_OK;
}

/* For a medium that can't be written: nobody changes the file, and nothing is made beside it. */
static int open_unchanging(es_store *store, const char *path)
{
    char uri[3 * ES_STORE_PATH_ROOM + 32];
    es_text text = es_text_over(uri, sizeof uri);
    es_text_add(&text, "file:");
    for (const unsigned char *at = (const unsigned char *)path; *at; at++)
        es_text_add(&text, *at == '/' ? "/" : "%%%02X", *at);
    es_text_add(&text, "?immutable=1");
    return sqlite3_open_v2(uri, &store->db, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, NULL);
}

static es_status open_file(es_store *store, const char *path, const es_look *look, es_error *error)
{
    int code;
    if (!look->missing && !look->writable && !look->open)
        code = open_unchanging(store, path);
    else
        code = sqlite3_open_v2(path, &store->db,
                               SQLITE_OPEN_READWRITE |
                                   (store->mode == ES_STORE_CREATE ? SQLITE_OPEN_CREATE : 0),
                               NULL);
    if (code != SQLITE_OK)
        return store->db ? es_store_refused(store, code, error)
                         : es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    sqlite3_extended_result_codes(store->db, 1);
    sqlite3_busy_timeout(store->db, store->patience_ms);
    /* a log that was left by a kill is only worked into the file once the file is accepted */
    sqlite3_db_config(store->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, look->log, NULL);
    sqlite3_db_config(store->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    sqlite3_db_config(store->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    return es_store_run(store, "PRAGMA cell_size_check = ON; PRAGMA temp_store = MEMORY", error);
}

/* --- is it whole ------------------------------------------------------------------------------ */

static es_status is_whole(const es_store *store, es_error *error)
{
    int row;
    sqlite3_stmt *statement;
    es_status status = es_store_prepare(store, "PRAGMA quick_check(1)", &statement, error);
    if (status == ES_OK)
        status = es_store_step(store, statement, &row, error);
    if (status == ES_OK) {
        const char *answer = row ? (const char *)sqlite3_column_text(statement, 0) : NULL;
        if (!answer || strcmp(answer, "ok") != 0)
            status = es_store_damaged(error);
    }
    sqlite3_finalize(statement);
    return status;
}

static es_status accept(es_store *store, const char *path, es_error *error)
{
    int version;
    es_status status = es_schema_find(store, &version, error);
    if (status == ES_OK && version == 0 && store->mode != ES_STORE_CREATE)
        return es_fail(error, ES_ERR_IO, "no-records",
                       "There is nothing in this records file yet.");
    if (status == ES_OK && store->mode != ES_STORE_READ &&
        sqlite3_db_readonly(store->db, "main") != 0)
        return es_store_refused(store, SQLITE_READONLY, error);
    if (status == ES_OK)
        status = is_whole(store, error);
    if (status == ES_OK)
        status = es_schema_bring_up(store, path, error);
    return status == ES_OK ? es_schema_has_all(store, error) : status;
}

/*
 * WAL: readers and a writer don't wait for each other. Where it can't be had (some network disks,
 * or another program just has the file open) the file works the older way, no less safe.
 * EXTRA is FULL, and in the older way the folder is settled as well.
 */
static es_status settle_in(es_store *store, es_error *error)
{
    sqlite3_db_config(store->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 0, NULL);
    if (store->mode != ES_STORE_READ)
        sqlite3_exec(store->db, "PRAGMA journal_mode = WAL", NULL, NULL, NULL);
    es_status status =
        es_store_run(store, "PRAGMA synchronous = EXTRA; PRAGMA foreign_keys = ON", error);
    if (status == ES_OK && store->mode == ES_STORE_READ)
        status = es_store_run(store, "PRAGMA query_only = ON", error);
    return status;
}

/* --- opening ---------------------------------------------------------------------------------- */

static es_status open_checked(es_store *store, const char *path, es_error *error)
{
    es_look look;
    es_status status = es_look_at(path, &look, error);
    if (status == ES_OK && store->mode != ES_STORE_CREATE && (look.missing || look.empty))
        return es_fail(error, ES_ERR_IO, "no-records", "There is no records file here yet.");
    if (status == ES_OK && store->mode != ES_STORE_READ && !look.missing && !look.writable)
        return es_store_refused(store, SQLITE_READONLY, error);
    if (status == ES_OK && look.missing)
        status = make_folders(path, error);
    if (status == ES_OK)
        status = open_file(store, path, &look, error);
    if (status == ES_OK)
        status = accept(store, path, error);
    if (status == ES_OK)
        status = settle_in(store, error);
    if (status == ES_OK && look.missing)
        es_copy_settle_folder(path);
    return status;
}

es_status es_store_open_patiently(const char *path, es_store_mode mode, int patience_ms,
                                  es_store **out, es_error *error)
{
    *out = NULL;
    char plain[ES_STORE_PATH_ROOM];
    es_text text = es_text_over(plain, sizeof plain);
    /* a path that does not begin with / or . could mean something else to SQLite: ":memory:" */
    es_text_add(&text, "%s%s", path[0] == '/' ? "" : "./", path);
    if (!*path || text.cut || text.length + 32 > sizeof plain)
        return es_fail(error, ES_ERR_IO, "not-a-file", "The records' path is empty or too long.");
    if (patience_ms < 0 || patience_ms > PATIENCE_MOST_MS)
        return es_fail(error, ES_ERR_ARG, "bad-patience", "The patience is out of range.");
    es_store *store = calloc(1, sizeof *store);
    if (!store)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    store->mode = mode;
    store->patience_ms = patience_ms;
    es_status status = open_checked(store, plain, error);
    if (status != ES_OK) {
        es_store_close(store);
        return status;
    }
    *out = store;
    return ES_OK;
}

es_status es_store_open(const char *path, es_store_mode mode, es_store **out, es_error *error)
{
    return es_store_open_patiently(path, mode, ES_STORE_PATIENCE_MS, out, error);
}

void es_store_close(es_store *store)
{
    if (!store)
        return;
    sqlite3_close(store->db); /* rolls back */
    free(store);
}
