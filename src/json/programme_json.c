#include "json/programme_json.h"

#include "evenspool/base/text.h"
#include "json/strict.h"

#include <string.h>

#define KEYS_MOST 16

typedef struct key_list {
    size_t count;
    const char *key[KEYS_MOST];
} key_list;

/* --- keys and lists ------------------------------------------------------------------------- */

static void allow(key_list *keys, const char *key)
{
    keys->key[keys->count++] = key;
}

static es_status check_object(es_strict *r, json_t *object, const char *what, const key_list *keys)
{
    return es_strict_object(r, object, what, keys->key, keys->count);
}

/* An array of 1 to most elements. */
static es_status take_array(es_strict *r, json_t *object, const char *key, size_t most,
                            json_t **out, size_t *count)
{
    *out = json_object_get(object, key);
    *count = json_array_size(*out);
    if (*count < 1 || *count > most)
        return es_strict_refuse(r, key, 0, "\"%s\" wants a list of 1 to %zu, in square brackets.",
                                key, most);
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

static es_status take_step(es_strict *r, json_t *object, const es_section_rule *rule,
                           es_programme_step *out)
{
    es_status status = ES_OK;
    if (rule->tone)
        status = es_strict_number(r, object, "hz", &out->hz);
    if (status == ES_OK && rule->level)
        status = es_strict_number(r, object, "level_db", &out->level_db);
    return status == ES_OK ? es_strict_number(r, object, "seconds", &out->seconds) : status;
}

static es_status take_steps(es_strict *r, json_t *object, const es_section_rule *rule,
                            es_programme_section *out)
{
    json_t *steps;
    es_status status = take_array(r, object, "steps", rule->steps_most, &steps, &out->step_count);
    key_list keys = {0};
    allow_step(&keys, rule);
    es_strict_enter(r, "steps", 0);
    for (size_t i = 0; status == ES_OK && i < out->step_count; i++) {
        json_t *step = json_array_get(steps, i);
        es_strict_enter(r, NULL, i);
        status = check_object(r, step, "a step", &keys);
        if (status == ES_OK)
            status = take_step(r, step, rule, &out->step[i]);
        es_strict_leave(r);
    }
    es_strict_leave(r);
    return status;
}

static es_status take_kind(es_strict *r, json_t *object, es_section_kind *out)
{
    json_t *value = json_object_get(object, "kind");
    if (!json_is_object(object))
        return es_strict_refuse(r, NULL, 0, "a section is wanted here, in braces.");
    if (!value)
        return es_strict_refuse(r, NULL, 0, "\"kind\" is missing in the section that begins here.");
    if (json_is_string(value) && es_section_kind_from_name(json_string_value(value), out) == ES_OK)
        return ES_OK;
    char words[200];
    es_text list = es_text_over(words, sizeof words);
    for (int k = 0; k < ES_SECTION_KIND_COUNT; k++)
        es_text_add(&list, "%s%s", k ? ", " : "", es_section_kind_name((es_section_kind)k));
    return es_strict_refuse(r, "kind", 0, "\"kind\" wants one of %s.", words);
}

static es_status take_section(es_strict *r, json_t *object, es_programme_section *out)
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
        status = es_strict_text(r, object, "name", out->name, sizeof out->name);
    if (status != ES_OK || rule->steps_most == 0)
        return status;
    if (rule->steps_most > 1)
        return take_steps(r, object, rule, out);
    out->step_count = 1;
    return take_step(r, object, rule, &out->step[0]);
}

/* --- sides ------------------------------------------------------------------------------------ */

/* {"as": 1}: the same sections as the first side. */
static es_status take_side_as(es_strict *r, json_t *object, es_programme *out, size_t index)
{
    static const key_list keys = {1, {"as"}};
    double as;
    es_status status = check_object(r, object, "a side with \"as\"", &keys);
    if (status == ES_OK)
        status = es_strict_number(r, object, "as", &as);
    if (status == ES_OK && (as != 1.0 || index == 0))
        status =
            es_strict_refuse(r, "as", 0, "\"as\" wants 1, and only the second side may have it.");
    if (status == ES_OK)
        out->side[index] = out->side[0];
    return status;
}

static es_status take_side(es_strict *r, json_t *object, es_programme *out, size_t index)
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
    es_strict_enter(r, "sections", 0);
    for (size_t i = 0; status == ES_OK && i < side->section_count; i++) {
        es_strict_enter(r, NULL, i);
        status = take_section(r, json_array_get(sections, i), &side->section[i]);
        es_strict_leave(r);
    }
    es_strict_leave(r);
    return status;
}

static es_status take_sides(es_strict *r, json_t *root, es_programme *out)
{
    json_t *sides;
    es_status status = take_array(r, root, "sides", ES_PROGRAMME_SIDES, &sides, &out->side_count);
    es_strict_enter(r, "sides", 0);
    for (size_t i = 0; status == ES_OK && i < out->side_count; i++) {
        es_strict_enter(r, NULL, i);
        status = take_side(r, json_array_get(sides, i), out, i);
        es_strict_leave(r);
    }
    es_strict_leave(r);
    return status;
}

/* --- the whole --------------------------------------------------------------------------------- */

static es_status check_schema(es_strict *r, json_t *root)
{
    json_t *schema = json_object_get(root, "schema");
    if (json_is_object(root) &&
        (!json_is_string(schema) || strcmp(json_string_value(schema), ES_PROGRAMME_SCHEMA) != 0))
        return es_strict_refuse(r, schema ? "schema" : NULL, 0,
                                "a programme has \"schema\": \"" ES_PROGRAMME_SCHEMA
                                "\"; this is another "
                                "document, or another version.");
    return ES_OK;
}

static es_status take_texts(es_strict *r, json_t *root, es_programme *out)
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
        if (es_strict_text(r, root, texts[i].key, texts[i].to, texts[i].room) != ES_OK)
            return ES_ERR_INPUT;
    return ES_OK;
}

static es_status take_numbers(es_strict *r, json_t *root, es_programme *out)
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
        if (es_strict_number(r, root, numbers[i].key, numbers[i].to) != ES_OK)
            return ES_ERR_INPUT;
    return ES_OK;
}

static es_status take_programme(es_strict *r, json_t *root, es_programme *out)
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

es_status es_programme_from_json(const char *text, size_t length, es_programme *out,
                                 es_error *error)
{
    memset(out, 0, sizeof *out);
    es_strict r = {.text = text, .length = length, .code = "programme-text", .error = error};
    json_t *root;
    es_status status = es_strict_load(&r, &root);
    if (status == ES_OK)
        status = take_programme(&r, root, out);
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
