/* Rows into records. A row that does not fit its record was not written by us: damaged. */
#include "store/rows.h"

#include "evenspool/base/text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SQL_ROOM 2048

static void *at(void *record, const es_record_field *field)
{
    return (char *)record + field->offset;
}

static es_status no_memory(es_error *error)
{
    return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
}

/* --- one row ---------------------------------------------------------------------------------- */

/* The text of a column, without a zero inside; NULL: there is none such. */
static const char *column_text(sqlite3_stmt *statement, int column, size_t *length)
{
    const char *text = (const char *)sqlite3_column_text(statement, column);
    *length = (size_t)sqlite3_column_bytes(statement, column);
    return text && strlen(text) == *length ? text : NULL;
}

static int take_text(sqlite3_stmt *statement, int column, void *record,
                     const es_record_field *field)
{
    size_t length;
    const char *text = column_text(statement, column, &length);
    if (!text || length >= field->room)
        return 0;
    memcpy(at(record, field), text, length + 1);
    return 1;
}

/* 0: the column does not fit the field. */
static int take_field(sqlite3_stmt *statement, int column, void *record,
                      const es_record_field *field)
{
    size_t length;
    switch (field->type) {
    case ES_FIELD_TEXT:
        return take_text(statement, column, record, field);
    case ES_FIELD_DOCUMENT:
        return (*(const char **)at(record, field) = column_text(statement, column, &length)) !=
               NULL;
    case ES_FIELD_NUMBER:
        *(double *)at(record, field) = sqlite3_column_type(statement, column) == SQLITE_NULL
                                           ? (double)NAN
                                           : sqlite3_column_double(statement, column);
        return 1;
    case ES_FIELD_ID:
    case ES_FIELD_REFERENCE:
    case ES_FIELD_WHOLE:
        break;
    }
    *(int64_t *)at(record, field) = sqlite3_column_int64(statement, column);
    return 1;
}

static es_status take_row(sqlite3_stmt *statement, const es_record_kind *kind, int documents,
                          void *record, es_error *error)
{
    memset(record, 0, kind->size);
    int column = 0;
    for (size_t i = 0; i < kind->field_count; i++) {
        const es_record_field *field = &kind->fields[i];
        if (field->type == ES_FIELD_DOCUMENT && !documents)
            continue;
        if (!take_field(statement, column++, record, field))
            return es_store_damaged(error);
    }
    return ES_OK;
}

/* --- statements ------------------------------------------------------------------------------- */

/* Rows of a kind; field NULL: all, else those whose field is ?1. */
static es_status prepare(const es_store *store, const es_record_kind *kind, const char *field,
                         int documents, sqlite3_stmt **out, es_error *error)
{
    char sql[SQL_ROOM];
    es_text text = es_text_over(sql, sizeof sql);
    es_text_add(&text, "SELECT ");
    for (size_t i = 0; i < kind->field_count; i++)
        if (documents || kind->fields[i].type != ES_FIELD_DOCUMENT)
            es_text_add(&text, "%s\"%s\"", i ? ", " : "", kind->fields[i].name);
    es_text_add(&text, " FROM \"%s\"", kind->name);
    if (field)
        es_text_add(&text, " WHERE \"%s\" = ?1", field);
    es_text_add(&text, " ORDER BY id");
    return es_store_prepare(store, sql, out, error);
}

/* The only row of a statement. ES_ERR_INPUT "unknown" and the sentence: there is none. */
static es_status only_row(const es_store *store, sqlite3_stmt *statement,
                          const es_record_kind *kind, void *out, char **document,
                          const char *unknown, es_error *error)
{
    int row;
    es_status status = es_store_step(store, statement, &row, error);
    if (status == ES_OK && !row)
        return es_fail(error, ES_ERR_INPUT, "unknown", "%s", unknown);
    if (status == ES_OK)
        status = take_row(statement, kind, document != NULL, out, error);
    if (status != ES_OK || !document)
        return status;
    for (size_t i = 0; i < kind->field_count; i++) {
        const es_record_field *field = &kind->fields[i];
        if (field->type != ES_FIELD_DOCUMENT)
            continue;
        *document = strdup(*(const char **)at(out, field));
        *(const char **)at(out, field) = *document;
        status = *document ? status : no_memory(error);
    }
    return status;
}

