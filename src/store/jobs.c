#include "store/jobs.h"

#include "store/rows.h"

/* --- jobs ------------------------------------------------------------------------------------- */

es_status es_store_add_job(es_store *store, const es_job_record *job, int64_t *id, es_error *error)
{
    return es_rows_add(store, ES_RECORD_JOB, job, id, error);
}

es_status es_store_edit_job(es_store *store, const es_job_record *job, es_error *error)
{
    return es_rows_edit(store, ES_RECORD_JOB, job, error);
}

es_status es_store_show_job(const es_store *store, int64_t id, es_job_record *out, es_error *error)
{
    return es_rows_show(store, ES_RECORD_JOB, id, out, NULL, error);
}

es_status es_store_list_jobs(const es_store *store, int64_t deck, es_job_record **out,
                             size_t *count, es_error *error)
{
    void *rows;
    es_status status =
        es_rows_list(store, ES_RECORD_JOB, deck ? "deck" : NULL, deck, &rows, count, error);
    *out = rows;
    return status;
}

es_status es_store_remove_job(es_store *store, int64_t id, es_removal how, es_error *error)
{
    return es_rows_remove(store, ES_RECORD_JOB, id, how, error);
}

/* --- nudges ----------------------------------------------------------------------------------- */

static es_status insert_nudges(es_store *store, int64_t job, const es_nudge_record *nudges,
                               size_t count, es_error *error)
{
    int64_t place;
    es_status status =
        es_store_ask(store, "SELECT max(place) FROM nudge WHERE job = ?1", job, &place, error);
    for (size_t i = 0; i < count && status == ES_OK; i++) {
        es_nudge_record nudge = nudges[i];
        nudge.id = 0;
        nudge.job = job;
        nudge.place = ++place;
        status = es_rows_insert(store, ES_RECORD_NUDGE, &nudge, NULL, error);
    }
    return status;
}

es_status es_store_add_nudges(es_store *store, int64_t job, const es_nudge_record *nudges,
                              size_t count, es_error *error)
{
    es_status status = es_scope_open(store, error);
    if (status != ES_OK)
        return status;
    return es_scope_close(store, insert_nudges(store, job, nudges, count, error), error);
}

es_status es_store_list_nudges(const es_store *store, int64_t job, es_nudge_record **out,
                               size_t *count, es_error *error)
{
    void *rows;
    es_status status = es_rows_list(store, ES_RECORD_NUDGE, "job", job, &rows, count, error);
    *out = rows;
    return status;
}

es_status es_store_remove_nudge(es_store *store, int64_t id, es_error *error)
{
    return es_rows_remove(store, ES_RECORD_NUDGE, id, ES_REMOVE_UNUSED, error);
}

/* --- remarks ---------------------------------------------------------------------------------- */

es_status es_store_add_remark(es_store *store, const es_remark_record *remark, int64_t *id,
                              es_error *error)
{
    return es_rows_add(store, ES_RECORD_REMARK, remark, id, error);
}

es_status es_store_edit_remark(es_store *store, const es_remark_record *remark, es_error *error)
{
    return es_rows_edit(store, ES_RECORD_REMARK, remark, error);
}

es_status es_store_show_remark(const es_store *store, int64_t id, es_remark_record *out,
                               es_error *error)
{
    return es_rows_show(store, ES_RECORD_REMARK, id, out, NULL, error);
}

es_status es_store_list_remarks(const es_store *store, int64_t job, es_remark_record **out,
                                size_t *count, es_error *error)
{
    void *rows;
    es_status status = es_rows_list(store, ES_RECORD_REMARK, "job", job, &rows, count, error);
    *out = rows;
    return status;
}

es_status es_store_remove_remark(es_store *store, int64_t id, es_error *error)
{
    return es_rows_remove(store, ES_RECORD_REMARK, id, ES_REMOVE_UNUSED, error);
}
