#include "store/inside.h"

/* After some refusals (a full disk, say) SQLite gives the whole transaction up by itself. */
static int given_up(const es_store *store)
{
    return sqlite3_get_autocommit(store->db) != 0;
}

static es_status lost(es_error *error)
{
    return es_fail(error, ES_ERR_IO, "transaction-lost",
                   "The changes were given up after an earlier failure; nothing was changed.");
}

static es_status may_write(const es_store *store, es_error *error)
{
    if (store->mode == ES_STORE_READ)
        return es_fail(error, ES_ERR_IO, "read-only", "The records were opened only to be read.");
    if (store->exporting)
        return es_fail(error, ES_ERR_ARG, "exporting",
                       "Nothing can be changed while the records are being exported.");
    return ES_OK;
}

static void undo_all(es_store *store)
{
    if (!given_up(store))
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
}

/* --- transactions ----------------------------------------------------------------------------- */

es_status es_store_begin(es_store *store, es_error *error)
{
    if (store->transaction)
        return es_fail(error, ES_ERR_ARG, "nested", "A transaction is already under way.");
    es_status status = may_write(store, error);
    if (status == ES_OK)
        status = es_store_run(store, "BEGIN IMMEDIATE", error);
    store->transaction = status == ES_OK;
    return status;
}

es_status es_store_commit(es_store *store, es_error *error)
{
    if (!store->transaction || store->scopes > 0)
        return es_fail(error, ES_ERR_ARG, "no-transaction", "No transaction is under way.");
    es_status status = given_up(store) ? lost(error) : es_store_run(store, "COMMIT", error);
    if (status != ES_OK)
        undo_all(store);
    store->transaction = store->importing = 0;
    return status;
}

es_status es_store_rollback(es_store *store)
{
    if (!store->transaction)
        return ES_ERR_ARG;
    undo_all(store);
    store->transaction = store->importing = 0;
    return ES_OK;
}

/* --- scopes ----------------------------------------------------------------------------------- */

es_status es_scope_open(es_store *store, es_error *error)
{
    es_status status = may_write(store, error);
    int outermost = !store->transaction && store->scopes == 0;
    if (status == ES_OK && !outermost && given_up(store))
        status = lost(error);
    if (status == ES_OK)
        status = es_store_run(store, outermost ? "BEGIN IMMEDIATE" : "SAVEPOINT scope", error);
    store->scopes += status == ES_OK;
    return status;
}

static es_status keep(es_store *store, int outermost, es_error *error)
{
    if (given_up(store))
        return lost(error);
    return es_store_run(store, outermost ? "COMMIT" : "RELEASE scope", error);
}

es_status es_scope_close(es_store *store, es_status status, es_error *error)
{
    store->scopes--;
    int outermost = !store->transaction && store->scopes == 0;
    if (status == ES_OK)
        status = keep(store, outermost, error);
    if (status == ES_OK)
        return ES_OK;
    if (outermost)
        undo_all(store);
    else if (!given_up(store))
        sqlite3_exec(store->db, "ROLLBACK TO scope; RELEASE scope", NULL, NULL, NULL);
    return status;
}
