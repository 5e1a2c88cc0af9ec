#include "live/small_file.h"

#include "wave/bytes.h"

#include <stdlib.h>
#include <string.h>

static es_status read_all(es_wave_bytes *bytes, size_t most, char *text, size_t *length,
                          es_error *error)
{
    *length = es_wave_bytes_read(bytes, 0, text, most + 1);
    if (bytes->fault)
        return es_fail(error, ES_ERR_IO, "read-failed", "It can't be read; check the disk.");
    if (*length > most)
        return es_fail(error, ES_ERR_INPUT, "too-long",
                       "It is far too long for a file of this kind; name the right one.");
    return ES_OK;
}

/* The sentence for a folder speaks of captures there. */
static es_status open_bytes(es_wave_bytes *bytes, const char *path, es_error *error)
{
    es_error opening = {0};
    es_status status = es_wave_bytes_open(bytes, path, &opening);
    if (status != ES_OK && strcmp(opening.code, "directory") == 0)
        return es_fail(error, status, opening.code, "It is a folder; name a file in it.");
    return status == ES_OK ? ES_OK : es_fail(error, status, opening.code, "%s", opening.text);
}

es_status es_small_file_read(const char *path, size_t most, char **text, size_t *length,
                             es_error *error)
{
    es_wave_bytes *bytes = malloc(sizeof *bytes);
    es_status status = ES_ERR_NOMEM;
    *length = 0;
    *text = malloc(most + 1);
    if (!bytes || !*text) {
        es_fail(error, status, "no-memory", "There is not enough memory to read it.");
    } else if ((status = open_bytes(bytes, path, error)) == ES_OK) {
        status = read_all(bytes, most, *text, length, error);
        es_wave_bytes_close(bytes);
    }
    free(bytes);
    if (status != ES_OK) {
        free(*text);
        *text = NULL;
    }
    return status;
}
