/*
 * All records out, and all records in: what an exported document is written from and read into.
 *
 *   out     every record of one moment, kind by kind in the order of es_record_type, each kind in
 *           order of id; another program may go on writing
 *   in      one transaction: begin, a record at a time in any order, then _commit, or _rollback at
 *           the first thing that is wrong. Until _commit nothing is seen by anyone
 *   ids     into records that hold nothing yet: kept as they are. Otherwise moved up behind those
 *           that are there, for each kind by the same step, references with them
 *   exact   numbers bit for bit (a zero loses its sign, a NaN its payload), texts byte for byte
 */
#ifndef ES_STORE_EXCHANGE_H
#define ES_STORE_EXCHANGE_H

#include "evenspool/base/record_kinds.h"
#include "store/store.h"

/* `record` is of kind->type and lasts as long as the call. Not ES_OK ends the export with it. */
typedef es_status (*es_record_visit)(void *user, const es_record_kind *kind, const void *record);

/* What visit returned if not ES_OK (it fills in its own error). visit must not write. */
es_status es_store_export(es_store *store, es_record_visit visit, void *user, es_error *error);

/* Begins a transaction: ES_ERR_ARG if one is under way. Ends by es_store_import_commit/_rollback. */
es_status es_store_import_begin(es_store *store, es_error *error);

/*
 * One record with its id. ES_ERR_INPUT "bad-value": a field breaks its rule, or the id is not
 * 1 .. 2^53 - 1; "name-taken"; "contradiction": the id or place is there twice. ES_ERR_ARG: no
 * import is under way.
 */
es_status es_store_import(es_store *store, es_record_type type, const void *record,
                          es_error *error);

/*
 * ES_ERR_INPUT "unknown": a record refers to one that did not come; "contradiction": what it
 * refers to does not belong together, or a deck came without an epoch. Then nothing was changed.
 */
es_status es_store_import_commit(es_store *store, es_error *error);
es_status es_store_import_rollback(es_store *store);

#endif
