/* Records into rows. */
#include "store/guard.h"
#include "store/rows.h"

#include "evenspool/base/text.h"

#include <math.h>

#define SQL_ROOM 2048

static const void *at(const void *record, const es_record_field *field)
{
    return (const char *)record + field->offset;
}

/* --- binding ---------------------------------------------------------------------------------- */

static int bind_whole(sqlite3_stmt *statement, int place, int64_t value, int zero_is_null)
{
    if (value == 0 && zero_is_null)
        return sqlite3_bind_null(statement, place);
    return sqlite3_bind_int64(statement, place, value);
}

static int bind_number(sqlite3_stmt *statement, int place, double value)
{
    return isnan(value) ? sqlite3_bind_null(statement, place)
                        : sqlite3_bind_double(statement, place, value);
}

static int bind_field(sqlite3_stmt *statement, int place, const void *record,
                      const es_record_field *field)
{
    switch (field->type) {
    case ES_FIELD_NUMBER:
        return bind_number(statement, place, *(const double *)at(record, field));
    case ES_FIELD_TEXT:
        return sqlite3_bind_text(statement, place, at(record, field), -1, SQLITE_STATIC);
    case ES_FIELD_DOCUMENT:
        return sqlite3_bind_text(statement, place, *(const char *const *)at(record, field), -1,
                                 SQLITE_STATIC);
    case ES_FIELD_ID:
    case ES_FIELD_REFERENCE:
        return bind_whole(statement, place, *(const int64_t *)at(record, field), 1);
    case ES_FIELD_WHOLE:
        break;
    }
    return bind_whole(statement, place, *(const int64_t *)at(record, field), 0);
}

static es_status bind_all(const es_store *store, sqlite3_stmt *statement,
                          const es_record_kind *kind, const void *record, es_error *error)
{
    for (size_t i = 0; i < kind->field_count; i++) {
        int code = bind_field(statement, (int)i + 1, record, &kind->fields[i]);
        if (code != SQLITE_OK)
            return es_store_refused(store, code, error);
    }
    return ES_OK;
}

/* --- what SQLite refused ---------------------------------------------------------------------- */

static es_status taken(const es_record_kind *kind, const void *record, es_error *error)
{
    for (size_t i = 0; i < kind->field_count; i++)
        if (kind->fields[i].rules & ES_RULE_UNIQUE)
            return es_fail(error, ES_ERR_INPUT, "name-taken",
                           "There is already a %s with the name \"%s\"; give another.", kind->name,
                           (const char *)at(record, &kind->fields[i]));
    char name[48];
    es_guard_name(kind, record, name, sizeof name);
    return es_fail(error, ES_ERR_INPUT, "contradiction", "%s stands in the place of another.",
                   name);
}

static es_status constraint(const es_store *store, const es_record_kind *kind, const void *record,
                            es_error *error)
{
    char name[48];
    es_guard_name(kind, record, name, sizeof name);
    switch (sqlite3_extended_errcode(store->db)) {
    case SQLITE_CONSTRAINT_UNIQUE:
        return taken(kind, record, error);
    case SQLITE_CONSTRAINT_PRIMARYKEY:
    case SQLITE_CONSTRAINT_ROWID:
        return es_fail(error, ES_ERR_INPUT, "contradiction", "%s is there twice.", name);
    case SQLITE_CONSTRAINT_FOREIGNKEY:
        return es_fail(error, ES_ERR_INPUT, "contradiction",
                       "%s can't be kept: what it refers to belongs to different decks.", name);
    case SQLITE_CONSTRAINT_CHECK:
        return es_fail(error, ES_ERR_INPUT, "bad-value",
                       "%s can't be kept: one of its values can't be true.", name);
    default:
        return es_store_refused(store, SQLITE_CONSTRAINT, error);
    }
}

/* --- statements ------------------------------------------------------------------------------- */

static es_status carry_out(const es_store *store, const char *sql, const es_record_kind *kind,
                           const void *record, es_error *error)
{
    sqlite3_stmt *statement;
    es_status status = es_store_prepare(store, sql, &statement, error);
    if (status == ES_OK)
        status = bind_all(store, statement, kind, record, error);
    if (status == ES_OK) {
        int code = sqlite3_step(statement);
        if ((code & 0xFF) == SQLITE_CONSTRAINT)
            status = constraint(store, kind, record, error);
        else if (code != SQLITE_DONE)
            status = es_store_refused(store, code, error);
    }
    sqlite3_finalize(statement);
    return status;
}

