#include "evenspool/task/programme.h"

#include "evenspool/tape/equalisation.h"
#include "evenspool/tape/transport.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

/* --- check --------------------------------------------------------------------------------- */

/* Where the check is; what it refuses there is said of the field. */
typedef struct judge {
    const es_programme *p;
    es_programme_spot spot;
    char where[64]; /* "Side 1, section 2" */
    es_error *error;
} judge;

#define REFUSE(j, member, ...)                                                                     \
    do {                                                                                           \
        (j)->spot.field = member;                                                                  \
        return es_fail((j)->error, ES_ERR_INPUT, "programme", __VA_ARGS__);                        \
    } while (0)

static int within(double value, double low, double high)
{
    return value >= low && value <= high; /* false for NaN */
}

/* Lower-case words with single hyphens, terminated. */
static int name_is_sound(const char name[ES_PROGRAMME_NAME])
{
    if (!memchr(name, '\0', ES_PROGRAMME_NAME) || name[0] == '\0' || name[0] == '-')
        return 0;
    for (size_t i = 0; name[i]; i++) {
        int letter = (name[i] >= 'a' && name[i] <= 'z') || (name[i] >= '0' && name[i] <= '9') ||
                     name[i] == '.';
        if (!letter && !(name[i] == '-' && name[i + 1] != '-' && name[i + 1] != '\0'))
            return 0;
    }
    return 1;
}

static es_status check_step(judge *j, const es_programme_section *s, size_t step)
{
    const es_programme_step *t = &s->step[step];
    const es_section_rule *rule = es_section_rule_of(s->kind);
    j->spot.step = step;
    if (rule->tone && !within(t->hz, 20.0, 22000.0))
        REFUSE(j, "hz", "%s, step %zu: the tone must be 20 to 22000 Hz.", j->where, step + 1);
    if (!rule->tone && t->hz != 0.0)
        REFUSE(j, "hz", "%s: a section of kind %s has no tone; its frequency must be 0.", j->where,
               rule->name);
    if (rule->level ? !within(t->level_db, -60.0, 12.0) : t->level_db != 0.0)
        REFUSE(j, "level_db", "%s, step %zu: the level must be %s.", j->where, step + 1,
               rule->level ? "-60 to 12 dB" : "0, for nothing is recorded");
    if (!within(t->seconds, 1.0, 7200.0))
        REFUSE(j, "seconds", "%s, step %zu: the length must be 1 to 7200 s.", j->where, step + 1);
    j->spot.step = ES_SPOT_NONE;
    return ES_OK;
}

static es_status check_name(judge *j, const es_programme_side *side, size_t index)
{
    const es_programme_section *s = &side->section[index];
    if (!name_is_sound(s->name))
        REFUSE(j, "name",
               "%s: the name must be lower-case words joined by hyphens, at most %d letters.",
               j->where, ES_PROGRAMME_NAME - 1);
    for (size_t i = 0; i < index; i++)
        if (strcmp(side->section[i].name, s->name) == 0)
            REFUSE(j, "name", "%s: the name %s stands there twice.", j->where, s->name);
    return ES_OK;
}

static es_status check_section(judge *j, const es_programme_side *side, size_t index)
{
    const es_programme_section *s = &side->section[index];
    const es_section_rule *rule = es_section_rule_of(s->kind);
    if (!rule)
        REFUSE(j, "kind", "%s: there is no such kind of section.", j->where);
    if (check_name(j, side, index) != ES_OK)
        return ES_ERR_INPUT;
    if (s->kind == ES_SECTION_LEADER && index != 0)
        REFUSE(j, "kind", "%s: a leader can only come first.", j->where);
    if ((s->kind == ES_SECTION_END) != (index + 1 == side->section_count))
        REFUSE(j, "kind", "%s: the last section, and only that, must be of kind end.", j->where);
    if (s->step_count > rule->steps_most || (s->step_count == 0 && rule->steps_most > 0))
        REFUSE(j, "steps", "%s: a section of kind %s has %s%zu step%s.", j->where, rule->name,
               rule->steps_most > 1 ? "1 to " : "", rule->steps_most,
               rule->steps_most == 1 ? "" : "s");
    for (size_t i = 0; i < s->step_count; i++)
        if (check_step(j, s, i) != ES_OK)
            return ES_ERR_INPUT;
    return ES_OK;
}

