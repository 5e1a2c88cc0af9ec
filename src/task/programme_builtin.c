#include "evenspool/task/programme.h"

#include "evenspool/base/text.h"

#include <string.h>

/* What the built-in programmes differ in. Flux, tones and levels: docs/methods.md#programme. */
typedef struct plan {
    const char *name, *about;
    const char *transport;
    const char *equalisation;
    double reference_nwb_m, reference_hz;
    double top_hz; /* of the ladder and of the broadband sound */
    double side_most_s, leader_s;
    double speed_s[3]; /* at the start, in the middle, at the end; 0: none     */
    double step_s;     /* of a ladder's tone                                   */
    int again;         /* level, azimuth and response once more near the end   */
} plan;

static const plan plans[] = {
    {"cassette",
     "Both sides of a C60 cassette: everything, speed at start, middle and end.",
     "cassette",
     "120",
     250.0,
     315.0,
     16000.0,
     1800.0,
     12.0,
     {240.0, 600.0, 480.0},
     4.0,
     1},
    {"cassette-c90",
     "Both sides of a C90 cassette: everything, speed at start, middle and end.",
     "cassette",
     "120",
     250.0,
     315.0,
     16000.0,
     2700.0,
     12.0,
     {480.0, 1000.0, 740.0},
     4.0,
     1},
    {"cassette-70",
     "Both sides of a C60 cassette with 70 us equalisation (types II and IV).",
     "cassette",
     "70",
     250.0,
     315.0,
     16000.0,
     1800.0,
     12.0,
     {240.0, 600.0, 480.0},
     4.0,
     1},
    {"cassette-short",
     "Seven minutes of everything, for trying out.",
     "cassette",
     "120",
     250.0,
     315.0,
     16000.0,
     1800.0,
     12.0,
     {90.0, 0.0, 90.0},
     3.0,
     0},
    {"reel-9.5",
     "Reel at 9.53 cm/s: everything, speed at start, middle and end.",
     "reel-9.5",
     "nab-9.5",
     250.0,
     315.0,
     16000.0,
     1800.0,
     10.0,
     {180.0, 240.0, 180.0},
     4.0,
     0},
    {"reel-19",
     "Reel at 19.05 cm/s: everything, speed at start, middle and end.",
     "reel-19",
     "nab-19",
     320.0,
     1000.0,
     20000.0,
     1800.0,
     10.0,
     {120.0, 180.0, 120.0},
     4.0,
     0},
    {"reel-38",
     "Reel at 38.1 cm/s: everything, speed at start, middle and end.",
     "reel-38",
     "iec-38",
     320.0,
     1000.0,
     20000.0,
     900.0,
     10.0,
     {90.0, 120.0, 90.0},
     4.0,
     0},
};
#define PLANS (sizeof plans / sizeof *plans)

/* --- building ------------------------------------------------------------------------------- */

static es_programme_section *add(es_programme_side *side, es_section_kind kind, const char *suffix)
{
    es_programme_section *s = &side->section[side->section_count++];
    *s = (es_programme_section){.kind = kind};
    es_text name = es_text_over(s->name, sizeof s->name);
    es_text_add(&name, "%s%s", es_section_kind_name(kind), suffix);
    return s;
}

static void add_step(es_programme_section *s, double hz, double level_db, double seconds)
{
    s->step[s->step_count++] =
        (es_programme_step){.hz = hz, .level_db = level_db, .seconds = seconds};
}

static void add_speed(es_programme_side *side, const char *suffix, double seconds)
{
    if (seconds > 0.0)
        add_step(add(side, ES_SECTION_SPEED, suffix), 3150.0, -6.0, seconds);
}

static void add_azimuth(es_programme_side *side, const char *suffix, double seconds)
{
    static const double tones[] = {1000, 3150, 6300, 8000, 10000};
    es_programme_section *s = add(side, ES_SECTION_AZIMUTH_TONES, suffix);
    for (size_t i = 0; i < sizeof tones / sizeof *tones; i++)
        add_step(s, tones[i], -10.0, seconds);
    add_step(add(side, ES_SECTION_AZIMUTH_BROADBAND, suffix), 0.0, -20.0, 5.0 * seconds);
}

