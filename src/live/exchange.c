#include "live/exchange.h"

#include "evenspool/base/text.h"
#include "live/ledger_inside.h"
#include "store/exchange.h"
#include "wave/bytes.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define PIECE ((size_t)65536)

struct es_exchange {
    char where[ES_LEDGER_PATH_ROOM];
    es_store *store; /* NULL: there is no file yet, and records are to come in */
};

/* What one walk over all records carries along. */
typedef struct walk {
    es_store *store;
    es_exchange_step step;
    void *user;
    es_exchange_counts *counts;
    es_error *error;
} walk;

/* --- the file --------------------------------------------------------------------------------- */

es_status es_exchange_open(const char *path, int in, es_exchange **out, es_error *error)
{
    *out = NULL;
    es_exchange *e = calloc(1, sizeof *e);
    if (!e)
        return es_ledger_no_memory(error);
    es_status status = es_ledger_where(path, e->where, sizeof e->where, error);
    int later = in && status == ES_OK && access(e->where, F_OK) != 0 && errno == ENOENT;
    if (status == ES_OK && !later)
        status = es_store_open(e->where, in ? ES_STORE_CREATE : ES_STORE_READ, &e->store, error);
    if (status == ES_OK)
        *out = e;
    else
        es_exchange_close(e);
    return status;
}

void es_exchange_close(es_exchange *e)
{
    if (!e)
        return;
    es_store_close(e->store);
    free(e);
}

void es_exchange_now(char out[ES_TIME_ROOM])
{
    es_ledger_now(out);
}

/* --- out -------------------------------------------------------------------------------------- */

static es_status hand_out(void *user, const es_record_kind *kind, const void *record)
{
    walk *w = user;
    w->counts->of[kind->type]++;
    return w->step(w->user, kind, record, w->error);
}

es_status es_exchange_out(es_exchange *e, es_exchange_step step, void *user,
                          es_exchange_counts *counts, es_error *error)
{
    walk w = {.step = step, .user = user, .counts = counts, .error = error};
    *counts = (es_exchange_counts){0};
    return es_store_export(e->store, hand_out, &w, error);
}

/* --- in --------------------------------------------------------------------------------------- */

static es_status take_in(void *user, const es_record_kind *kind, const void *record,
                         es_error *error)
{
    walk *w = user;
    w->counts->of[kind->type]++;
    return es_store_import(w->store, kind->type, record, error);
}

static es_status take_all(es_store *store, es_exchange_give give, const void *document,
                          es_exchange_counts *counts, es_error *error)
{
    walk w = {.store = store, .counts = counts};
    *counts = (es_exchange_counts){0};
    es_status status = es_store_import_begin(store, error);
    if (status != ES_OK)
        return status;
    status = give(document, take_in, &w, error);
    if (status == ES_OK)
        return es_store_import_commit(store, error);
    es_store_import_rollback(store);
    return status;
}

/* Into a file that is thrown away: a document that is wrong must not leave an empty file where none
 * was, and a file of records that others may have opened is never taken away again. */
static es_status try_out(es_exchange_give give, const void *document, es_error *error)
{
    const char *base = getenv("TMPDIR");
    char folder[ES_LEDGER_PATH_ROOM], file[ES_LEDGER_PATH_ROOM];
    es_text name = es_text_over(folder, sizeof folder);
    es_text_add(&name, "%.4000s/evenspool-XXXXXX", base && base[0] ? base : "/tmp");
    if (!mkdtemp(folder))
        return es_fail(error, ES_ERR_IO, "no-temporary",
                       "There is no place for temporary files (%s); set TMPDIR to a folder that "
                       "you may write to.",
                       strerror(errno));
    name = es_text_over(file, sizeof file);
    es_text_add(&name, "%s/trial", folder);
    es_store *store;
    es_exchange_counts counts;
    es_status status = es_store_open(file, ES_STORE_CREATE, &store, error);
    if (status == ES_OK)
        status = take_all(store, give, document, &counts, error);
    es_store_close(store);
    unlink(file);
    rmdir(folder);
    return status;
}

es_status es_exchange_in(es_exchange *e, es_exchange_give give, const void *document,
                         es_exchange_counts *counts, es_error *error)
{
    es_status status = ES_OK;
    if (!e->store) {
        status = try_out(give, document, error);
        if (status == ES_OK)
            status = es_store_open(e->where, ES_STORE_CREATE, &e->store, error);
    }
    if (status == ES_OK)
        status = take_all(e->store, give, document, counts, error);
    if (status != ES_OK)
        *counts = (es_exchange_counts){0};
    return status;
}

/* --- the document ----------------------------------------------------------------------------- */

static es_status read_all(es_wave_bytes *bytes, char **text, size_t *length, es_error *error)
{
    size_t room = 0, got;
    do {
        if (room < *length + PIECE) {
            room = 2 * room + PIECE;
            char *larger = realloc(*text, room);
            if (!larger)
                return es_fail(error, ES_ERR_NOMEM, "no-memory",
                               "There is not enough memory to read it.");
            *text = larger;
        }
        got = es_wave_bytes_read(bytes, (int64_t)*length, *text + *length, PIECE);
        *length += got;
    } while (got == PIECE);
    if (bytes->fault)
        return es_fail(error, ES_ERR_IO, "read-failed", "It can't be read; check the disk.");
    return ES_OK;
}

/* A document that is not there is bad input, not a failing disk; the sentence for a folder speaks
 * of captures. */
static es_status open_document(es_wave_bytes *bytes, const char *path, es_error *error)
{
    es_error why = {0};
    es_status status = es_wave_bytes_open(bytes, path, &why);
    if (status == ES_OK)
        return ES_OK;
    if (strcmp(why.code, "directory") == 0)
        return es_fail(error, status, why.code, "It is a folder; name a file in it.");
    int disk = strcmp(why.code, "read-failed") == 0;
    return es_fail(error, disk ? status : ES_ERR_INPUT, why.code, "%s", why.text);
}

es_status es_exchange_load(const char *path, char **text, size_t *length, es_error *error)
{
    *text = NULL;
    *length = 0;
    es_wave_bytes *bytes = malloc(sizeof *bytes);
    if (!bytes)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to read it.");
    es_status status = open_document(bytes, path, error);
    if (status == ES_OK) {
        status = read_all(bytes, text, length, error);
        es_wave_bytes_close(bytes);
    }
    free(bytes);
    if (status != ES_OK) {
        free(*text);
        *text = NULL;
        *length = 0;
    }
    return status;
}
