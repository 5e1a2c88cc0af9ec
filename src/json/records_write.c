#include "json/records_json.h"

#include "json/exact.h"
#include "json/records_inside.h"
#include "json/utf8.h"

#include <jansson.h>

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Not UTF-8 in spite of all care: the disk has changed it. */
static es_status refuse_text(const es_record_kind *kind, const void *record,
                             const es_record_field *field, es_error *error)
{
    return es_fail(error, ES_ERR_IO, "damaged-records",
                   "The %s of %s %" PRId64 " is not valid text any more: the records are damaged; "
                   "use a copy of them.",
                   field->label, kind->name, *(const int64_t *)record);
}

/* ES_ERR_IO without a sentence: not UTF-8. */
static es_status write_text(FILE *to, const char *text)
{
    char *clean = es_utf8_clean(text);
    if (!clean)
        return ES_ERR_NOMEM;
    es_status status = strcmp(clean, text) == 0 ? ES_OK : ES_ERR_IO;
    json_t *string = status == ES_OK ? json_string_nocheck(text) : NULL;
    if (status == ES_OK && !string)
        status = ES_ERR_NOMEM;
    if (string)
        (void)json_dumpf(string, to, JSON_ENCODE_ANY); /* the stream remembers that it failed */
    json_decref(string);
    free(clean);
    return status;
}

static void write_number(FILE *to, double value)
{
    char digits[ES_EXACT_ROOM];
    fputs(isinf(value) ? "\"" ES_RECORDS_INFINITE "\"" : es_exact_number(value, digits), to);
}

/* A reference to nothing is null. */
static void write_whole(FILE *to, int64_t value, int reference)
{
    if (reference && value == 0)
        fputs("null", to);
    else
        fprintf(to, "%" PRId64, value);
}

static es_status write_field(FILE *to, const void *record, const es_record_field *field)
{
    const void *at = (const char *)record + field->offset;
    fprintf(to, "\"%s\": ", field->name);
    switch (field->type) {
    case ES_FIELD_TEXT:
        return write_text(to, at);
    case ES_FIELD_DOCUMENT:
        return write_text(to, *(const char *const *)at);
    case ES_FIELD_NUMBER:
        write_number(to, *(const double *)at);
        break;
    case ES_FIELD_ID:
    case ES_FIELD_REFERENCE:
    case ES_FIELD_WHOLE:
        write_whole(to, *(const int64_t *)at, field->type == ES_FIELD_REFERENCE);
        break;
    }
    return ES_OK;
}

static es_status write_record(FILE *to, const es_record_kind *kind, const void *record,
                              es_error *error)
{
    for (size_t i = 0; i < kind->field_count; i++) {
        const es_record_field *field = &kind->fields[i];
        fputs(i ? ", " : "{", to);
        es_status status = write_field(to, record, field);
        if (status == ES_ERR_IO)
            return refuse_text(kind, record, field, error);
        if (status != ES_OK)
            return es_fail(error, status, "no-memory",
                           "There is not enough memory to write the records.");
    }
    fputc('}', to);
    return ES_OK;
}

/* --- lists ------------------------------------------------------------------------------------ */

static void end_list(es_records_writer *w)
{
    if (w->kind > 0)
        fputs(w->filled ? "\n  ]" : "]", w->to);
}

/* Begins the lists up to `count`. */
static void begin_lists(es_records_writer *w, int count)
{
    while (w->kind < count) {
        end_list(w);
        fprintf(w->to, ",\n  \"%s\": [", es_record_kinds()[w->kind++].plural);
        w->filled = 0;
    }
}

void es_records_begin(es_records_writer *w, FILE *to, const char *exported_at)
{
    *w = (es_records_writer){.to = to};
    fprintf(to, "{\n  \"schema\": \"%s\",\n  \"version\": \"%s\",\n  \"exported_at\": \"%s\"",
            ES_RECORDS_SCHEMA, ES_VERSION, exported_at);
}

es_status es_records_add(es_records_writer *w, const es_record_kind *kind, const void *record,
                         es_error *error)
{
    if ((int)kind->type < w->kind - 1)
        return es_fail(error, ES_ERR_ARG, "order", "The records come in the wrong order.");
    begin_lists(w, (int)kind->type + 1);
    fputs(w->filled ? ",\n    " : "\n    ", w->to);
    w->filled = 1;
    return write_record(w->to, kind, record, error);
}

void es_records_end(es_records_writer *w)
{
    begin_lists(w, ES_RECORD_TYPE_COUNT);
    end_list(w);
    fputs("\n}\n", w->to);
}
