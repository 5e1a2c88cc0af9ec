#include "store/guard.h"

#include "evenspool/base/adjust.h"
#include "evenspool/base/text.h"
#include "store/words.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

#define NAME_ROOM 48

static const void *at(const void *record, const es_record_field *field)
{
    return (const char *)record + field->offset;
}

void es_guard_name(const es_record_kind *kind, const void *record, char *out, size_t room)
{
    int64_t id = *(const int64_t *)at(record, &kind->fields[0]);
    es_text text = es_text_over(out, room);
    if (id > 0)
        es_text_add(&text, "%c%s %lld", toupper((unsigned char)kind->name[0]), kind->name + 1,
                    (long long)id);
    else
        es_text_add(&text, "This %s", kind->name);
}

static es_status bad(const es_record_kind *kind, const void *record, const es_record_field *field,
                     const char *what, es_error *error)
{
    char name[NAME_ROOM];
    es_guard_name(kind, record, name, sizeof name);
    return es_fail(error, ES_ERR_INPUT, "bad-value", "%s can't be kept: its %s %s.", name,
                   field->label, what);
}

/* --- one field: what is wrong with it, or NULL ------------------------------------------------ */

static const char *wrong_number(double value, unsigned rules)
{
    if (isnan(value))
        return rules & ES_RULE_NEEDED ? "is missing" : NULL;
    if ((rules & ES_RULE_FROM_ONE) && !(value >= 1.0))
        return "has to be at least 1";
    if ((rules & ES_RULE_POSITIVE) && !(value > 0.0))
        return "has to be above 0";
    if ((rules & ES_RULE_NOT_NEGATIVE) && !(value >= 0.0))
        return "can't be below 0";
    if ((rules & ES_RULE_SPEED) && !(value > -100.0))
        return "has to be above -100 %";
    if (isinf(value) && !(rules & ES_RULE_FROM_ONE))
        return "can't be infinite";
    return NULL;
}

static const char *wrong_whole(int64_t value, const es_record_field *field)
{
    if (field->type == ES_FIELD_WHOLE)
        return value < 1 && (field->rules & ES_RULE_FROM_ONE) ? "has to be at least 1" : NULL;
    if (value < 0)
        return "can't be below 0";
    return value == 0 && (field->rules & ES_RULE_NEEDED) ? "is missing" : NULL;
}

static int is_adjust(const char *text)
{
    es_adjust adjust;
    return es_adjust_from_name(text, &adjust) == ES_OK;
}

static const char *wrong_text(const char *text, unsigned rules)
{
    if (!text || !*text)
        return rules & ES_RULE_NEEDED ? "is missing" : NULL;
    if (!es_words_utf8(text))
        return "is not valid UTF-8";
    if ((rules & ES_RULE_LINE) && !es_words_one_line(text))
        return "has to be one line without control characters, and not only blanks";
    if ((rules & ES_RULE_KEY) && !es_words_key(text))
        return "has to be a word of the letters a-z, digits and . / _ -";
    if ((rules & ES_RULE_TIME) && !es_words_time(text))
        return "has to be a day as 2026-05-03 or a time as 2026-05-03T14:05:00Z";
    if ((rules & ES_RULE_SHA256) && !es_words_sha256(text))
        return "has to be 64 digits 0-9 a-f";
    if ((rules & ES_RULE_ADJUST) && !is_adjust(text))
        return "has to be speed, azimuth, level or balance";
    return NULL;
}

static const char *wrong(const void *record, const es_record_field *field)
{
    switch (field->type) {
    case ES_FIELD_NUMBER:
        return wrong_number(*(const double *)at(record, field), field->rules);
    case ES_FIELD_TEXT:
        return wrong_text(at(record, field), field->rules);
    case ES_FIELD_DOCUMENT:
        return wrong_text(*(const char *const *)at(record, field), field->rules);
    case ES_FIELD_ID:
    case ES_FIELD_REFERENCE:
    case ES_FIELD_WHOLE:
        break;
    }
    return wrong_whole(*(const int64_t *)at(record, field), field);
}

/* --- the whole record ------------------------------------------------------------------------- */

es_status es_guard_fields(const es_record_kind *kind, const void *record, es_error *error)
{
    for (size_t i = 0; i < kind->field_count; i++) {
        const es_record_field *field = &kind->fields[i];
        if (field->type == ES_FIELD_TEXT && !memchr(at(record, field), '\0', field->room))
            return es_fail(error, ES_ERR_ARG, "bad-value", "A text has no end.");
        const char *what = wrong(record, field);
        if (what)
            return bad(kind, record, field, what, error);
    }
    return ES_OK;
}

/* SQLite knows JSON, so no parser of our own. */
static es_status is_json(const es_store *store, const char *document, int *json, es_error *error)
{
    *json = 0;
    int row = 0;
    sqlite3_stmt *statement;
    es_status status = es_store_prepare(store, "SELECT json_valid(?1)", &statement, error);
    if (status == ES_OK) {
        int code = sqlite3_bind_text(statement, 1, document, -1, SQLITE_STATIC);
        status = code == SQLITE_OK ? es_store_step(store, statement, &row, error)
                                   : es_store_refused(store, code, error);
    }
    if (row)
        *json = sqlite3_column_int(statement, 0);
    sqlite3_finalize(statement);
    return status;
}

es_status es_guard_documents(const es_store *store, const es_record_kind *kind, const void *record,
                             es_error *error)
{
    for (size_t i = 0; i < kind->field_count; i++) {
        const es_record_field *field = &kind->fields[i];
        if (field->type != ES_FIELD_DOCUMENT)
            continue;
        int json;
        es_status status = is_json(store, *(const char *const *)at(record, field), &json, error);
        if (status == ES_OK && !json)
            return bad(kind, record, field, "is not JSON", error);
        if (status != ES_OK)
            return status;
    }
    return ES_OK;
}

static es_status is_there(const es_store *store, const es_record_kind *kind, int64_t id, int *there,
                          es_error *error)
{
    char sql[96];
    es_text text = es_text_over(sql, sizeof sql);
    es_text_add(&text, "SELECT count(*) FROM \"%s\" WHERE id = ?1", kind->name);
    int64_t count;
    es_status status = es_store_ask(store, sql, id, &count, error);
    *there = count > 0;
    return status;
}

es_status es_guard_references(const es_store *store, const es_record_kind *kind, const void *record,
                              es_error *error)
{
    for (size_t i = 0; i < kind->field_count; i++) {
        const es_record_field *field = &kind->fields[i];
        int64_t id = field->type == ES_FIELD_REFERENCE ? *(const int64_t *)at(record, field) : 0;
        int there = 1;
        es_status status = ES_OK;
        if (id > 0)
            status = is_there(store, &es_record_kinds()[field->target], id, &there, error);
        if (status != ES_OK)
            return status;
        if (!there)
            return es_fail(error, ES_ERR_INPUT, "unknown",
                           "There is no %s %lld, which this %s names as its %s.",
                           es_record_kinds()[field->target].name, (long long)id, kind->name,
                           field->label);
    }
    return ES_OK;
}
