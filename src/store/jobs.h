/*
 * Jobs with their nudges and remarks. Status, error, add / edit / show / list / remove: see store.h.
 */
#ifndef ES_STORE_JOBS_H
#define ES_STORE_JOBS_H

#include "store/store.h"

/* A new job has no readings yet: as_found and as_left are filled in by an edit. */
es_status es_store_add_job(es_store *store, const es_job_record *job, int64_t *id, es_error *error);
es_status es_store_edit_job(es_store *store, const es_job_record *job, es_error *error);
es_status es_store_show_job(const es_store *store, int64_t id, es_job_record *out, es_error *error);
/* Of one deck; 0: of all. */
es_status es_store_list_jobs(const es_store *store, int64_t deck, es_job_record **out,
                             size_t *count, es_error *error);
/* Its nudges and remarks are parts of it. With history: its readings stay, without a job. */
es_status es_store_remove_job(es_store *store, int64_t id, es_removal how, es_error *error);

/* All or none, after those the job has; id, job and place are given by the records. */
es_status es_store_add_nudges(es_store *store, int64_t job, const es_nudge_record *nudges,
                              size_t count, es_error *error);
es_status es_store_list_nudges(const es_store *store, int64_t job, es_nudge_record **out,
                               size_t *count, es_error *error);
es_status es_store_remove_nudge(es_store *store, int64_t id, es_error *error);

es_status es_store_add_remark(es_store *store, const es_remark_record *remark, int64_t *id,
                              es_error *error);
es_status es_store_edit_remark(es_store *store, const es_remark_record *remark, es_error *error);
es_status es_store_show_remark(const es_store *store, int64_t id, es_remark_record *out,
                               es_error *error);
es_status es_store_list_remarks(const es_store *store, int64_t job, es_remark_record **out,
                                size_t *count, es_error *error);
es_status es_store_remove_remark(es_store *store, int64_t id, es_error *error);

#endif
