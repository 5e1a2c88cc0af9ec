#include "store/tapes.h"

#include "store/rows.h"

es_status es_store_add_tape(es_store *store, const es_tape_record *tape, int64_t *id,
                            es_error *error)
{
    return es_rows_add(store, ES_RECORD_TAPE, tape, id, error);
}

es_status es_store_edit_tape(es_store *store, const es_tape_record *tape, es_error *error)
{
    return es_rows_edit(store, ES_RECORD_TAPE, tape, error);
}

es_status es_store_show_tape(const es_store *store, int64_t id, es_tape_record *out,
                             es_error *error)
{
    return es_rows_show(store, ES_RECORD_TAPE, id, out, NULL, error);
}

es_status es_store_tape_named(const es_store *store, const char *name, es_tape_record *out,
                              es_error *error)
{
    return es_rows_named(store, ES_RECORD_TAPE, name, out, error);
}

es_status es_store_list_tapes(const es_store *store, es_tape_record **out, size_t *count,
                              es_error *error)
{
    void *rows;
    es_status status = es_rows_list(store, ES_RECORD_TAPE, NULL, 0, &rows, count, error);
    *out = rows;
    return status;
}

es_status es_store_remove_tape(es_store *store, int64_t id, es_removal how, es_error *error)
{
    return es_rows_remove(store, ES_RECORD_TAPE, id, how, error);
}
