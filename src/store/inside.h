/* What the files of store/ share: the opened store, its statements, its transactions. */
#ifndef ES_STORE_INSIDE_H
#define ES_STORE_INSIDE_H

#include "store/store.h"

#include <sqlite3.h>

struct es_store {
    sqlite3 *db;
    es_store_mode mode;
    int patience_ms;
    int transaction; /* 1: between _begin and _commit                               */
    int importing;   /* 1: that transaction is an import                            */
    int exporting;   /* 1: nothing may be written                                   */
    int scopes;      /* open ones                                                   */
    int64_t shift[ES_RECORD_TYPE_COUNT]; /* import: added to the ids of each type   */
    int64_t highest[ES_RECORD_TYPE_COUNT];
};

/* The sentence for SQLite's refusal; returns the status. */
es_status es_store_refused(const es_store *store, int code, es_error *error);
es_status es_store_damaged(es_error *error);

/* --- statements ------------------------------------------------------------------------------- */

/* Runs statements that give no rows or whose rows don't matter. */
es_status es_store_run(const es_store *store, const char *sql, es_error *error);

/* *out is NULL on error; sqlite3_finalize(NULL) is fine. */
es_status es_store_prepare(const es_store *store, const char *sql, sqlite3_stmt **out,
                           es_error *error);

/* *row is 1 when a row stands ready, 0 at the end and on error. */
es_status es_store_step(const es_store *store, sqlite3_stmt *statement, int *row, es_error *error);

/* First column of the first row, ?1 bound to `bound`; 0 when there is no row. */
es_status es_store_ask(const es_store *store, const char *sql, int64_t bound, int64_t *out,
                       es_error *error);

/* --- one change ------------------------------------------------------------------------------- */

/*
 * Every change stands between these two. Outside a transaction the scope is one of its own;
 * inside it can be undone alone. ES_ERR_ARG: writing while an export runs.
 */
es_status es_scope_open(es_store *store, es_error *error);
/* Keeps the change if `status` is ES_OK, else undoes it; returns status or why it wasn't kept. */
es_status es_scope_close(es_store *store, es_status status, es_error *error);

#endif
