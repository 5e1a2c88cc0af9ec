/*
 * Exchange: all records out, and all records in, for whoever knows how they look as a document.
 *
 *   out     every record of one moment, in the order of es_record_type; other programs may go on
 *           writing
 *   in      one transaction: all of them or none
 *   error   what store/store.h says for all; es_exchange_in() also what store/exchange.h says
 *   thread  one exchange, one thread at a time
 */
#ifndef ES_LIVE_EXCHANGE_H
#define ES_LIVE_EXCHANGE_H

#include "evenspool/base/error.h"
#include "evenspool/base/record_kinds.h"

#include <stddef.h>

typedef struct es_exchange es_exchange;

/* How many records of each kind went. */
typedef struct es_exchange_counts {
    size_t of[ES_RECORD_TYPE_COUNT];
} es_exchange_counts;

/*
 * path NULL: the usual place (es_ledger_where). in: 0 = out; 1 = records will come in, and a file
 * that is not there is made with its folders, but not before a document was found to be right.
 * Errors as es_store_open(), and ES_ERR_INPUT "no-home". *out is NULL on error.
 */
es_status es_exchange_open(const char *path, int in, es_exchange **out, es_error *error);
void es_exchange_close(es_exchange *exchange); /* NULL is fine */

/* Now, as records write it. */
void es_exchange_now(char out[ES_TIME_ROOM]);

/* `record` is of kind->type and lasts as long as the call. Not ES_OK ends it all with that. */
typedef es_status (*es_exchange_step)(void *user, const es_record_kind *kind, const void *record,
                                      es_error *error);

/* Hands every record to `step`. *counts is filled in also on error. */
es_status es_exchange_out(es_exchange *exchange, es_exchange_step step, void *user,
                          es_exchange_counts *counts, es_error *error);

/* Hands every record of `document` to step(user, ...), until one is not taken. */
typedef es_status (*es_exchange_give)(const void *document, es_exchange_step step, void *user,
                                      es_error *error);

/*
 * Takes in what `give` gives (twice, the first time on trial, where there is no file yet). On error
 * nothing was changed and *counts is all 0.
 */
es_status es_exchange_in(es_exchange *exchange, es_exchange_give give, const void *document,
                         es_exchange_counts *counts, es_error *error);

/*
 * A document read whole; path "-": standard input. *text is the caller's to free, NULL on error;
 * not terminated. ES_ERR_INPUT "missing", "no-permission", "directory"; ES_ERR_IO "read-failed";
 * ES_ERR_NOMEM.
 */
es_status es_exchange_load(const char *path, char **text, size_t *length, es_error *error);

#endif
