#include "store/schema.h"

#include "evenspool/base/record_kinds.h"
#include "evenspool/base/text.h"
#include "store/copy.h"
#include "store/look.h"

#include <unistd.h>

int es_store_schema_version(void)
{
    return es_schema_version;
}

typedef struct marks {
    int64_t program, version, tables;
} marks;

/* In one statement: another program may be making the file this very moment. */
static es_status read_marks(const es_store *store, marks *out, es_error *error)
{
    *out = (marks){0};
    int row = 0;
    sqlite3_stmt *statement;
    es_status status =
        es_store_prepare(store,
                         "SELECT application_id, user_version, (SELECT count(*) FROM sqlite_schema)"
                         " FROM pragma_application_id, pragma_user_version",
                         &statement, error);
    if (status == ES_OK)
        status = es_store_step(store, statement, &row, error);
    if (row)
        *out = (marks){sqlite3_column_int64(statement, 0), sqlite3_column_int64(statement, 1),
                       sqlite3_column_int64(statement, 2)};
    sqlite3_finalize(statement);
    return status;
}

es_status es_schema_find(const es_store *store, int *version, es_error *error)
{
    *version = 0;
    marks found;
    es_status status = read_marks(store, &found, error);
    if (status != ES_OK || (found.program == 0 && found.version == 0 && found.tables == 0))
        return status;
    if (found.program != ES_STORE_MARK)
        return es_look_foreign(error);
    if (found.version > es_schema_version)
        return es_look_newer(error);
    if (found.version < 1)
        return es_store_damaged(error);
    *version = (int)found.version;
    return ES_OK;
}

/* --- bringing up ------------------------------------------------------------------------------ */

static es_status take_steps(es_store *store, int version, es_error *error)
{
    es_status status = ES_OK;
    for (int step = version; step < es_schema_version && status == ES_OK; step++)
        status = es_store_run(store, es_schema_steps[step], error);
    if (status != ES_OK)
        return status;
    int64_t broken;
    status =
        es_store_ask(store, "SELECT count(*) FROM pragma_foreign_key_check", 0, &broken, error);
    if (status == ES_OK && broken > 0)
        return es_store_damaged(error);
    char sql[96];
    es_text text = es_text_over(sql, sizeof sql);
    es_text_add(&text, "PRAGMA application_id = %d; PRAGMA user_version = %d", ES_STORE_MARK,
                es_schema_version);
    return status == ES_OK ? es_store_run(store, sql, error) : status;
}

/* With the right to write in hand: another program may have done it in the meantime. */
static es_status bring_up(es_store *store, const char *path, char *copy, es_error *error)
{
    int version;
    es_status status = es_schema_find(store, &version, error);
    if (status != ES_OK || version == es_schema_version)
        return status;
    if (version > 0)
        status = es_copy_beside(store, path, version, copy, error);
    return status == ES_OK ? take_steps(store, version, error) : status;
}

es_status es_schema_bring_up(es_store *store, const char *path, es_error *error)
{
    int version;
    es_status status = es_schema_find(store, &version, error);
    if (status != ES_OK || version == es_schema_version)
        return status;
    if (sqlite3_db_readonly(store->db, "main") != 0)
        return es_fail(error, ES_ERR_IO, "older-records",
                       "These records were written by an older version of Evenspool and have to "
                       "be brought up to date, but the file or its folder is write-protected.");
    status = es_store_run(store, "BEGIN IMMEDIATE", error);
    if (status != ES_OK)
        return status;
    char copy[ES_STORE_PATH_ROOM] = "";
    status = bring_up(store, path, copy, error);
    if (status == ES_OK)
        status = es_store_run(store, "COMMIT", error);
    if (status != ES_OK)
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    if (status != ES_OK && copy[0])
        unlink(copy); /* nothing was changed: the next attempt takes its own */
    return status;
}

/* --- is all there ----------------------------------------------------------------------------- */

es_status es_schema_has_all(const es_store *store, es_error *error)
{
    for (int i = 0; i < ES_RECORD_TYPE_COUNT; i++) {
        const es_record_kind *kind = &es_record_kinds()[i];
        char sql[2048];
        es_text text = es_text_over(sql, sizeof sql);
        es_text_add(&text, "SELECT ");
        /* with the table's name before it, or SQLite would take a missing column for a text */
        for (size_t k = 0; k < kind->field_count; k++)
            es_text_add(&text, "%s\"%s\".\"%s\"", k ? ", " : "", kind->name, kind->fields[k].name);
        es_text_add(&text, " FROM \"%s\"", kind->name);
        sqlite3_stmt *statement;
        es_status status = es_store_prepare(store, sql, &statement, error);
        sqlite3_finalize(statement);
        if (status != ES_OK)
            return status;
    }
    return ES_OK;
}
