#include "json/document.h"

#include "json/utf8.h"

#include <jansson.h>

#include <math.h>
#include <stdlib.h>

#define DIGITS 9

struct es_json {
    json_t *root;
    int short_of_memory;
};

/* A part is jansson's value itself, borrowed from the document that owns it. */
static json_t *value_of(es_json_part *part)
{
    return (json_t *)part;
}

es_status es_json_create(es_json **out)
{
    *out = NULL;
    es_json *json = calloc(1, sizeof *json);
    if (!json)
        return ES_ERR_NOMEM;
    json->root = json_object();
    if (!json->root) {
        es_json_destroy(json);
        return ES_ERR_NOMEM;
    }
    *out = json;
    return ES_OK;
}

es_status es_json_begin(const char *schema, es_json **out)
{
    es_status status = es_json_create(out);
    if (status != ES_OK)
        return status;
    es_json_text(*out, es_json_root(*out), "schema", schema);
    es_json_text(*out, es_json_root(*out), "version", ES_VERSION);
    return ES_OK;
}

void es_json_destroy(es_json *json)
{
    if (!json)
        return;
    json_decref(json->root);
    free(json);
}

es_json_part *es_json_root(es_json *json)
{
    return (es_json_part *)json->root;
}

/* Takes the value over, whatever happens; returns it while the document holds it. */
static es_json_part *put(es_json *json, es_json_part *into, const char *key, json_t *value)
{
    json_t *place = value_of(into);
    int failed =
        !place || !value ||
        (key ? json_object_set_new(place, key, value) : json_array_append_new(place, value));
    if (!place)
        json_decref(value);
    json->short_of_memory |= failed;
    return failed ? NULL : (es_json_part *)value;
}

void es_json_null(es_json *json, es_json_part *into, const char *key)
{
    put(json, into, key, json_null());
}

void es_json_number(es_json *json, es_json_part *into, const char *key, double value)
{
    /* + 0.0: a zero of either sign is printed as one */
    put(json, into, key, isfinite(value) ? json_real(value + 0.0) : json_null());
}

void es_json_count(es_json *json, es_json_part *into, const char *key, int64_t value)
{
    put(json, into, key, json_integer(value));
}

void es_json_truth(es_json *json, es_json_part *into, const char *key, int value)
{
    put(json, into, key, json_boolean(value));
}

void es_json_text(es_json *json, es_json_part *into, const char *key, const char *value)
{
    if (!value) {
        es_json_null(json, into, key);
        return;
    }
    char *clean = es_utf8_clean(value);
    put(json, into, key, clean ? json_string(clean) : NULL);
    free(clean);
}

es_json_part *es_json_object(es_json *json, es_json_part *into, const char *key)
{
    return put(json, into, key, json_object());
}

es_json_part *es_json_array(es_json *json, es_json_part *into, const char *key)
{
    return put(json, into, key, json_array());
}

es_status es_json_print(const es_json *json, int indented, char **out)
{
    *out = NULL;
    if (json->short_of_memory)
        return ES_ERR_NOMEM;
    *out = json_dumps(json->root, JSON_REAL_PRECISION(DIGITS) | (indented ? JSON_INDENT(2) : 0));
    return *out ? ES_OK : ES_ERR_NOMEM;
}

es_status es_json_end(es_json *json, int indented, char **out)
{
    es_status status = es_json_print(json, indented, out);
    es_json_destroy(json);
    return status;
}
