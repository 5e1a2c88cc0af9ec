#include "serve/programme_named.h"

#include "live/programme_file.h"
#include "json/programme_json.h"

#include <stdlib.h>

/* Of a file: line and column stand before what is said. */
static es_status read_text(const char *text, size_t length, es_programme *out, es_error *error)
{
    es_error found = {0};
    es_programme_spot spot;
    es_status status = es_programme_from_json(text, length, out, error);
    if (status != ES_OK || es_programme_judge(out, &spot, &found) == ES_OK)
        return status;
    return es_programme_json_point(text, length, &spot, &found, error);
}

es_status es_programme_named(const char *name, es_programme *out, es_error *error)
{
    char *text;
    size_t length;
    es_status status = es_programme_fetch(name, out, &text, &length, error);
    if (status == ES_OK && text)
        status = read_text(text, length, out, error);
    free(text);
    return status;
}
