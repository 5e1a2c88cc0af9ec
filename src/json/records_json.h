/*
 * All records as one document: "evenspool.records/2" (docs/records.md, "The exported document").
 *
 *   out     record by record to a stream, in the order of es_record_type; memory for one record
 *   in      a text is read and looked at whole, then handed out record by record; memory for the
 *           parsed text, up to ten times its size
 *   exact   numbers bit for bit (a zero loses its sign), texts and results byte for byte
 *   older   "evenspool.records/1" is read too: it knows the speed alone, so its jobs are with the speed
 *   strict  a key that is not known, one that is missing, a value of the wrong kind, a text without
 *           room or a number out of range: nothing is handed out. Whether the records belong
 *           together is for whoever takes them
 *   thread  no shared state
 */
#ifndef ES_JSON_RECORDS_JSON_H
#define ES_JSON_RECORDS_JSON_H

#include "evenspool/base/error.h"
#include "evenspool/base/record_kinds.h"

#include <stdio.h>

#define ES_RECORDS_VERSION 2
#define ES_RECORDS_SCHEMA "evenspool.records/2"

/* --- out -------------------------------------------------------------------------------------- */

typedef struct es_records_writer {
    FILE *to;
    int kind;   /* lists begun so far                       */
    int filled; /* the last of them has a record            */
} es_records_writer;

/* exported_at: as in records.h. A stream that fails keeps that to itself: look at the end. */
void es_records_begin(es_records_writer *writer, FILE *to, const char *exported_at);

/*
 * kind->type must not be before that of the last call (ES_ERR_ARG). ES_ERR_IO "damaged-records":
 * a text in it is not UTF-8. ES_ERR_NOMEM.
 */
es_status es_records_add(es_records_writer *writer, const es_record_kind *kind, const void *record,
                         es_error *error);
void es_records_end(es_records_writer *writer);

/* --- in --------------------------------------------------------------------------------------- */

typedef struct es_records_document es_records_document;

/*
 * text need not be terminated and is not needed any more afterwards. ES_ERR_INPUT, all but the
 * second and third with line and column:
 *   "not-json"        no JSON, or cut off
 *   "other-document"  JSON, but no such document
 *   "newer-document"  of a later version of this program
 *   "bad-document"    see "strict" above
 * ES_ERR_NOMEM. *out is NULL on error.
 */
es_status es_records_read(const char *text, size_t length, es_records_document **out,
                          es_error *error);
void es_records_destroy(es_records_document *document); /* NULL is fine */

/* Version of the program that wrote it, and when; as it says itself. */
const char *es_records_version(const es_records_document *document);
const char *es_records_exported_at(const es_records_document *document);
size_t es_records_count(const es_records_document *document, es_record_type type);

/* `record` is of kind->type and lasts as long as the call. Not ES_OK ends the giving with it. */
typedef es_status (*es_records_take)(void *user, const es_record_kind *kind, const void *record,
                                     es_error *error);
es_status es_records_give(const es_records_document *document, es_records_take take, void *user,
                          es_error *error);

#endif
