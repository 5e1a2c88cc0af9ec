#include "store/anchors.h"

#include "evenspool/base/text.h"
#include "store/rows.h"

/* --- parts ------------------------------------------------------------------------------------ */

static es_status insert_parts(es_store *store, int64_t anchor, const es_anchor_parts *parts,
                              es_error *error)
{
    es_status status = ES_OK;
    for (size_t i = 0; i < parts->answer_count && status == ES_OK; i++) {
        es_answer_record answer = parts->answers[i];
        answer.id = 0;
        answer.anchor = anchor;
        answer.place = (int64_t)i + 1;
        status = es_rows_insert(store, ES_RECORD_ANSWER, &answer, NULL, error);
    }
    for (size_t i = 0; i < parts->budget_count && status == ES_OK; i++) {
        es_budget_record line = parts->budget[i];
        line.id = 0;
        line.anchor = anchor;
        line.place = (int64_t)i + 1;
        status = es_rows_insert(store, ES_RECORD_BUDGET, &line, NULL, error);
    }
    return status;
}

static es_status drop_parts(es_store *store, int64_t anchor, es_error *error)
{
    char sql[160];
    es_text text = es_text_over(sql, sizeof sql);
    es_text_add(&text,
                "DELETE FROM answer WHERE anchor = %lld; DELETE FROM budget WHERE anchor = %lld",
                (long long)anchor, (long long)anchor);
    return es_store_run(store, sql, error);
}

/* --- anchors ---------------------------------------------------------------------------------- */

es_status es_store_add_anchor(es_store *store, const es_anchor_record *anchor,
                              const es_anchor_parts *parts, int64_t *id, es_error *error)
{
    int64_t added = 0;
    if (id)
        *id = 0;
    es_status status = es_scope_open(store, error);
    if (status != ES_OK)
        return status;
    status = es_rows_add(store, ES_RECORD_ANCHOR, anchor, &added, error);
    if (status == ES_OK && parts)
        status = insert_parts(store, added, parts, error);
    status = es_scope_close(store, status, error);
    if (id && status == ES_OK)
        *id = added;
    return status;
}

es_status es_store_edit_anchor(es_store *store, const es_anchor_record *anchor,
                               const es_anchor_parts *parts, es_error *error)
{
    es_status status = es_scope_open(store, error);
    if (status != ES_OK)
        return status;
    status = es_rows_update(store, ES_RECORD_ANCHOR, anchor, error);
    if (status == ES_OK && parts)
        status = drop_parts(store, anchor->id, error);
    if (status == ES_OK && parts)
        status = insert_parts(store, anchor->id, parts, error);
    return es_scope_close(store, status, error);
}

es_status es_store_show_anchor(const es_store *store, int64_t id, es_anchor_record *out,
                               es_error *error)
{
    return es_rows_show(store, ES_RECORD_ANCHOR, id, out, NULL, error);
}

es_status es_store_list_anchors(const es_store *store, es_anchor_record **out, size_t *count,
                                es_error *error)
{
    void *rows;
    es_status status = es_rows_list(store, ES_RECORD_ANCHOR, NULL, 0, &rows, count, error);
    *out = rows;
    return status;
}

es_status es_store_list_answers(const es_store *store, int64_t anchor, es_answer_record **out,
                                size_t *count, es_error *error)
{
    void *rows;
    es_status status = es_rows_list(store, ES_RECORD_ANSWER, "anchor", anchor, &rows, count, error);
    *out = rows;
    return status;
}

es_status es_store_list_budget(const es_store *store, int64_t anchor, es_budget_record **out,
                               size_t *count, es_error *error)
{
    void *rows;
    es_status status = es_rows_list(store, ES_RECORD_BUDGET, "anchor", anchor, &rows, count, error);
    *out = rows;
    return status;
}

es_status es_store_remove_anchor(es_store *store, int64_t id, es_error *error)
{
    return es_rows_remove(store, ES_RECORD_ANCHOR, id, ES_REMOVE_UNUSED, error);
}
