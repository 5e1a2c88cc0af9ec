/*
 * Records as rows: every kind by its description, so that no SQL names a field by hand.
 * Status and error: as store.h says for all kinds. References are looked up, fields guarded.
 */
#ifndef ES_STORE_ROWS_H
#define ES_STORE_ROWS_H

#include "evenspool/base/record_kinds.h"
#include "store/inside.h"

/* The record's own id is kept when it is not 0. *id may be NULL. */
es_status es_rows_insert(const es_store *store, es_record_type type, const void *record,
                         int64_t *id, es_error *error);
/* The same without looking up what it refers to: the database does that at commit. */
es_status es_rows_insert_deferred(const es_store *store, es_record_type type, const void *record,
                                  es_error *error);
es_status es_rows_update(const es_store *store, es_record_type type, const void *record,
                         es_error *error);

/* A scope around one insert or update. */
es_status es_rows_add(es_store *store, es_record_type type, const void *record, int64_t *id,
                      es_error *error);
es_status es_rows_edit(es_store *store, es_record_type type, const void *record, es_error *error);

/* By id. A document goes to *document, the caller's to free; NULL: it is left out. */
es_status es_rows_show(const es_store *store, es_record_type type, int64_t id, void *out,
                       char **document, es_error *error);
/* By the field that is unique. */
es_status es_rows_named(const es_store *store, es_record_type type, const char *name, void *out,
                        es_error *error);

/* Those whose reference `field` is id; field NULL: all. Without documents. */
es_status es_rows_list(const es_store *store, es_record_type type, const char *field, int64_t id,
                       void **out, size_t *count, es_error *error);

/* All of a kind with their documents, which last as long as the call of visit. */
typedef es_status (*es_row_visit)(void *user, const es_record_kind *kind, const void *record);
es_status es_rows_each(const es_store *store, es_record_type type, es_row_visit visit, void *user,
                       es_error *error);

/* As `remove` in store.h, in a scope of its own. */
es_status es_rows_remove(es_store *store, es_record_type type, int64_t id, es_removal how,
                         es_error *error);

#endif
