#include "json/programme_json.h"

#include "evenspool/base/text.h"
#include "json/locate.h"

#include <jansson.h>

#include <math.h>
#include <stdarg.h>
#include <string.h>

#define SHOWN 40 /* bytes of a stranger's key that a sentence repeats */
#define KEYS_MOST 16

typedef struct reader {
    const char *text;
    size_t length;
    es_json_path at; /* of the value that is being read */
    es_error *error;
} reader;

typedef struct key_list {
    size_t count;
    const char *key[KEYS_MOST];
} key_list;

/* --- refusing ------------------------------------------------------------------------------ */

static es_status refuse_at(reader *r, es_json_spot spot, const char *sentence)
{
    return es_fail(r->error, ES_ERR_INPUT, "programme-text", "Line %zu, column %zu: %s", spot.line,
                   spot.column, sentence);
}

/* Of the value under key, its key itself, or (key NULL) of the value that is being read. */
static es_status refuse(reader *r, const char *key, int at_key, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

static es_status refuse(reader *r, const char *key, int at_key, const char *format, ...)
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
    return refuse_at(r, es_json_locate(r->text, r->length, &path, at_key), sentence);
}

static void go_in(reader *r, const char *key, size_t index)
{
    r->at.step[r->at.depth++] = (es_json_step){.key = key, .index = index};
}

static void go_out(reader *r)
{
    r->at.depth--;
}

/* --- keys and plain values ------------------------------------------------------------------ */

static void allow(key_list *keys, const char *key)
{
    keys->key[keys->count++] = key;
}

static es_status refuse_key(reader *r, const char *key, const char *what, const key_list *keys)
{
    char words[200];
    es_text list = es_text_over(words, sizeof words);
    for (size_t i = 0; i < keys->count; i++)
        es_text_add(&list, "%s%s", i ? ", " : "", keys->key[i]);
    return refuse(r, key, 1, "\"%.*s\" is not known in %s; it holds %s.", SHOWN, key, what, words);
}

/* An object that holds all of these keys and no others. */
static es_status check_object(reader *r, json_t *object, const char *what, const key_list *keys)
{
    if (!json_is_object(object))
        return refuse(r, NULL, 0, "%s is wanted here, in braces.", what);
    const char *key;
    json_t *value;
    json_object_foreach(object, key, value)
    {
        size_t i = 0;
        while (i < keys->count && strcmp(keys->key[i], key) != 0)
            i++;
        if (i == keys->count)
            return refuse_key(r, key, what, keys);
    }
    for (size_t i = 0; i < keys->count; i++)
        if (!json_object_get(object, keys->key[i]))
            return refuse(r, NULL, 0, "\"%s\" is missing in %s that begins here.", keys->key[i],
                          what);
    return ES_OK;
}

static es_status take_number(reader *r, json_t *object, const char *key, double *out)
{
    json_t *value = json_object_get(object, key);
    *out = (double)NAN;
    if (!json_is_number(value))
        return refuse(r, key, 0, "\"%s\" wants a number.", key);
    *out = json_number_value(value);
    return ES_OK;
}

static es_status take_text(reader *r, json_t *object, const char *key, char *out, size_t room)
{
    json_t *value = json_object_get(object, key);
    if (!json_is_string(value))
        return refuse(r, key, 0, "\"%s\" wants a text in quotation marks.", key);
    if (json_string_length(value) >= room)
        return refuse(r, key, 0, "\"%s\" wants a text of at most %zu bytes.", key, room - 1);
    memcpy(out, json_string_value(value), json_string_length(value) + 1);
    return ES_OK;
}

/* An array of 1 to most elements. */
static es_status take_array(reader *r, json_t *object, const char *key, size_t most, json_t **out,
                            size_t *count)
{
    *out = json_object_get(object, key);
    *count = json_array_size(*out);
    if (*count < 1 || *count > most)
        return refuse(r, key, 0, "\"%s\" wants a list of 1 to %zu, in square brackets.", key, most);
    return ES_OK;
}

/* --- sections -------------------------------------------------------------------------------- */

static void allow_step(key_list *keys, const es_section_rule *rule)
{
    if (rule->tone)
        allow(keys, "hz");
    if (rule->level)
        allow(keys, "level_db");
    allow(keys, "seconds");
}

static es_status take_step(reader *r, json_t *object, const es_section_rule *rule,
                           es_programme_step *out)
{
    es_status status = ES_OK;
    if (rule->tone)
        status = take_number(r, object, "hz", &out->hz);
    if (status == ES_OK && rule->level)
        status = take_number(r, object, "level_db", &out->level_db);
    return status == ES_OK ? take_number(r, object, "seconds", &out->seconds) : status;
}

