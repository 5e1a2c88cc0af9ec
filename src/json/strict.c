#include "json/strict.h"

#include "evenspool/base/text.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

#define SHOWN 40   /* bytes of a stranger's key that a sentence repeats */
#define LISTED 200 /* bytes of known keys; longer lists are left out */

/* --- refusing ------------------------------------------------------------------------------ */

static es_status refuse_at(es_strict *r, size_t line, size_t column, const char *sentence)
{
    return es_fail(r->error, ES_ERR_INPUT, r->code, "Line %zu, column %zu: %s", line, column,
                   sentence);
}

es_status es_strict_refuse(es_strict *r, const char *key, int at_key, const char *format, ...)
{
    char sentence[300];
    es_text words = es_text_over(sentence, sizeof sentence);
    va_list list;
    va_start(list, format);
    es_text_add_list(&words, format, list);
    va_end(list);
    es_json_path path = r->at;
    if (key)
        path.step[path.depth++] = (es_json_step){.key = key};
    es_json_spot spot = es_json_locate(r->text, r->length, &path, at_key);
    return refuse_at(r, spot.line, spot.column, sentence);
}

void es_strict_enter(es_strict *r, const char *key, size_t index)
{
    r->at.step[r->at.depth++] = (es_json_step){.key = key, .index = index};
}

void es_strict_leave(es_strict *r)
{
    r->at.depth--;
}

/* --- the whole ------------------------------------------------------------------------------ */

/* Without the bytes of the text that the parser repeats: they may be anything. */
static es_status refuse_syntax(es_strict *r, const json_error_t *fault)
{
    const char *near = strstr(fault->text, " near ");
    int length = near ? (int)(near - fault->text) : (int)strlen(fault->text);
    char sentence[240];
    es_text words = es_text_over(sentence, sizeof sentence);
    es_text_add(&words, "this is not JSON (%.*s).", length, fault->text);
    return refuse_at(r, fault->line > 0 ? (size_t)fault->line : 1,
                     fault->column > 0 ? (size_t)fault->column : 1, sentence);
}

es_status es_strict_load(es_strict *r, json_t **root)
{
    json_error_t fault;
    *root = json_loadb(r->text, r->length, JSON_REJECT_DUPLICATES, &fault);
    if (*root)
        return ES_OK;
    if (json_error_code(&fault) == json_error_out_of_memory)
        return es_fail(r->error, ES_ERR_NOMEM, "no-memory",
                       "There is not enough memory to read it.");
    return refuse_syntax(r, &fault);
}

/* --- keys and plain values ------------------------------------------------------------------ */

static es_status refuse_key(es_strict *r, const char *key, const char *what,
                            const char *const *keys, size_t count)
{
    char words[LISTED];
    es_text list = es_text_over(words, sizeof words);
    es_text_add(&list, "; it holds ");
    for (size_t i = 0; i < count; i++)
        es_text_add(&list, "%s%s", i ? ", " : "", keys[i]);
    return es_strict_refuse(r, key, 1, "\"%.*s\" is not known in %s%s.", SHOWN, key, what,
                            list.cut ? "" : words);
}

es_status es_strict_object(es_strict *r, json_t *object, const char *what, const char *const *keys,
                           size_t count)
{
    if (!json_is_object(object))
        return es_strict_refuse(r, NULL, 0, "%s is wanted here, in braces.", what);
    const char *key;
    json_t *value;
    json_object_foreach(object, key, value)
    {
        size_t i = 0;
        while (i < count && strcmp(keys[i], key) != 0)
            i++;
        if (i == count)
            return refuse_key(r, key, what, keys, count);
    }
    for (size_t i = 0; i < count; i++)
        if (!json_object_get(object, keys[i]))
            return es_strict_refuse(r, NULL, 0, "\"%s\" is missing in %s that begins here.",
                                    keys[i], what);
    return ES_OK;
}

es_status es_strict_number(es_strict *r, const json_t *object, const char *key, double *out)
{
    const json_t *value = json_object_get(object, key);
    *out = (double)NAN;
    if (!json_is_number(value))
        return es_strict_refuse(r, key, 0, "\"%s\" wants a number.", key);
    *out = json_number_value(value);
    return ES_OK;
}

es_status es_strict_text(es_strict *r, const json_t *object, const char *key, char *out,
                         size_t room)
{
    const json_t *value = json_object_get(object, key);
    out[0] = '\0';
    if (!json_is_string(value))
        return es_strict_refuse(r, key, 0, "\"%s\" wants a text in quotation marks.", key);
    if (json_string_length(value) >= room)
        return es_strict_refuse(r, key, 0, "\"%s\" wants a text of at most %zu bytes.", key,
                                room - 1);
    memcpy(out, json_string_value(value), json_string_length(value) + 1);
    return ES_OK;
}