es_status es_rows_show(const es_store *store, es_record_type type, int64_t id, void *out,
                       char **document, es_error *error)
{
    const es_record_kind *kind = &es_record_kinds()[type];
    if (document)
        *document = NULL;
    char unknown[64];
    es_text text = es_text_over(unknown, sizeof unknown);
    es_text_add(&text, "There is no %s %lld.", kind->name, (long long)id);
    sqlite3_stmt *statement;
    es_status status = prepare(store, kind, "id", document != NULL, &statement, error);
    if (status == ES_OK) {
        sqlite3_bind_int64(statement, 1, id);
        status = only_row(store, statement, kind, out, document, unknown, error);
    }
    sqlite3_finalize(statement);
    if (status != ES_OK)
        es_record_blank(type, out);
    return status;
}

es_status es_rows_named(const es_store *store, es_record_type type, const char *name, void *out,
                        es_error *error)
{
    const es_record_kind *kind = &es_record_kinds()[type];
    char unknown[400];
    es_text text = es_text_over(unknown, sizeof unknown);
    es_text_add(&text, "There is no %s with the name \"%.*s\".", kind->name, ES_NAME_ROOM, name);
    sqlite3_stmt *statement;
    es_status status = prepare(store, kind, "name", 0, &statement, error);
    if (status == ES_OK) {
        int code = sqlite3_bind_text(statement, 1, name, -1, SQLITE_STATIC);
        status = code == SQLITE_OK ? only_row(store, statement, kind, out, NULL, unknown, error)
                                   : es_store_refused(store, code, error);
    }
    sqlite3_finalize(statement);
    if (status != ES_OK)
        es_record_blank(type, out);
    return status;
}

/* --- many rows -------------------------------------------------------------------------------- */

typedef struct row_list {
    char *rows;
    size_t count, room;
} row_list;

/* Place for one more; NULL: no memory. */
static void *one_more(row_list *list, size_t size)
{
    if (list->count == list->room) {
        size_t room = list->room ? 2 * list->room : 16;
        char *rows = realloc(list->rows, room * size);
        if (!rows)
            return NULL;
        list->rows = rows;
        list->room = room;
    }
    return list->rows + size * list->count++;
}

static es_status gather(const es_store *store, sqlite3_stmt *statement, const es_record_kind *kind,
                        row_list *list, es_error *error)
{
    for (;;) {
        int row;
        es_status status = es_store_step(store, statement, &row, error);
        if (status != ES_OK || !row)
            return status;
        void *record = one_more(list, kind->size);
        status = record ? take_row(statement, kind, 0, record, error) : no_memory(error);
        if (status != ES_OK)
            return status;
    }
}

es_status es_rows_list(const es_store *store, es_record_type type, const char *field, int64_t id,
                       void **out, size_t *count, es_error *error)
{
    *out = NULL;
    *count = 0;
    const es_record_kind *kind = &es_record_kinds()[type];
    row_list list = {0};
    sqlite3_stmt *statement;
    es_status status = prepare(store, kind, field, 0, &statement, error);
    if (status == ES_OK) {
        if (field)
            sqlite3_bind_int64(statement, 1, id);
        status = gather(store, statement, kind, &list, error);
    }
    sqlite3_finalize(statement);
    if (status != ES_OK) {
        free(list.rows);
        return status;
    }
    *out = list.rows;
    *count = list.count;
    return ES_OK;
}

es_status es_rows_each(const es_store *store, es_record_type type, es_row_visit visit, void *user,
                       es_error *error)
{
    const es_record_kind *kind = &es_record_kinds()[type];
    es_any_record record;
    sqlite3_stmt *statement;
    es_status status = prepare(store, kind, NULL, 1, &statement, error);
    while (status == ES_OK) {
        int row;
        status = es_store_step(store, statement, &row, error);
        if (status != ES_OK || !row)
            break;
        status = take_row(statement, kind, 1, &record, error);
        if (status == ES_OK)
            status = visit(user, kind, &record);
    }
    sqlite3_finalize(statement);
    return status;
}
