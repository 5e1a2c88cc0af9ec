/*
 * What was done on the bench, as a document: evenspool.jobs/1, all jobs of all decks, each with the
 * figures it began and ended with, in the order of the decks.
 *
 *   ledger  NULL: there are no records, and no jobs
 *   *out    the caller's to free, NULL on error; ES_ERR_NOMEM and what the ledger says
 */
#ifndef ES_SERVE_JOBS_JSON_H
#define ES_SERVE_JOBS_JSON_H

#include "live/ledger.h"

es_status es_jobs_to_json(es_ledger *ledger, char **out, es_error *error);

#endif
