#include "store/readings.h"

#include "store/decks.h"
#include "store/rows.h"

static es_status insert(es_store *store, const es_reading_record *reading, int64_t *id,
                        es_error *error)
{
    es_reading_record with_epoch = *reading;
    es_status status = ES_OK;
    if (reading->epoch == 0) {
        es_epoch_record latest;
        status = es_store_latest_epoch(store, reading->deck, &latest, error);
        with_epoch.epoch = latest.id;
    }
    return status == ES_OK ? es_rows_add(store, ES_RECORD_READING, &with_epoch, id, error) : status;
}

es_status es_store_add_reading(es_store *store, const es_reading_record *reading, int64_t *id,
                               es_error *error)
{
    int64_t added = 0;
    if (id)
        *id = 0;
    es_status status = es_scope_open(store, error);
    if (status != ES_OK)
        return status;
    status = es_scope_close(store, insert(store, reading, &added, error), error);
    if (id && status == ES_OK)
        *id = added;
    return status;
}

es_status es_store_show_reading(const es_store *store, int64_t id, es_reading_record *out,
                                char **document, es_error *error)
{
    return es_rows_show(store, ES_RECORD_READING, id, out, document, error);
}

static es_status list(const es_store *store, const char *field, int64_t id, es_reading_record **out,
                      size_t *count, es_error *error)
{
    void *rows;
    es_status status = es_rows_list(store, ES_RECORD_READING, field, id, &rows, count, error);
    *out = rows;
    return status;
}

es_status es_store_list_readings(const es_store *store, int64_t deck, es_reading_record **out,
                                 size_t *count, es_error *error)
{
    return list(store, deck ? "deck" : NULL, deck, out, count, error);
}

es_status es_store_list_job_readings(const es_store *store, int64_t job, es_reading_record **out,
                                     size_t *count, es_error *error)
{
    return list(store, "job", job, out, count, error);
}

es_status es_store_remove_reading(es_store *store, int64_t id, es_removal how, es_error *error)
{
    return es_rows_remove(store, ES_RECORD_READING, id, how, error);
}
