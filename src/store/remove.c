/*
 * Removing a record with its parts, and, when asked, with its history.
 *
 * `doomed` is a table of our own in memory: first the record, then its parts and theirs; with
 * history also every record that can't be without one of them. What refers to a doomed record
 * and may be without it only loses the reference.
 */
#include "store/rows.h"

#include "evenspool/base/text.h"

#define SQL_ROOM 1024

static const es_record_kind *kind_of(es_record_type type)
{
    return &es_record_kinds()[type];
}

/* Calls visit for every reference there is between kinds, until one fails. */
typedef es_status (*reference_visit)(es_store *store, const es_record_kind *kind,
                                     const es_record_field *field, es_removal how, es_error *error);

static es_status each_reference(es_store *store, reference_visit visit, es_removal how,
                                es_error *error)
{
    for (int type = 0; type < ES_RECORD_TYPE_COUNT; type++) {
        const es_record_kind *kind = kind_of((es_record_type)type);
        for (size_t i = 0; i < kind->field_count; i++) {
            if (kind->fields[i].type != ES_FIELD_REFERENCE)
                continue;
            es_status status = visit(store, kind, &kind->fields[i], how, error);
            if (status != ES_OK)
                return status;
        }
    }
    return ES_OK;
}

/* --- who has to go ---------------------------------------------------------------------------- */

static es_status begin(es_store *store, es_record_type type, int64_t id, es_error *error)
{
    char sql[SQL_ROOM];
    es_text text = es_text_over(sql, sizeof sql);
    es_text_add(&text,
                "CREATE TEMP TABLE doomed (type INTEGER, id INTEGER, PRIMARY KEY (type, id));"
                "INSERT INTO doomed SELECT %d, id FROM \"%s\" WHERE id = %lld;",
                (int)type, kind_of(type)->name, (long long)id);
    es_status status = es_store_run(store, sql, error);
    if (status == ES_OK && sqlite3_changes(store->db) == 0)
        return es_fail(error, ES_ERR_INPUT, "unknown", "There is no %s %lld.", kind_of(type)->name,
                       (long long)id);
    return status;
}

static es_status doom(es_store *store, const es_record_kind *kind, const es_record_field *field,
                      es_removal how, es_error *error)
{
    unsigned bound = ES_RULE_PART | (how == ES_REMOVE_WITH_HISTORY ? ES_RULE_NEEDED : 0U);
    if (!(field->rules & bound))
        return ES_OK;
    char sql[SQL_ROOM];
    es_text text = es_text_over(sql, sizeof sql);
    es_text_add(&text,
                "INSERT OR IGNORE INTO doomed SELECT %d, id FROM \"%s\""
                " WHERE \"%s\" IN (SELECT id FROM doomed WHERE type = %d)",
                (int)kind->type, kind->name, field->name, (int)field->target);
    return es_store_run(store, sql, error);
}

static es_status doom_all(es_store *store, es_removal how, es_error *error)
{
    int64_t before, after = 0;
    do {
        before = after;
        es_status status = each_reference(store, doom, how, error);
        if (status == ES_OK)
            status = es_store_ask(store, "SELECT count(*) FROM doomed", 0, &after, error);
        if (status != ES_OK)
            return status;
    } while (after != before);
    return ES_OK;
}

/* --- who would be left without ---------------------------------------------------------------- */

/* How many records of a kind that stays refer to a doomed one. */
static es_status count_users(const es_store *store, const es_record_kind *kind, int64_t *count,
                             es_error *error)
{
    char sql[SQL_ROOM];
    es_text text = es_text_over(sql, sizeof sql);
    es_text_add(&text,
                "SELECT count(*) FROM \"%s\""
                " WHERE id NOT IN (SELECT id FROM doomed WHERE type = %d) AND (0",
                kind->name, (int)kind->type);
    for (size_t i = 0; i < kind->field_count; i++)
        if (kind->fields[i].type == ES_FIELD_REFERENCE)
            es_text_add(&text, " OR \"%s\" IN (SELECT id FROM doomed WHERE type = %d)",
                        kind->fields[i].name, (int)kind->fields[i].target);
    es_text_add(&text, ")");
    return es_store_ask(store, sql, 0, count, error);
}

static es_status refuse_users(const es_store *store, es_record_type type, es_error *error)
{
    char list[240];
    es_text text = es_text_over(list, sizeof list);
    for (int i = 0; i < ES_RECORD_TYPE_COUNT; i++) {
        const es_record_kind *kind = kind_of((es_record_type)i);
        int64_t count;
        es_status status = count_users(store, kind, &count, error);
        if (status != ES_OK)
            return status;
        if (count > 0)
            es_text_add(&text, "%s%lld %s", text.length ? ", " : "", (long long)count,
                        count == 1 ? kind->name : kind->plural);
    }
    if (text.length == 0)
        return ES_OK;
    return es_fail(error, ES_ERR_INPUT, "still-used",
                   "This %s is still used (%s); remove those first, or ask for it to go with its "
                   "history.",
                   kind_of(type)->name, list);
}

static es_status let_go(es_store *store, const es_record_kind *kind, const es_record_field *field,
                        es_removal how, es_error *error)
{
    (void)how;
    if (field->rules & ES_RULE_NEEDED)
        return ES_OK;
    char sql[SQL_ROOM];
    es_text text = es_text_over(sql, sizeof sql);
    es_text_add(&text,
                "UPDATE \"%s\" SET \"%s\" = NULL"
                " WHERE \"%s\" IN (SELECT id FROM doomed WHERE type = %d)",
                kind->name, field->name, field->name, (int)field->target);
    return es_store_run(store, sql, error);
}

/* --- the removal ------------------------------------------------------------------------------ */

static es_status delete_doomed(es_store *store, es_error *error)
{
    for (int i = ES_RECORD_TYPE_COUNT - 1; i >= 0; i--) {
        char sql[SQL_ROOM];
        es_text text = es_text_over(sql, sizeof sql);
        es_text_add(&text, "DELETE FROM \"%s\" WHERE id IN (SELECT id FROM doomed WHERE type = %d)",
                    kind_of((es_record_type)i)->name, i);
        es_status status = es_store_run(store, sql, error);
        if (status != ES_OK)
            return status;
    }
    return es_store_run(store, "DROP TABLE doomed", error);
}

es_status es_rows_remove(es_store *store, es_record_type type, int64_t id, es_removal how,
                         es_error *error)
{
    es_status status = es_scope_open(store, error);
    if (status != ES_OK)
        return status;
    status = begin(store, type, id, error);
    if (status == ES_OK)
        status = doom_all(store, how, error);
    if (status == ES_OK && how == ES_REMOVE_UNUSED)
        status = refuse_users(store, type, error);
    if (status == ES_OK)
        status = each_reference(store, let_go, how, error);
    if (status == ES_OK)
        status = delete_doomed(store, error);
    return es_scope_close(store, status, error);
}
