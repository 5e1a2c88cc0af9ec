#include "json/cue_json.h"

#include "json/document.h"

#include <math.h>
#include <stddef.h>

static void add_steps(es_json *json, es_json_part *section, const es_cue_sheet *sheet,
                      const es_programme_section *s, double from_s)
{
    const es_section_rule *rule = es_section_rule_of(s->kind);
    es_json_part *steps = es_json_array(json, section, "steps");
    double none = (double)NAN;
    for (size_t i = 0; rule && i < s->step_count; i++) {
        es_json_part *step = es_json_object(json, steps, NULL);
        es_json_number(json, step, "start_s", from_s);
        es_json_number(json, step, "seconds", s->step[i].seconds);
        es_json_number(json, step, "hz", rule->tone ? s->step[i].hz : none);
        es_json_number(json, step, "level_db", rule->level ? s->step[i].level_db : none);
        if (s->kind == ES_SECTION_AZIMUTH_BROADBAND) {
            es_json_number(json, step, "low_hz", sheet->programme.broad_low_hz);
            es_json_number(json, step, "high_hz", sheet->programme.broad_high_hz);
        }
        from_s += s->step[i].seconds;
    }
}

static void add_section(es_json *json, es_json_part *sections, const es_cue_sheet *sheet,
                        const es_cue_side *side, size_t at)
{
    const es_programme_section *s = es_cue_section(sheet, side, at);
    const es_section_rule *rule = es_section_rule_of(s->kind);
    const es_section_times *t = &side->times[at];
    es_json_part *section = es_json_object(json, sections, NULL);
    es_json_text(json, section, "name", s->name);
    es_json_text(json, section, "kind", rule ? rule->name : NULL);
    es_json_text(json, section, "about", rule ? rule->about : NULL);
    es_json_text(json, section, "channels", es_cue_channels(s));
    es_json_number(json, section, "start_s", t->start_s);
    es_json_number(json, section, "marker_s", t->marker_s);
    es_json_number(json, section, "body_s", t->body_s);
    es_json_number(json, section, "end_s", t->end_s);
    add_steps(json, section, sheet, s, t->body_s);
}

static void add_side(es_json *json, es_json_part *sides, const es_cue_sheet *sheet,
                     const es_cue_side *side)
{
    const char letter[2] = {es_side_letter(side->side), '\0'};
    es_json_part *part = es_json_object(json, sides, NULL);
    es_json_text(json, part, "side", letter);
    es_json_text(json, part, "file", side->file[0] ? side->file : NULL);
    es_json_number(json, part, "length_s", side->length_s);
    es_json_part *sections = es_json_array(json, part, "sections");
    for (size_t i = 0; i < es_cue_count(sheet, side); i++)
        add_section(json, sections, sheet, side, i);
}

es_status es_cues_to_json(const es_cue_sheet *sheet, int indented, char **out)
{
    const es_programme *p = &sheet->programme;
    es_json *json;
    *out = NULL;
    if (es_json_create(&json) != ES_OK)
        return ES_ERR_NOMEM;
    es_json_part *root = es_json_root(json);
    es_json_text(json, root, "schema", "evenspool.cues/1");
    es_json_text(json, root, "version", ES_VERSION);
    es_json_text(json, root, "programme", p->name);
    es_json_text(json, root, "about", p->about);
    es_json_count(json, root, "marker_number", sheet->id);
    es_json_text(json, root, "transport", p->transport);
    es_json_number(json, root, "speed_m_s", sheet->speed_m_s);
    es_json_text(json, root, "equalisation", p->equalisation);
    es_json_number(json, root, "reference_nwb_m", p->reference_nwb_m);
    es_json_number(json, root, "reference_dbfs", sheet->reference_dbfs);
    es_json_number(json, root, "marker_db", p->marker_db);
    es_json_number(json, root, "samplerate_hz", sheet->rate_hz);
    es_json_number(json, root, "side_most_s", p->side_most_s);
    es_json_part *sides = es_json_array(json, root, "sides");
    for (size_t i = 0; i < sheet->side_count; i++)
        add_side(json, sides, sheet, &sheet->sides[i]);
    es_status status = es_json_print(json, indented, out);
    es_json_destroy(json);
    return status;
}
