/*
 * Tapes, each with the certificate that was last found for it. Status, error, add / edit / show /
 * list / remove: see store.h.
 */
#ifndef ES_STORE_TAPES_H
#define ES_STORE_TAPES_H

#include "store/store.h"

es_status es_store_add_tape(es_store *store, const es_tape_record *tape, int64_t *id,
                            es_error *error);
es_status es_store_edit_tape(es_store *store, const es_tape_record *tape, es_error *error);
es_status es_store_show_tape(const es_store *store, int64_t id, es_tape_record *out,
                             es_error *error);
es_status es_store_tape_named(const es_store *store, const char *name, es_tape_record *out,
                              es_error *error);
es_status es_store_list_tapes(const es_store *store, es_tape_record **out, size_t *count,
                              es_error *error);
/* With history: plays and readings stay and no longer name it. */
es_status es_store_remove_tape(es_store *store, int64_t id, es_removal how, es_error *error);

#endif
