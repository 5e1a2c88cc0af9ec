#include "live/scenario_file.h"

#include "wave/bytes.h"

#include <stdlib.h>
#include <string.h>

#define TEXT_MOST 65536 /* a scenario in full takes a few kilobytes */

static es_status parse_bytes(es_wave_bytes *bytes, char *text, es_scenario *out, es_error *error)
{
    size_t length = es_wave_bytes_read(bytes, 0, text, TEXT_MOST + 1);
    if (bytes->fault)
        return es_fail(error, ES_ERR_IO, "read-failed",
                       "The scenario file can't be read; check the disk.");
    if (length > TEXT_MOST)
        return es_fail(error, ES_ERR_INPUT, "scenario-text",
                       "It is far too long for a scenario file; name the right one.");
    return es_scenario_parse(text, length, out, error);
}

static es_status open_bytes(es_wave_bytes *bytes, const char *path, es_error *error)
{
    es_error opening = {0};
    es_status status = es_wave_bytes_open(bytes, path, &opening);
    if (status == ES_ERR_IO && strcmp(opening.code, "missing") == 0)
        return es_fail(error, ES_ERR_INPUT, "no-scenario",
                       "There is no built-in scenario and no file of that name; evenspool "
                       "rehearse --list lists the built-in ones.");
    return status == ES_OK ? ES_OK : es_fail(error, status, opening.code, "%s", opening.text);
}

static es_status load_file(const char *path, es_scenario *out, es_error *error)
{
    es_wave_bytes *bytes = malloc(sizeof *bytes);
    char *text = malloc(TEXT_MOST + 1);
    es_status status;
    if (!bytes || !text) {
        status = es_fail(error, ES_ERR_NOMEM, "no-memory",
                         "There is not enough memory to read the scenario.");
    } else if ((status = open_bytes(bytes, path, error)) == ES_OK) {
        status = parse_bytes(bytes, text, out, error);
        es_wave_bytes_close(bytes);
    }
    free(text);
    free(bytes);
    return status;
}

es_status es_scenario_load(const char *name, es_scenario *out, es_error *error)
{
    return es_scenario_find(name, out) == ES_OK ? ES_OK : load_file(name, out, error);
}