static es_status take_steps(reader *r, json_t *object, const es_section_rule *rule,
                            es_programme_section *out)
{
    json_t *steps;
    es_status status = take_array(r, object, "steps", rule->steps_most, &steps, &out->step_count);
    key_list keys = {0};
    allow_step(&keys, rule);
    go_in(r, "steps", 0);
    for (size_t i = 0; status == ES_OK && i < out->step_count; i++) {
        json_t *step = json_array_get(steps, i);
        go_in(r, NULL, i);
        status = check_object(r, step, "a step", &keys);
        if (status == ES_OK)
            status = take_step(r, step, rule, &out->step[i]);
        go_out(r);
    }
    go_out(r);
    return status;
}

static es_status take_kind(reader *r, json_t *object, es_section_kind *out)
{
    json_t *value = json_object_get(object, "kind");
    if (!json_is_object(object))
        return refuse(r, NULL, 0, "a section is wanted here, in braces.");
    if (!value)
        return refuse(r, NULL, 0, "\"kind\" is missing in the section that begins here.");
    if (json_is_string(value) && es_section_kind_from_name(json_string_value(value), out) == ES_OK)
        return ES_OK;
    char words[200];
    es_text list = es_text_over(words, sizeof words);
    for (int k = 0; k < ES_SECTION_KIND_COUNT; k++)
        es_text_add(&list, "%s%s", k ? ", " : "", es_section_kind_name((es_section_kind)k));
    return refuse(r, "kind", 0, "\"kind\" wants one of %s.", words);
}

static es_status take_section(reader *r, json_t *object, es_programme_section *out)
{
    es_status status = take_kind(r, object, &out->kind);
    if (status != ES_OK)
        return status;
    const es_section_rule *rule = es_section_rule_of(out->kind);
    key_list keys = {2, {"kind", "name"}};
    if (rule->steps_most > 1)
        allow(&keys, "steps");
    else if (rule->steps_most == 1)
        allow_step(&keys, rule);
    char what[64];
    es_text words = es_text_over(what, sizeof what);
    es_text_add(&words, "a section of kind %s", rule->name);
    status = check_object(r, object, what, &keys);
    if (status == ES_OK)
        status = take_text(r, object, "name", out->name, sizeof out->name);
    if (status != ES_OK || rule->steps_most == 0)
        return status;
    if (rule->steps_most > 1)
        return take_steps(r, object, rule, out);
    out->step_count = 1;
    return take_step(r, object, rule, &out->step[0]);
}

/* --- sides ------------------------------------------------------------------------------------ */

/* {"as": 1}: the same sections as the first side. */
static es_status take_side_as(reader *r, json_t *object, es_programme *out, size_t index)
{
    static const key_list keys = {1, {"as"}};
    double as;
    es_status status = check_object(r, object, "a side with \"as\"", &keys);
    if (status == ES_OK)
        status = take_number(r, object, "as", &as);
    if (status == ES_OK && (as != 1.0 || index == 0))
        status = refuse(r, "as", 0, "\"as\" wants 1, and only the second side may have it.");
    if (status == ES_OK)
        out->side[index] = out->side[0];
    return status;
}

static es_status take_side(reader *r, json_t *object, es_programme *out, size_t index)
{
    static const key_list keys = {1, {"sections"}};
    es_programme_side *side = &out->side[index];
    json_t *sections;
    if (json_object_get(object, "as"))
        return take_side_as(r, object, out, index);
    es_status status = check_object(r, object, "a side", &keys);
    if (status == ES_OK)
        status = take_array(r, object, "sections", ES_PROGRAMME_SECTIONS, &sections,
                            &side->section_count);
    go_in(r, "sections", 0);
    for (size_t i = 0; status == ES_OK && i < side->section_count; i++) {
        go_in(r, NULL, i);
        status = take_section(r, json_array_get(sections, i), &side->section[i]);
        go_out(r);
    }
    go_out(r);
    return status;
}

static es_status take_sides(reader *r, json_t *root, es_programme *out)
{
    json_t *sides;
    es_status status = take_array(r, root, "sides", ES_PROGRAMME_SIDES, &sides, &out->side_count);
    go_in(r, "sides", 0);
    for (size_t i = 0; status == ES_OK && i < out->side_count; i++) {
        go_in(r, NULL, i);
        status = take_side(r, json_array_get(sides, i), out, i);
        go_out(r);
    }
    go_out(r);
    return status;
}

