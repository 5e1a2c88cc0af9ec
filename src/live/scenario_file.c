#include "live/scenario_file.h"

#include "live/small_file.h"

#include <stdlib.h>
#include <string.h>

#define TEXT_MOST 65536 /* a scenario in full takes a few kilobytes */

static es_status refuse_file(const es_error *reading, es_error *error)
{
    if (strcmp(reading->code, "missing") == 0)
        return es_fail(error, ES_ERR_INPUT, "no-scenario",
                       "There is no built-in scenario and no file of that name; evenspool "
                       "rehearse --list lists the built-in ones.");
    const char *code = strcmp(reading->code, "too-long") == 0 ? "scenario-text" : reading->code;
    return es_fail(error, reading->status, code, "%s", reading->text);
}

static es_status load_file(const char *path, es_scenario *out, es_error *error)
{
    char *text;
    size_t length;
    es_error reading = {0};
    if (es_small_file_read(path, TEXT_MOST, &text, &length, &reading) != ES_OK)
        return refuse_file(&reading, error);
    es_status status = es_scenario_parse(text, length, out, error);
    free(text);
    return status;
}

es_status es_scenario_load(const char *name, es_scenario *out, es_error *error)
{
    return es_scenario_find(name, out) == ES_OK ? ES_OK : load_file(name, out, error);
}
