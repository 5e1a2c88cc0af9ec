#include "json/records_json.h"

#include "evenspool/base/text.h"
#include "json/records_inside.h"
#include "json/strict.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FAMILY "evenspool.records/"
#define ID_MOST INT64_C(9007199254740991) /* 2^53 - 1: exact for every reader of JSON */
#define ABOUT_KEYS 3                      /* schema, version, exported_at */
#define KEYS_MOST 24

struct es_records_document {
    json_t *root;
    int version; /* number behind the schema's stroke */
};

/* A document that is being read. */
typedef struct reader {
    es_strict strict;
    int version;
} reader;

/* --- one field -------------------------------------------------------------------------------- */

static es_status take_id(es_strict *r, const json_t *value, const es_record_field *field,
                         int64_t *out)
{
    int none = field->type == ES_FIELD_REFERENCE && json_is_null(value);
    *out = none ? 0 : json_integer_value(value);
    if (none || (json_is_integer(value) && *out >= 1 && *out <= ID_MOST))
        return ES_OK;
    return es_strict_refuse(r, field->name, 0,
                            "\"%s\" wants a whole number from 1 to %" PRId64 "%s.", field->name,
                            ID_MOST, field->type == ES_FIELD_REFERENCE ? ", or null" : "");
}

static es_status take_whole(es_strict *r, const json_t *value, const es_record_field *field,
                            int64_t *out)
{
    *out = json_integer_value(value);
    if (json_is_integer(value))
        return ES_OK;
    return es_strict_refuse(r, field->name, 0, "\"%s\" wants a whole number.", field->name);
}

static es_status take_number(es_strict *r, const json_t *value, const es_record_field *field,
                             double *out)
{
    int infinite = field->rules & ES_RULE_FROM_ONE && json_is_string(value) &&
                   strcmp(json_string_value(value), ES_RECORDS_INFINITE) == 0;
    *out = infinite                ? (double)INFINITY
           : json_is_number(value) ? json_number_value(value)
                                   : (double)NAN;
    if (infinite || json_is_number(value) || json_is_null(value))
        return ES_OK;
    return es_strict_refuse(r, field->name, 0, "\"%s\" wants a number or null%s.", field->name,
                            field->rules & ES_RULE_FROM_ONE ? ", or \"" ES_RECORDS_INFINITE
                                                              "\" in quotation marks"
                                                            : "");
}

/* The text stays the document's. */
static es_status take_document(es_strict *r, const json_t *value, const es_record_field *field,
                               const char **out)
{
    *out = json_string_value(value);
    if (*out)
        return ES_OK;
    return es_strict_refuse(r, field->name, 0,
                            "\"%s\" wants the result as a text in quotation marks.", field->name);
}

static es_status take_field(es_strict *r, const json_t *object, const es_record_field *field,
                            void *record)
{
    const json_t *value = json_object_get(object, field->name);
    void *at = (char *)record + field->offset;
    switch (field->type) {
    case ES_FIELD_ID:
    case ES_FIELD_REFERENCE:
        return take_id(r, value, field, at);
    case ES_FIELD_WHOLE:
        return take_whole(r, value, field, at);
    case ES_FIELD_NUMBER:
        return take_number(r, value, field, at);
    case ES_FIELD_TEXT:
        return es_strict_text(r, object, field->name, at, field->room);
    case ES_FIELD_DOCUMENT:
        return take_document(r, value, field, at);
    }
    return ES_ERR_INTERNAL;
}

/* --- records ---------------------------------------------------------------------------------- */

/* What an older document knows nothing of stays blank. */
static int has_field(const reader *from, const es_record_field *field)
{
    return from->version >= 2 || !(field->rules & ES_RULE_SINCE_2);
}

static es_status take_record(reader *from, json_t *object, const es_record_kind *kind, void *record)
{
    const char *keys[KEYS_MOST];
    size_t count = 0;
    char what[64];
    es_text words = es_text_over(what, sizeof what);
    es_text_add(&words, "a record of kind %s", kind->name);
    for (size_t i = 0; i < kind->field_count; i++)
        if (has_field(from, &kind->fields[i]))
            keys[count++] = kind->fields[i].name;
    es_record_blank(kind->type, record);
    es_status status = es_strict_object(&from->strict, object, what, keys, count);
    for (size_t i = 0; i < kind->field_count && status == ES_OK; i++)
        if (has_field(from, &kind->fields[i]))
            status = take_field(&from->strict, object, &kind->fields[i], record);
    return status;
}