static void add_response(es_programme_side *side, const char *suffix, const plan *p)
{
    static const double ladder[] = {31.5, 40,   63,    125,   250,   500,   1000,  2000, 4000,
                                    6300, 8000, 10000, 12500, 14000, 16000, 18000, 20000};
    es_programme_section *s = add(side, ES_SECTION_RESPONSE, suffix);
    add_step(s, 315.0, -20.0, p->step_s);
    for (size_t i = 0; i < sizeof ladder / sizeof *ladder && ladder[i] <= p->top_hz; i++)
        add_step(s, ladder[i], -20.0, ladder[i] < 100.0 ? p->step_s + 1.0 : p->step_s);
}

static void add_one_sided(es_programme_side *side, es_section_kind kind, double seconds)
{
    static const double tones[] = {125, 315, 1000, 3150, 6300, 10000};
    es_programme_section *s = add(side, kind, "");
    for (size_t i = 0; i < sizeof tones / sizeof *tones; i++)
        add_step(s, tones[i], -10.0, seconds);
}

static void add_distortion(es_programme_side *side, const plan *p)
{
    static const double levels_db[] = {-6, -3, 0, 2, 4, 6, 8};
    es_programme_section *s = add(side, ES_SECTION_DISTORTION, "");
    for (size_t i = 0; i < sizeof levels_db / sizeof *levels_db; i++)
        add_step(s, p->reference_hz, levels_db[i], p->step_s);
}

static void build_side(es_programme_side *side, const plan *p)
{
    add_step(add(side, ES_SECTION_LEADER, ""), 0.0, 0.0, p->leader_s);
    add_speed(side, "-start", p->speed_s[0]);
    add_step(add(side, ES_SECTION_LEVEL, ""), p->reference_hz, 0.0, 4.0 * p->step_s);
    add_azimuth(side, "", p->step_s + 1.0);
    add_response(side, "", p);
    add_one_sided(side, ES_SECTION_LEFT_ONLY, p->step_s);
    add_one_sided(side, ES_SECTION_RIGHT_ONLY, p->step_s);
    add_step(add(side, ES_SECTION_SILENCE, ""), 0.0, 0.0, 7.0 * p->step_s);
    add_distortion(side, p);
    add_speed(side, "-middle", p->speed_s[1]);
    if (p->again) {
        add_step(add(side, ES_SECTION_LEVEL, "-again"), p->reference_hz, 0.0, 4.0 * p->step_s);
        add_azimuth(side, "-again", p->step_s + 1.0);
        add_response(side, "-again", p);
    }
    add_speed(side, "-end", p->speed_s[2]);
    (void)add(side, ES_SECTION_END, "");
}

static void copy_text(char *to, size_t room, const char *from)
{
    es_text text = es_text_over(to, room);
    es_text_add(&text, "%s", from);
}

static void build(es_programme *out, const plan *p)
{
    memset(out, 0, sizeof *out);
    copy_text(out->name, sizeof out->name, p->name);
    copy_text(out->about, sizeof out->about, p->about);
    copy_text(out->equalisation, sizeof out->equalisation, p->equalisation);
    copy_text(out->transport, sizeof out->transport, p->transport);
    out->reference_nwb_m = p->reference_nwb_m;
    out->marker_db = -10.0;
    out->broad_low_hz = 200.0;
    out->broad_high_hz = p->top_hz;
    out->side_most_s = p->side_most_s;
    out->side_count = ES_PROGRAMME_SIDES;
    for (size_t i = 0; i < out->side_count; i++)
        build_side(&out->side[i], p);
}

/* --- choosing -------------------------------------------------------------------------------- */

size_t es_programme_builtin_count(void)
{
    return PLANS;
}

const char *es_programme_builtin_name(size_t index)
{
    return index < PLANS ? plans[index].name : "";
}

const char *es_programme_builtin_about(size_t index)
{
    return index < PLANS ? plans[index].about : "";
}

es_status es_programme_builtin(size_t index, es_programme *out)
{
    build(out, &plans[index < PLANS ? index : 0]);
    return index < PLANS ? ES_OK : ES_ERR_ARG;
}

es_status es_programme_find(const char *name, es_programme *out)
{
    size_t i = 0;
    while (i < PLANS && strcmp(plans[i].name, name) != 0)
        i++;
    return es_programme_builtin(i, out);
}

es_status es_programme_of_id(unsigned id, es_programme *out)
{
    for (size_t i = 0; i < PLANS; i++) {
        build(out, &plans[i]);
        if (es_programme_id(out) == id)
            return ES_OK;
    }
    build(out, &plans[0]);
    return ES_ERR_ARG;
}
