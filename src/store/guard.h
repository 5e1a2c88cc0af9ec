/* Looks a record over before it is kept: every field against its rule (base/record_kinds.h). */
#ifndef ES_STORE_GUARD_H
#define ES_STORE_GUARD_H

#include "evenspool/base/record_kinds.h"
#include "store/inside.h"

/* ES_ERR_INPUT "bad-value", ES_ERR_ARG for a text without its terminator. */
es_status es_guard_fields(const es_record_kind *kind, const void *record, es_error *error);

/* Documents are JSON: ES_ERR_INPUT "bad-value". */
es_status es_guard_documents(const es_store *store, const es_record_kind *kind, const void *record,
                             es_error *error);

/* ES_ERR_INPUT "unknown": names a record that is not there. */
es_status es_guard_references(const es_store *store, const es_record_kind *kind, const void *record,
                              es_error *error);

/* "Deck 7" or, without an id, "This deck". */
void es_guard_name(const es_record_kind *kind, const void *record, char *out, size_t room);

#endif