static es_status take_list(reader *from, const json_t *root, const es_record_kind *kind)
{
    es_strict *r = &from->strict;
    json_t *list = json_object_get(root, kind->plural);
    if (!json_is_array(list))
        return es_strict_refuse(r, kind->plural, 0, "\"%s\" wants a list, in square brackets.",
                                kind->plural);
    es_any_record record;
    es_status status = ES_OK;
    es_strict_enter(r, kind->plural, 0);
    for (size_t i = 0; i < json_array_size(list) && status == ES_OK; i++) {
        es_strict_enter(r, NULL, i);
        status = take_record(from, json_array_get(list, i), kind, &record);
        es_strict_leave(r);
    }
    es_strict_leave(r);
    return status;
}

/* --- the whole -------------------------------------------------------------------------------- */

/* The whole number after the family's name; 0: it is no such schema. */
static long number_of(const char *schema)
{
    if (!schema || strncmp(schema, FAMILY, strlen(FAMILY)) != 0)
        return 0;
    const char *number = schema + strlen(FAMILY);
    int whole =
        number[0] >= '1' && number[0] <= '9' && strspn(number, "0123456789") == strlen(number);
    return whole ? strtol(number, NULL, 10) : 0;
}

static es_status check_schema(reader *from, const json_t *root)
{
    const char *schema = json_string_value(json_object_get(root, "schema"));
    es_strict *r = &from->strict;
    long number = number_of(schema);
    from->version = number <= ES_RECORDS_VERSION ? (int)number : 0;
    if (from->version > 0)
        return ES_OK;
    if (number > 0)
        return es_fail(r->error, ES_ERR_INPUT, "newer-document",
                       "It was written by a newer version of this program (%.40s); bring this one "
                       "up to date, then import it.",
                       schema);
    return es_fail(r->error, ES_ERR_INPUT, "other-document",
                   "It is JSON, but no export of this program's records (their \"schema\" is "
                   "\"" ES_RECORDS_SCHEMA "\"); name a file that evenspool export has written.");
}

static es_status check_about(es_strict *r, const json_t *root, const char *key)
{
    char text[ES_KEY_ROOM];
    return es_strict_text(r, root, key, text, sizeof text);
}

static es_status check_document(reader *from, json_t *root)
{
    es_strict *r = &from->strict;
    const char *keys[ABOUT_KEYS + ES_RECORD_TYPE_COUNT] = {"schema", "version", "exported_at"};
    for (int type = 0; type < ES_RECORD_TYPE_COUNT; type++)
        keys[ABOUT_KEYS + type] = es_record_kinds()[type].plural;
    es_status status = check_schema(from, root);
    r->code = "bad-document";
    if (status == ES_OK)
        status = es_strict_object(r, root, "an export", keys, ABOUT_KEYS + ES_RECORD_TYPE_COUNT);
    for (size_t i = 1; i < ABOUT_KEYS && status == ES_OK; i++)
        status = check_about(r, root, keys[i]);
    for (int type = 0; type < ES_RECORD_TYPE_COUNT && status == ES_OK; type++)
        status = take_list(from, root, &es_record_kinds()[type]);
    return status;
}

es_status es_records_read(const char *text, size_t length, es_records_document **out,
                          es_error *error)
{
    reader from = {{.text = text, .length = length, .code = "not-json", .error = error}, 0};
    json_t *root;
    *out = NULL;
    es_status status = es_strict_load(&from.strict, &root);
    if (status == ES_OK)
        status = check_document(&from, root);
    es_records_document *document = status == ES_OK ? calloc(1, sizeof *document) : NULL;
    if (document) {
        document->root = root;
        document->version = from.version;
        *out = document;
        return ES_OK;
    }
    json_decref(root);
    return status != ES_OK ? status
                           : es_fail(error, ES_ERR_NOMEM, "no-memory",
                                     "There is not enough memory to read it.");
}

void es_records_destroy(es_records_document *document)
{
    if (!document)
        return;
    json_decref(document->root);
    free(document);
}

const char *es_records_version(const es_records_document *document)
{
    return json_string_value(json_object_get(document->root, "version"));
}

const char *es_records_exported_at(const es_records_document *document)
{
    return json_string_value(json_object_get(document->root, "exported_at"));
}

size_t es_records_count(const es_records_document *document, es_record_type type)
{
    return json_array_size(json_object_get(document->root, es_record_kinds()[type].plural));
}

es_status es_records_give(const es_records_document *document, es_records_take take, void *user,
                          es_error *error)
{
    reader nothing_is_refused = {{.code = "bad-document", .text = "", .error = error},
                                 document->version};
    es_any_record record;
    es_status status = ES_OK;
    for (int type = 0; type < ES_RECORD_TYPE_COUNT && status == ES_OK; type++) {
        const es_record_kind *kind = &es_record_kinds()[type];
        const json_t *list = json_object_get(document->root, kind->plural);
        for (size_t i = 0; i < json_array_size(list) && status == ES_OK; i++) {
            status = take_record(&nothing_is_refused, json_array_get(list, i), kind, &record);
            if (status == ES_OK)
                status = take(user, kind, &record, error);
        }
    }
    return status;
}
