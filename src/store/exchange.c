#include "store/exchange.h"

#include "evenspool/base/text.h"
#include "store/guard.h"
#include "store/rows.h"

#include <string.h>

#define ID_MOST 9007199254740991 /* 2^53 - 1: whole numbers of a document are exact up to here */

/* --- out -------------------------------------------------------------------------------------- */

es_status es_store_export(es_store *store, es_record_visit visit, void *user, es_error *error)
{
    /* a transaction that reads: all kinds are seen at one moment */
    int outermost = sqlite3_get_autocommit(store->db) != 0;
    es_status status = outermost ? es_store_run(store, "BEGIN", error) : ES_OK;
    if (status != ES_OK)
        return status;
    store->exporting++;
    for (int type = 0; type < ES_RECORD_TYPE_COUNT && status == ES_OK; type++)
        status = es_rows_each(store, (es_record_type)type, visit, user, error);
    store->exporting--;
    if (outermost)
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    return status;
}

/* --- in --------------------------------------------------------------------------------------- */

static es_status find_shifts(es_store *store, es_error *error)
{
    es_status status = ES_OK;
    for (int type = 0; type < ES_RECORD_TYPE_COUNT && status == ES_OK; type++) {
        char sql[96];
        es_text text = es_text_over(sql, sizeof sql);
        es_text_add(&text, "SELECT max(id) FROM \"%s\"", es_record_kinds()[type].name);
        status = es_store_ask(store, sql, 0, &store->shift[type], error);
    }
    return status;
}

es_status es_store_import_begin(es_store *store, es_error *error)
{
    es_status status = es_store_begin(store, error);
    if (status != ES_OK)
        return status;
    status = es_store_run(store, "PRAGMA defer_foreign_keys = ON", error);
    if (status == ES_OK)
        status = find_shifts(store, error);
    if (status != ES_OK)
        es_store_rollback(store);
    else
        store->importing = 1;
    return status;
}

/* The record with its id and references moved; 0: one of them is out of range. */
static int move(const es_store *store, const es_record_kind *kind, es_any_record *record)
{
    for (size_t i = 0; i < kind->field_count; i++) {
        const es_record_field *field = &kind->fields[i];
        if (field->type != ES_FIELD_ID && field->type != ES_FIELD_REFERENCE)
            continue;
        int64_t *id = (int64_t *)(void *)((char *)record + field->offset);
        es_record_type type = field->type == ES_FIELD_ID ? kind->type : field->target;
        if (*id == 0 && field->type == ES_FIELD_REFERENCE)
            continue;
        if (*id < 1 || *id > ID_MOST - store->shift[type])
            return 0;
        *id += store->shift[type];
    }
    return 1;
}

es_status es_store_import(es_store *store, es_record_type type, const void *record, es_error *error)
{
    if (!store->importing)
        return es_fail(error, ES_ERR_ARG, "no-transaction", "No import is under way.");
    const es_record_kind *kind = &es_record_kinds()[type];
    es_status status =
        es_guard_fields(kind, record, error); /* names it by the number it came with */
    if (status != ES_OK)
        return status;
    es_any_record moved;
    memcpy(&moved, record, kind->size);
    if (!move(store, kind, &moved))
        return es_fail(error, ES_ERR_INPUT, "bad-value",
                       "A %s has, or names, a number that is out of range.", kind->name);
    status = es_scope_open(store, error);
    if (status != ES_OK)
        return status;
    return es_scope_close(store, es_rows_insert_deferred(store, type, &moved, error), error);
}

/* --- does it all belong together -------------------------------------------------------------- */

/* The label of the field that a broken key of SQLite's begins with. */
static es_status refuse_broken(const es_store *store, const char *table, int64_t id,
                               const char *parent, es_error *error)
{
    int64_t shift = 0;
    for (int type = 0; type < ES_RECORD_TYPE_COUNT; type++)
        if (strcmp(es_record_kinds()[type].name, table) == 0)
            shift = store->shift[type];
    return es_fail(error, ES_ERR_INPUT, "unknown",
                   "A %s (%lld) refers to a %s that is not there or belongs to another deck.",
                   table, (long long)(id - shift), parent);
}

static es_status check_references(const es_store *store, es_error *error)
{
    int row = 0;
    sqlite3_stmt *statement;
    es_status status = es_store_prepare(
        store, "SELECT \"table\", rowid, parent FROM pragma_foreign_key_check LIMIT 1", &statement,
        error);
    if (status == ES_OK)
        status = es_store_step(store, statement, &row, error);
    if (row)
        status = refuse_broken(store, (const char *)sqlite3_column_text(statement, 0),
                               sqlite3_column_int64(statement, 1),
                               (const char *)sqlite3_column_text(statement, 2), error);
    sqlite3_finalize(statement);
    return status;
}

static es_status check_epochs(const es_store *store, es_error *error)
{
    int64_t id;
    es_status status =
        es_store_ask(store, "SELECT id FROM deck WHERE id NOT IN (SELECT deck FROM epoch) LIMIT 1",
                     0, &id, error);
    if (status == ES_OK && id > 0)
        return es_fail(error, ES_ERR_INPUT, "contradiction", "Deck %lld came without an epoch.",
                       (long long)(id - store->shift[ES_RECORD_DECK]));
    return status;
}

es_status es_store_import_commit(es_store *store, es_error *error)
{
    if (!store->importing)
        return es_fail(error, ES_ERR_ARG, "no-transaction", "No import is under way.");
    es_status status = check_references(store, error);
    if (status == ES_OK)
        status = check_epochs(store, error);
    if (status != ES_OK) {
        es_store_rollback(store);
        return status;
    }
    return es_store_commit(store, error);
}

es_status es_store_import_rollback(es_store *store)
{
    return store->importing ? es_store_rollback(store) : ES_ERR_ARG;
}
