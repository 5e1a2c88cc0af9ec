#include "store/inside.h"

es_status es_store_run(const es_store *store, const char *sql, es_error *error)
{
    int code = sqlite3_exec(store->db, sql, NULL, NULL, NULL);
    return code == SQLITE_OK ? ES_OK : es_store_refused(store, code, error);
}

es_status es_store_prepare(const es_store *store, const char *sql, sqlite3_stmt **out,
                           es_error *error)
{
    *out = NULL;
    int code = sqlite3_prepare_v2(store->db, sql, -1, out, NULL);
    if ((code & 0xFF) == SQLITE_ERROR) /* our own words fit our own schema: it is not there */
        return es_store_damaged(error);
    return code == SQLITE_OK ? ES_OK : es_store_refused(store, code, error);
}

es_status es_store_step(const es_store *store, sqlite3_stmt *statement, int *row, es_error *error)
{
    int code = sqlite3_step(statement);
    *row = code == SQLITE_ROW;
    if (code == SQLITE_ROW || code == SQLITE_DONE)
        return ES_OK;
    return es_store_refused(store, code, error);
}

es_status es_store_ask(const es_store *store, const char *sql, int64_t bound, int64_t *out,
                       es_error *error)
{
    *out = 0;
    int row = 0;
    sqlite3_stmt *statement;
    es_status status = es_store_prepare(store, sql, &statement, error);
    if (status == ES_OK) {
        if (sqlite3_bind_parameter_count(statement) > 0)
            sqlite3_bind_int64(statement, 1, bound);
        status = es_store_step(store, statement, &row, error);
    }
    if (row)
        *out = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    return status;
}