static es_status check_side(judge *j, size_t index)
{
    const es_programme_side *side = &j->p->side[index];
    j->spot.side = index;
    if (side->section_count < 1 || side->section_count > ES_PROGRAMME_SECTIONS)
        REFUSE(j, "sections", "Side %zu must have 1 to %d sections.", index + 1,
               ES_PROGRAMME_SECTIONS);
    for (size_t i = 0; i < side->section_count; i++) {
        j->spot.section = i;
        (void)snprintf(j->where, sizeof j->where, "Side %zu, section %zu", index + 1, i + 1);
        if (check_section(j, side, i) != ES_OK)
            return ES_ERR_INPUT;
    }
    j->spot.section = ES_SPOT_NONE;
    double length_s = es_programme_side_s(j->p, index);
    if (length_s > j->p->side_most_s)
        REFUSE(j, "sections", "Side %zu takes %.1f s, but a side of the tape has only %.1f s.",
               index + 1, length_s, j->p->side_most_s);
    j->spot.side = ES_SPOT_NONE;
    return ES_OK;
}

static es_status check_words(judge *j)
{
    const es_programme *p = j->p;
    es_transport_class class_of_machine;
    es_equalisation equalisation;
    if (!name_is_sound(p->name))
        REFUSE(j, "name",
               "The programme's name must be lower-case words joined by hyphens, at most %d "
               "letters.",
               ES_PROGRAMME_NAME - 1);
    if (!memchr(p->about, '\0', sizeof p->about))
        REFUSE(j, "about", "The programme's description is too long.");
    for (const char *at = p->about; *at; at++)
        if ((unsigned char)*at < 0x20 || *at == 0x7F)
            REFUSE(j, "about", "The programme's description must be one line.");
    if (!memchr(p->transport, '\0', sizeof p->transport) ||
        es_transport_from_name(p->transport, &class_of_machine) != ES_OK)
        REFUSE(j, "transport",
               "There is no such class of machine; write cassette, reel-9.5, "
               "reel-19, reel-38 or another that docs/programmes.md names.");
    if (!memchr(p->equalisation, '\0', sizeof p->equalisation) ||
        es_equalisation_from_name(p->equalisation, &equalisation) != ES_OK)
        REFUSE(j, "equalisation",
               "There is no equalisation of that name; write 120, 70, nab-19, "
               "iec-38 or another that docs/programmes.md names.");
    return ES_OK;
}

static es_status check_numbers(judge *j)
{
    const es_programme *p = j->p;
    if (!within(p->reference_nwb_m, 50.0, 1000.0))
        REFUSE(j, "reference_nwb_m", "The reference flux must be 50 to 1000 nWb/m.");
    if (!within(p->marker_db, -30.0, 0.0))
        REFUSE(j, "marker_db", "The markers' level must be -30 to 0 dB.");
    int low_is_sound =
        within(p->broad_low_hz, 50.0, 5000.0) && p->broad_low_hz == floor(p->broad_low_hz);
    if (!low_is_sound || !within(p->broad_high_hz, 4.0 * p->broad_low_hz, 20000.0) ||
        p->broad_high_hz != floor(p->broad_high_hz))
        REFUSE(j, low_is_sound ? "broad_high_hz" : "broad_low_hz",
               "The broadband sound must run from 50 to 5000 Hz up to 20000 Hz, over two octaves "
               "at least, in whole Hz.");
    if (!within(p->side_most_s, 60.0, 14400.0))
        REFUSE(j, "side_most_s", "A side of the tape must last 60 to 14400 s.");
    if (p->side_count < 1 || p->side_count > ES_PROGRAMME_SIDES)
        REFUSE(j, "sides", "A programme has 1 or 2 sides.");
    return ES_OK;
}

es_status es_programme_check(const es_programme *p, es_programme_spot *spot, es_error *error)
{
    judge j = {.p = p, .spot = {ES_SPOT_NONE, ES_SPOT_NONE, ES_SPOT_NONE, NULL}, .error = error};
    es_status status = check_words(&j);
    if (status == ES_OK)
        status = check_numbers(&j);
    for (size_t i = 0; status == ES_OK && i < p->side_count; i++)
        status = check_side(&j, i);
    if (spot)
        *spot = j.spot;
    return status;
}

/* --- id ------------------------------------------------------------------------------------ */

/* FNV-1a, 32 bits (Fowler, Noll and Vo; constants from memory), folded to 16. */
static void mix(uint32_t *hash, uint32_t byte)
{
    *hash = (*hash ^ (byte & 0xFF)) * 16777619u;
}

