/*
 * Readings: results exactly as they were given out. They are evidence, so they can be added and
 * removed but not edited. Status, error, add / show / list / remove: see store.h.
 */
#ifndef ES_STORE_READINGS_H
#define ES_STORE_READINGS_H

#include "store/store.h"

/* epoch 0: the one the deck is in. The document must be JSON: ES_ERR_INPUT "bad-value". */
es_status es_store_add_reading(es_store *store, const es_reading_record *reading, int64_t *id,
                               es_error *error);
/* out->document is *document, byte for byte as it was added; the caller's to free. */
es_status es_store_show_reading(const es_store *store, int64_t id, es_reading_record *out,
                                char **document, es_error *error);
/* Of one deck (0: of all), or of one job; without their documents. */
es_status es_store_list_readings(const es_store *store, int64_t deck, es_reading_record **out,
                                 size_t *count, es_error *error);
es_status es_store_list_job_readings(const es_store *store, int64_t job, es_reading_record **out,
                                     size_t *count, es_error *error);
/* With history: jobs and plays stay and no longer name it. */
es_status es_store_remove_reading(es_store *store, int64_t id, es_removal how, es_error *error);

#endif
