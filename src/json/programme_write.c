#include "json/programme_json.h"

#include "evenspool/base/text.h"
#include "json/exact.h"

#include <jansson.h>

#include <stdlib.h>
#include <string.h>

/* A full programme, every number as long as numbers get, takes less. */
#define TEXT_ROOM ((size_t)512 * 1024)

static void add_number(es_text *text, double value)
{
    char digits[ES_EXACT_ROOM];
    es_text_add(text, "%s", es_exact_number(value, digits));
}

/* 0: no memory, or not UTF-8. */
static int add_string(es_text *text, const char *value)
{
    json_t *string = json_string(value);
    char *quoted = string ? json_dumps(string, JSON_ENCODE_ANY) : NULL;
    json_decref(string);
    if (quoted)
        es_text_add(text, "%s", quoted);
    free(quoted);
    return quoted != NULL;
}

static int add_text_line(es_text *text, const char *key, const char *value)
{
    es_text_add(text, "  \"%s\": ", key);
    int added = add_string(text, value);
    es_text_add(text, ",\n");
    return added;
}

static void add_number_line(es_text *text, const char *key, double value)
{
    es_text_add(text, "  \"%s\": ", key);
    add_number(text, value);
    es_text_add(text, ",\n");
}

static void add_step(es_text *text, const es_section_rule *rule, const es_programme_step *step)
{
    if (rule->tone) {
        es_text_add(text, "\"hz\": ");
        add_number(text, step->hz);
        es_text_add(text, ", ");
    }
    if (rule->level) {
        es_text_add(text, "\"level_db\": ");
        add_number(text, step->level_db);
        es_text_add(text, ", ");
    }
    es_text_add(text, "\"seconds\": ");
    add_number(text, step->seconds);
}

static int add_section(es_text *text, const es_programme_section *s, int last)
{
    const es_section_rule *rule = es_section_rule_of(s->kind);
    es_text_add(text, "      {\"kind\": \"%s\", \"name\": ", rule ? rule->name : "");
    int added = add_string(text, s->name);
    if (rule && rule->steps_most == 1) {
        es_text_add(text, ", ");
        add_step(text, rule, &s->step[0]);
    } else if (rule && rule->steps_most > 1) {
        es_text_add(text, ", \"steps\": [\n");
        for (size_t i = 0; i < s->step_count; i++) {
            es_text_add(text, "        {");
            add_step(text, rule, &s->step[i]);
            es_text_add(text, i + 1 < s->step_count ? "},\n" : "}\n");
        }
        es_text_add(text, "      ]");
    }
    es_text_add(text, last ? "}\n" : "},\n");
    return added;
}

/* Bit for bit, unused places included: a difference that is none only makes the text longer. */
static int sides_are_alike(const es_programme *p)
{
    /* NOLINTNEXTLINE(bugprone-suspicious-memory-comparison) */
    return memcmp(&p->side[0], &p->side[1], sizeof p->side[0]) == 0;
}

static int add_side(es_text *text, const es_programme *p, size_t index)
{
    const es_programme_side *side = &p->side[index];
    const char *end = index + 1 < p->side_count ? "," : "";
    int added = 1;
    if (index == 1 && sides_are_alike(p)) {
        es_text_add(text, "    {\"as\": 1}%s\n", end);
        return added;
    }
    es_text_add(text, "    {\"sections\": [\n");
    for (size_t i = 0; i < side->section_count; i++)
        added &= add_section(text, &side->section[i], i + 1 == side->section_count);
    es_text_add(text, "    ]}%s\n", end);
    return added;
}

static int add_programme(es_text *text, const es_programme *p)
{
    es_text_add(text, "{\n  \"schema\": \"" ES_PROGRAMME_SCHEMA "\",\n");
    int added = add_text_line(text, "name", p->name);
    added &= add_text_line(text, "about", p->about);
    added &= add_text_line(text, "transport", p->transport);
    added &= add_text_line(text, "equalisation", p->equalisation);
    add_number_line(text, "reference_nwb_m", p->reference_nwb_m);
    add_number_line(text, "marker_db", p->marker_db);
    add_number_line(text, "broad_low_hz", p->broad_low_hz);
    add_number_line(text, "broad_high_hz", p->broad_high_hz);
    add_number_line(text, "side_most_s", p->side_most_s);
    es_text_add(text, "  \"sides\": [\n");
    for (size_t i = 0; i < p->side_count; i++)
        added &= add_side(text, p, i);
    es_text_add(text, "  ]\n}\n");
    return added && !text->cut;
}

es_status es_programme_to_json(const es_programme *programme, char **out)
{
    *out = malloc(TEXT_ROOM);
    if (!*out)
        return ES_ERR_NOMEM;
    es_text text = es_text_over(*out, TEXT_ROOM);
    if (add_programme(&text, programme))
        return ES_OK;
    free(*out);
    *out = NULL;
    return ES_ERR_NOMEM;
}
