/*
 * Decks and their epochs. Status, error, add / edit / show / list / remove: see store.h.
 */
#ifndef ES_STORE_DECKS_H
#define ES_STORE_DECKS_H

#include "store/store.h"

/* With its first epoch, which began then ("": not known). */
es_status es_store_add_deck(es_store *store, const es_deck_record *deck, const char *began,
                            int64_t *id, es_error *error);
es_status es_store_edit_deck(es_store *store, const es_deck_record *deck, es_error *error);
es_status es_store_show_deck(const es_store *store, int64_t id, es_deck_record *out,
                             es_error *error);
es_status es_store_deck_named(const es_store *store, const char *name, es_deck_record *out,
                              es_error *error);
es_status es_store_list_decks(const es_store *store, es_deck_record **out, size_t *count,
                              es_error *error);
/* Its epochs are parts of it; its history is its jobs, readings, plays and anchors. */
es_status es_store_remove_deck(es_store *store, int64_t id, es_removal how, es_error *error);

/*
 * The deck was adjusted: a new unknown from now on. number and id are given by the records.
 * ES_ERR_INPUT "unknown": no such deck.
 */
es_status es_store_start_epoch(es_store *store, const es_epoch_record *epoch, int64_t *id,
                               es_error *error);
/* deck and number stay: ES_ERR_INPUT "contradiction" if they are others. */
es_status es_store_edit_epoch(es_store *store, const es_epoch_record *epoch, es_error *error);
es_status es_store_show_epoch(const es_store *store, int64_t id, es_epoch_record *out,
                              es_error *error);
/* The one the deck is in. */
es_status es_store_latest_epoch(const es_store *store, int64_t deck, es_epoch_record *out,
                                es_error *error);
/* Of one deck; 0: of all. */
es_status es_store_list_epochs(const es_store *store, int64_t deck, es_epoch_record **out,
                               size_t *count, es_error *error);
/* Only the latest, and never the first: ES_ERR_INPUT "not-latest". */
es_status es_store_remove_epoch(es_store *store, int64_t id, es_removal how, es_error *error);

#endif