static es_status insert(const es_store *store, const es_record_kind *kind, const void *record,
                        es_error *error)
{
    char sql[SQL_ROOM];
    es_text text = es_text_over(sql, sizeof sql);
    es_text_add(&text, "INSERT INTO \"%s\" (", kind->name);
    for (size_t i = 0; i < kind->field_count; i++)
        es_text_add(&text, "%s\"%s\"", i ? ", " : "", kind->fields[i].name);
    es_text_add(&text, ") VALUES (");
    for (size_t i = 0; i < kind->field_count; i++)
        es_text_add(&text, "%s?%zu", i ? ", " : "", i + 1);
    es_text_add(&text, ")");
    return carry_out(store, sql, kind, record, error);
}

es_status es_rows_insert_deferred(const es_store *store, es_record_type type, const void *record,
                                  es_error *error)
{
    const es_record_kind *kind = &es_record_kinds()[type];
    es_status status = es_guard_fields(kind, record, error);
    if (status == ES_OK)
        status = es_guard_documents(store, kind, record, error);
    return status == ES_OK ? insert(store, kind, record, error) : status;
}

es_status es_rows_insert(const es_store *store, es_record_type type, const void *record,
                         int64_t *id, es_error *error)
{
    const es_record_kind *kind = &es_record_kinds()[type];
    es_status status = es_guard_fields(kind, record, error);
    if (status == ES_OK)
        status = es_guard_documents(store, kind, record, error);
    if (status == ES_OK)
        status = es_guard_references(store, kind, record, error);
    if (status == ES_OK)
        status = insert(store, kind, record, error);
    if (id)
        *id = status == ES_OK ? sqlite3_last_insert_rowid(store->db) : 0;
    return status;
}

static es_status update(const es_store *store, const es_record_kind *kind, const void *record,
                        es_error *error)
{
    char sql[SQL_ROOM];
    es_text text = es_text_over(sql, sizeof sql);
    es_text_add(&text, "UPDATE \"%s\" SET ", kind->name);
    for (size_t i = 1; i < kind->field_count; i++)
        es_text_add(&text, "%s\"%s\" = ?%zu", i > 1 ? ", " : "", kind->fields[i].name, i + 1);
    es_text_add(&text, " WHERE id = ?1");
    es_status status = carry_out(store, sql, kind, record, error);
    if (status == ES_OK && sqlite3_changes(store->db) == 0)
        return es_fail(error, ES_ERR_INPUT, "unknown", "There is no such %s.", kind->name);
    return status;
}

es_status es_rows_update(const es_store *store, es_record_type type, const void *record,
                         es_error *error)
{
    const es_record_kind *kind = &es_record_kinds()[type];
    es_status status = es_guard_fields(kind, record, error);
    if (status == ES_OK)
        status = es_guard_references(store, kind, record, error);
    return status == ES_OK ? update(store, kind, record, error) : status;
}

/* --- in a scope of their own ------------------------------------------------------------------ */

es_status es_rows_add(es_store *store, es_record_type type, const void *record, int64_t *id,
                      es_error *error)
{
    int64_t added = 0;
    if (id)
        *id = 0;
    if (*(const int64_t *)at(record, &es_record_kinds()[type].fields[0]) != 0)
        return es_fail(error, ES_ERR_ARG, "has-id", "A new record has no number yet.");
    es_status status = es_scope_open(store, error);
    if (status != ES_OK)
        return status;
    status = es_rows_insert(store, type, record, &added, error);
    status = es_scope_close(store, status, error);
    if (id && status == ES_OK)
        *id = added;
    return status;
}

es_status es_rows_edit(es_store *store, es_record_type type, const void *record, es_error *error)
{
    es_status status = es_scope_open(store, error);
    if (status != ES_OK)
        return status;
    status = es_rows_update(store, type, record, error);
    return es_scope_close(store, status, error);
}
