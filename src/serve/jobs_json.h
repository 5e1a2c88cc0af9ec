/*
 * What was done on the bench, as a document: evenspool.jobs/1, all jobs of all decks, each with the
 * figures it began and ended with, in the unit of what it adjusted (error_percent, error_us, error_db), in the order in which they were opened.
 *
 *   *out    the caller's to free, NULL on error; ES_ERR_NOMEM
 */
#ifndef ES_SERVE_JOBS_JSON_H
#define ES_SERVE_JOBS_JSON_H

#include "live/ledger_jobs.h"

es_status es_jobs_to_json(const es_told_job *jobs, size_t count, char **out);

#endif
