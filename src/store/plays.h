/* Plays: recorded in one epoch, heard in another. Status, error, the five verbs: see store.h. */
#ifndef ES_STORE_PLAYS_H
#define ES_STORE_PLAYS_H

#include "store/store.h"

es_status es_store_add_play(es_store *store, const es_play_record *play, int64_t *id,
                            es_error *error);
es_status es_store_edit_play(es_store *store, const es_play_record *play, es_error *error);
es_status es_store_show_play(const es_store *store, int64_t id, es_play_record *out,
                             es_error *error);
es_status es_store_list_plays(const es_store *store, es_play_record **out, size_t *count,
                              es_error *error);
es_status es_store_remove_play(es_store *store, int64_t id, es_error *error);

#endif
