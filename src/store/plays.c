#include "store/plays.h"

#include "store/rows.h"

es_status es_store_add_play(es_store *store, const es_play_record *play, int64_t *id,
                            es_error *error)
{
    return es_rows_add(store, ES_RECORD_PLAY, play, id, error);
}

es_status es_store_edit_play(es_store *store, const es_play_record *play, es_error *error)
{
    return es_rows_edit(store, ES_RECORD_PLAY, play, error);
}

es_status es_store_show_play(const es_store *store, int64_t id, es_play_record *out,
                             es_error *error)
{
    return es_rows_show(store, ES_RECORD_PLAY, id, out, NULL, error);
}

es_status es_store_list_plays(const es_store *store, es_play_record **out, size_t *count,
                              es_error *error)
{
    void *rows;
    es_status status = es_rows_list(store, ES_RECORD_PLAY, NULL, 0, &rows, count, error);
    *out = rows;
    return status;
}

es_status es_store_remove_play(es_store *store, int64_t id, es_error *error)
{
    return es_rows_remove(store, ES_RECORD_PLAY, id, ES_REMOVE_UNUSED, error);
}
