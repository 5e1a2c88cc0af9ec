/*
 * What was done on the bench: the jobs of all decks, each with what it began and ended with.
 *
 *   figures in the unit of what the job adjusted: base/adjust.h; NaN: not read
 *   errors  what live/ledger.h says for all; *out is NULL and *count 0 then
 */
#ifndef ES_LIVE_LEDGER_JOBS_H
#define ES_LIVE_LEDGER_JOBS_H

#include "live/ledger.h"

typedef struct es_told_job {
    es_job_record job;
    char deck[ES_NAME_ROOM];
    size_t nudge_count;
    double found, found_u95;
    double left, left_u95;
} es_told_job;

/* In the order in which they were opened; *out is the caller's to free. */
es_status es_ledger_jobs(es_ledger *ledger, es_told_job **out, size_t *count, es_error *error);

#endif
