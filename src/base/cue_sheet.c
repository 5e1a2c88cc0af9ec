#include "evenspool/base/cue_sheet.h"

#include <math.h>

char es_side_letter(size_t side)
{
    return side == 0 ? 'a' : 'b';
}

void es_cue_time(es_text *text, double seconds)
{
    if (!(seconds >= 0.0 && seconds < 1e6)) {
        es_text_add(text, "-");
        return;
    }
    int whole = (int)lround(seconds);
    es_text_add(text, "%d:%02d", whole / 60, whole % 60);
}

static void add_hz(es_text *text, double hz)
{
    if (hz >= 10000.0)
        es_text_add(text, "%.4g kHz", hz / 1000.0);
    else
        es_text_add(text, "%.4g Hz", hz);
}

static void add_span(es_text *text, double low_hz, double high_hz)
{
    add_hz(text, low_hz);
    es_text_add(text, " to ");
    add_hz(text, high_hz);
}

static void add_steps(es_text *text, const es_programme_section *s)
{
    double low = s->step[0].hz, high = low;
    for (size_t i = 1; i < s->step_count; i++) {
        low = fmin(low, s->step[i].hz);
        high = fmax(high, s->step[i].hz);
    }
    if (low == high) {
        add_hz(text, low);
        if (s->step_count > 1)
            es_text_add(text, ", %zu steps", s->step_count);
        return;
    }
    es_text_add(text, "%zu tones, ", s->step_count);
    add_span(text, low, high);
}

void es_cue_tones(es_text *text, const es_programme *p, const es_programme_section *s)
{
    const es_section_rule *rule = es_section_rule_of(s->kind);
    if (s->kind == ES_SECTION_AZIMUTH_BROADBAND) {
        add_span(text, p->broad_low_hz, p->broad_high_hz);
        es_text_add(text, " at once");
    } else if (s->step_count == 0) {
        es_text_add(text, "marker only");
    } else if (rule && rule->tone) {
        add_steps(text, s);
    } else {
        es_text_add(text, "silence");
    }
}

static void add_level(es_text *text, double level_db)
{
    double tenths = round(10.0 * level_db);
    es_text_add(text, tenths > 0.0 ? "+%g" : "%g", tenths / 10.0 + 0.0);
}

void es_cue_levels(es_text *text, const es_programme_section *s)
{
    const es_section_rule *rule = es_section_rule_of(s->kind);
    if (!rule || !rule->level || s->step_count == 0) {
        es_text_add(text, "-");
        return;
    }
    double low = s->step[0].level_db, high = low;
    for (size_t i = 1; i < s->step_count; i++) {
        low = fmin(low, s->step[i].level_db);
        high = fmax(high, s->step[i].level_db);
    }
    add_level(text, low);
    if (high > low) {
        es_text_add(text, " to ");
        add_level(text, high);
    }
    es_text_add(text, " dB");
}

const char *es_cue_channels(const es_programme_section *s)
{
    return s->kind == ES_SECTION_LEFT_ONLY    ? "left"
           : s->kind == ES_SECTION_RIGHT_ONLY ? "right"
                                              : "both";
}

const es_programme_section *es_cue_section(const es_cue_sheet *sheet, const es_cue_side *side,
                                           size_t at)
{
    return &sheet->programme.side[side->side].section[at];
}

size_t es_cue_count(const es_cue_sheet *sheet, const es_cue_side *side)
{
    return sheet->programme.side[side->side].section_count;
}
