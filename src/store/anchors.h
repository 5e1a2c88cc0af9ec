/*
 * Anchors with the answers they were reckoned from and the lines of their budget. Status, error,
 * the verbs: see store.h.
 */
#ifndef ES_STORE_ANCHORS_H
#define ES_STORE_ANCHORS_H

#include "store/store.h"

/* What an anchor consists of; id, anchor and place of the parts are given by the records. */
typedef struct es_anchor_parts {
    const es_answer_record *answers;
    size_t answer_count;
    const es_budget_record *budget;
    size_t budget_count;
} es_anchor_parts;

/* All of it or nothing. */
es_status es_store_add_anchor(es_store *store, const es_anchor_record *anchor,
                              const es_anchor_parts *parts, int64_t *id, es_error *error);
/* The anchor alone, or with all its parts replaced (parts not NULL). */
es_status es_store_edit_anchor(es_store *store, const es_anchor_record *anchor,
                               const es_anchor_parts *parts, es_error *error);
es_status es_store_show_anchor(const es_store *store, int64_t id, es_anchor_record *out,
                               es_error *error);
es_status es_store_list_anchors(const es_store *store, es_anchor_record **out, size_t *count,
                                es_error *error);
es_status es_store_list_answers(const es_store *store, int64_t anchor, es_answer_record **out,
                                size_t *count, es_error *error);
es_status es_store_list_budget(const es_store *store, int64_t anchor, es_budget_record **out,
                               size_t *count, es_error *error);
/* With its parts. */
es_status es_store_remove_anchor(es_store *store, int64_t id, es_error *error);

#endif