/* --- the whole --------------------------------------------------------------------------------- */

static es_status check_schema(reader *r, json_t *root)
{
    json_t *schema = json_object_get(root, "schema");
    if (json_is_object(root) &&
        (!json_is_string(schema) || strcmp(json_string_value(schema), ES_PROGRAMME_SCHEMA) != 0))
        return refuse(r, schema ? "schema" : NULL, 0,
                      "a programme has \"schema\": \"" ES_PROGRAMME_SCHEMA "\"; this is another "
                      "document, or another version.");
    return ES_OK;
}

static es_status take_texts(reader *r, json_t *root, es_programme *out)
{
    const struct {
        const char *key;
        char *to;
        size_t room;
    } texts[] = {{"name", out->name, sizeof out->name},
                 {"about", out->about, sizeof out->about},
                 {"transport", out->transport, sizeof out->transport},
                 {"equalisation", out->equalisation, sizeof out->equalisation}};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        if (take_text(r, root, texts[i].key, texts[i].to, texts[i].room) != ES_OK)
            return ES_ERR_INPUT;
    return ES_OK;
}

static es_status take_numbers(reader *r, json_t *root, es_programme *out)
{
    const struct {
        const char *key;
        double *to;
    } numbers[] = {{"reference_nwb_m", &out->reference_nwb_m},
                   {"marker_db", &out->marker_db},
                   {"broad_low_hz", &out->broad_low_hz},
                   {"broad_high_hz", &out->broad_high_hz},
                   {"side_most_s", &out->side_most_s}};
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        if (take_number(r, root, numbers[i].key, numbers[i].to) != ES_OK)
            return ES_ERR_INPUT;
    return ES_OK;
}

static es_status take_programme(reader *r, json_t *root, es_programme *out)
{
    static const key_list keys = {11,
                                  {"schema", "name", "about", "transport", "equalisation",
                                   "reference_nwb_m", "marker_db", "broad_low_hz", "broad_high_hz",
                                   "side_most_s", "sides"}};
    es_status status = check_schema(r, root);
    if (status == ES_OK)
        status = check_object(r, root, "a programme", &keys);
    if (status == ES_OK)
        status = take_texts(r, root, out);
    if (status == ES_OK)
        status = take_numbers(r, root, out);
    return status == ES_OK ? take_sides(r, root, out) : status;
}

static es_status refuse_syntax(reader *r, const json_error_t *fault)
{
    es_json_spot spot = {.line = fault->line > 0 ? (size_t)fault->line : 1,
                         .column = fault->column > 0 ? (size_t)fault->column : 1};
    char sentence[240];
    es_text words = es_text_over(sentence, sizeof sentence);
    es_text_add(&words, "this is not JSON (%s).", fault->text);
    return refuse_at(r, spot, sentence);
}

es_status es_programme_from_json(const char *text, size_t length, es_programme *out,
                                 es_error *error)
{
    memset(out, 0, sizeof *out);
    reader r = {.text = text, .length = length, .error = error};
    json_error_t fault;
    json_t *root = json_loadb(text, length, JSON_REJECT_DUPLICATES, &fault);
    if (!root && json_error_code(&fault) == json_error_out_of_memory)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to read it.");
    es_status status = root ? take_programme(&r, root, out) : refuse_syntax(&r, &fault);
    json_decref(root);
    if (status != ES_OK)
        memset(out, 0, sizeof *out);
    return status;
}

/* --- pointing ----------------------------------------------------------------------------------- */

static void add_index(es_json_path *path, const char *key, size_t index)
{
    if (index == ES_SPOT_NONE)
        return;
    path->step[path->depth++] = (es_json_step){.key = key};
    path->step[path->depth++] = (es_json_step){.index = index};
}

es_status es_programme_json_point(const char *text, size_t length, const es_programme_spot *spot,
                                  const es_error *found, es_error *error)
{
    es_json_path path = {0};
    add_index(&path, "sides", spot->side);
    add_index(&path, "sections", spot->section);
    es_json_path direct = path; /* a section with one body has no list of steps */
    add_index(&path, "steps", spot->step);
    if (es_json_locate(text, length, &path, 0).depth < path.depth)
        path = direct;
    if (spot->field)
        path.step[path.depth++] = (es_json_step){.key = spot->field};
    es_json_spot at = es_json_locate(text, length, &path, 0);
    return es_fail(error, found->status, found->code, "Line %zu, column %zu: %s", at.line,
                   at.column, found->text);
}