static void mix_text(uint32_t *hash, const char *text)
{
    do
        mix(hash, (unsigned char)*text);
    while (*text++);
}

/* In thousandths, so that the id does not hang on the last bit of a number. */
static void mix_number(uint32_t *hash, double value)
{
    uint64_t whole = (uint64_t)llround(1000.0 * value);
    for (int i = 0; i < 64; i += 8)
        mix(hash, (uint32_t)(whole >> i & 0xFF));
}

static void mix_section(uint32_t *hash, const es_programme_section *s)
{
    mix_number(hash, s->kind);
    mix_text(hash, s->name);
    mix_number(hash, (double)s->step_count);
    for (size_t i = 0; i < s->step_count; i++) {
        mix_number(hash, s->step[i].hz);
        mix_number(hash, s->step[i].level_db);
        mix_number(hash, s->step[i].seconds);
    }
}

unsigned es_programme_id(const es_programme *p)
{
    uint32_t hash = 2166136261u;
    mix_text(&hash, p->name);
    mix_text(&hash, p->transport);
    mix_text(&hash, p->equalisation);
    const double numbers[] = {p->reference_nwb_m, p->marker_db, p->broad_low_hz, p->broad_high_hz};
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        mix_number(&hash, numbers[i]);
    for (size_t k = 0; k < p->side_count; k++) {
        mix_number(&hash, (double)p->side[k].section_count);
        for (size_t i = 0; i < p->side[k].section_count; i++)
            mix_section(&hash, &p->side[k].section[i]);
    }
    return (hash >> 16 ^ hash) & 0xFFFF;
}

/* --- times ---------------------------------------------------------------------------------- */

static es_section_times times_from(const es_programme_section *s, double start_s)
{
    int leader = s->kind == ES_SECTION_LEADER;
    es_section_times t = {.start_s = start_s, .marker_s = leader ? (double)NAN : start_s};
    t.body_s = leader ? start_s : start_s + ES_MARKER_S + ES_PROGRAMME_GAP_S;
    t.end_s = t.body_s;
    for (size_t i = 0; i < s->step_count; i++)
        t.end_s += s->step[i].seconds;
    t.next_s = leader || s->kind == ES_SECTION_END ? t.end_s : t.end_s + ES_PROGRAMME_GAP_S;
    return t;
}

es_section_times es_programme_times(const es_programme *p, size_t side, size_t section)
{
    es_section_times t = {0.0, 0.0, 0.0, 0.0, 0.0};
    for (size_t i = 0; i <= section && i < p->side[side].section_count; i++)
        t = times_from(&p->side[side].section[i], t.next_s);
    return t;
}

double es_programme_step_s(const es_programme *p, size_t side, size_t section, size_t step)
{
    double at = es_programme_times(p, side, section).body_s;
    for (size_t i = 0; i < step; i++)
        at += p->side[side].section[section].step[i].seconds;
    return at;
}

double es_programme_side_s(const es_programme *p, size_t side)
{
    size_t count = p->side[side].section_count;
    return count ? es_programme_times(p, side, count - 1).next_s : 0.0;
}

static es_programme_place place_in(const es_programme_section *s, es_section_times t, double time_s)
{
    es_programme_place place = {.part = ES_PART_OF_GAP};
    if (time_s < t.body_s) {
        double over_s = t.marker_s + ES_MARKER_S;
        place.part = time_s < over_s ? ES_PART_OF_MARKER : ES_PART_OF_GAP;
        place.left_s = (time_s < over_s ? over_s : t.body_s) - time_s;
        return place;
    }
    double end_s = t.body_s;
    for (size_t i = 0; i < s->step_count; i++) {
        end_s += s->step[i].seconds;
        place.step = i;
        if (time_s < end_s) {
            place.part = ES_PART_OF_BODY;
            place.left_s = end_s - time_s;
            return place;
        }
    }
    place.left_s = t.next_s - time_s;
    return place;
}

es_programme_place es_programme_at(const es_programme *p, size_t side, double time_s)
{
    es_section_times t = {0.0, 0.0, 0.0, 0.0, 0.0};
    for (size_t i = 0; time_s >= 0.0 && i < p->side[side].section_count; i++) {
        const es_programme_section *s = &p->side[side].section[i];
        t = times_from(s, t.next_s);
        if (time_s < t.next_s) {
            es_programme_place place = place_in(s, t, time_s);
            place.section = i;
            return place;
        }
    }
    return (es_programme_place){.part = ES_PART_OF_NOTHING, .left_s = (double)NAN};
}
