/* Where the tape stands: markers tie the programme's plan to the capture; between them it goes by speed. */
#include "task/tape_inside.h"

#include <math.h>
#include <string.h>

#define GUARD_S 0.1       /* of a step's beginning and end left out ...                 */
#define GUARD_GROWS 0.002 /* ... and so much more per second since the last marker ... */
#define GUARD_SHARE 0.25  /* ... but never more of a step than this                     */
#define PAIR_S 10.0       /* markers farther apart than this tell the speed between them */
#define ASTRAY 0.006      /* a speed that far from the marker's own is none              */
#define JUMP_S 0.4        /* a marker that much off, and ...                             */
#define JUMP_GROWS 0.004  /* ... so much per second more: the tape was stopped or wound  */
#define JUMP_PAIRED 0.001 /* when the speed is known better than by one marker           */

const es_programme_section *es_tape_section_of(const es_tape_read *r, size_t section)
{
    return &r->course.programme.side[r->course.side].section[section];
}

static size_t section_count(const es_tape_read *r)
{
    return r->course.programme.side[r->course.side].section_count;
}

double es_tape_course_time(const es_tape_course *c, double tape_s)
{
    return c->anchor_s + (tape_s - c->anchor_tape_s) / c->speed;
}

/* --- which programme --------------------------------------------------------------------- */

static int programme_known(es_tape_read *r, unsigned id)
{
    es_programme *to = &r->course.programme;
    if (r->config.programme && es_programme_id(&r->given) == id) {
        *to = r->given;
        return 1;
    }
    return es_programme_of_id(id, to) == ES_OK;
}

/* The first tone for speed sets what is followed; a section with another one is passed over. */
static void aim_check(es_tape_read *r)
{
    es_transport_class transport = ES_CASSETTE;
    (void)es_transport_from_name(r->course.programme.transport, &transport);
    es_geometry geometry = r->config.geometry ? r->geometry : es_geometry_defaults(transport);
    es_gate_limits gate = es_gate_defaults();
    gate.tolerance_percent = r->limits.value[ES_LIMIT_SPEED];
    gate.u95_percent = 0.5 * gate.tolerance_percent;
    gate.flutter_percent = r->limits.value[ES_LIMIT_FLUTTER];
    for (size_t i = 0; i < section_count(r) && r->check_hz == 0.0; i++) {
        const es_programme_section *s = es_tape_section_of(r, i);
        if (s->kind == ES_SECTION_SPEED &&
            es_check_aim(r->check, s->step[0].hz, ES_NOMINAL_TAPE, &geometry, &gate) == ES_OK)
            r->check_hz = s->step[0].hz;
    }
}

static void adopt(es_tape_read *r, const es_marker_code *code)
{
    es_tape_course *c = &r->course;
    if (!programme_known(r, code->programme)) {
        r->strange_id = code->programme;
        r->strange++;
        return;
    }
    if (code->side < 1 || code->side > c->programme.side_count) {
        r->foreign++;
        return;
    }
    c->adopted = 1;
    c->id = code->programme;
    c->side = code->side - 1;
    if (!r->config.limits)
        es_tape_limits_usual(c->programme.transport, &r->limits);
    aim_check(r);
}

/* --- steps in turn ------------------------------------------------------------------------ */

static int has_steps(const es_programme_section *s)
{
    return s->kind != ES_SECTION_LEADER && s->kind != ES_SECTION_END;
}

static uint64_t frame_of(const es_tape_read *r, double time_s)
{
    return time_s > 0.0 ? (uint64_t)llround(time_s * r->config.rate_hz) : 0;
}

void es_tape_course_plan(es_tape_read *r)
{
    es_tape_course *c = &r->course;
    if (c->section >= section_count(r))
        return;
    const es_programme_section *s = es_tape_section_of(r, c->section);
    double tape_s = es_programme_step_s(&c->programme, c->side, c->section, c->step);
    double lasts_s = s->step[c->step].seconds;
    double since_s = fmax(tape_s + lasts_s - c->anchor_tape_s, 0.0);
    double guard_s = fmin(GUARD_S + GUARD_GROWS * since_s, GUARD_SHARE * lasts_s);
    c->from = frame_of(r, es_tape_course_time(c, tape_s + guard_s));
    c->to = frame_of(r, es_tape_course_time(c, tape_s + lasts_s - guard_s));
    if (!c->running && c->from < r->frames)
        c->from = r->frames;
    if (c->to < c->from)
        c->to = c->from;
}

/* From the section in turn on, the first that has something to measure. */
static void seek(es_tape_read *r)
{
    es_tape_course *c = &r->course;
    while (c->section < section_count(r) && !has_steps(es_tape_section_of(r, c->section)))
        c->section++;
    c->step = 0;
    r->speed_sum = 0.0;
    r->speed_count = 0;
    es_tape_course_plan(r);
}

void es_tape_course_next(es_tape_read *r)
{
    es_tape_course *c = &r->course;
    c->running = 0;
    if (c->step + 1 < es_tape_section_of(r, c->section)->step_count) {
        c->step++;
        es_tape_course_plan(r);
        return;
    }
    c->section++;
    seek(r);
}

void es_tape_course_refine(es_tape_read *r, double speed)
{
    es_tape_course *c = &r->course;
    if (!(fabs(speed / c->speed - 1.0) < ASTRAY))
        return;
    c->speed = speed;
    es_tape_course_plan(r);
}

/* --- markers -------------------------------------------------------------------------------- */

/* Silence and the like, where the tape was stopped or wound, is not what the programme has there. */
static void distrust(es_tape_read *r, size_t from, size_t to)
{
    for (size_t i = from; i < to && i < section_count(r); i++)
        if (es_tape_section_of(r, i)->kind == ES_SECTION_SILENCE) {
            memset(r->part[i].noise, 0, sizeof r->part[i].noise);
            r->part[i].steps_heard = 0;
        }
}

/* The tape did not run through from the last marker to this one. */
static int jumped(const es_tape_course *c, double tape_s, double time_s)
{
    double off_s = fabs(time_s - es_tape_course_time(c, tape_s));
    double grows = c->paired ? JUMP_PAIRED : JUMP_GROWS;
    return !(off_s < JUMP_S + grows * fabs(tape_s - c->anchor_tape_s));
}

static void close_run(es_tape_course *c)
{
    c->run_tape_s += c->anchor_tape_s - c->first_tape_s;
    c->run_s += c->anchor_s - c->first_s;
}

static void anchor(es_tape_course *c, double tape_s, double time_s, double speed, int fresh)
{
    double way_s = tape_s - c->anchor_tape_s, pair = way_s / (time_s - c->anchor_s);
    c->paired = !fresh && way_s > PAIR_S && fabs(pair / speed - 1.0) < ASTRAY;
    c->speed = c->paired ? pair : speed;
    c->anchor_tape_s = tape_s;
    c->anchor_s = time_s;
    if (fresh) {
        c->first_tape_s = tape_s;
        c->first_s = time_s;
    }
}

/* The section that the marker opens is the next in turn, heard anew. */
static void open_section(es_tape_read *r, size_t section)
{
    es_tape_part *part = &r->part[section];
    es_section_times times = es_programme_times(&r->course.programme, r->course.side, section);
    memset(part, 0, sizeof *part);
    part->marker = 1;
    part->start_s = es_tape_course_time(&r->course, times.body_s);
    part->end_s = es_tape_course_time(&r->course, times.end_s);
    r->course.section = section;
    seek(r);
}

void es_tape_course_mark(es_tape_read *r, const es_marker_find *find)
{
    es_tape_course *c = &r->course;
    int first = !c->adopted;
    if (first)
        adopt(r, &find->code);
    if (!c->adopted)
        return;
    if (find->code.programme != c->id || find->code.section >= section_count(r)) {
        r->foreign++;
        return;
    }
    if (find->code.side != c->side + 1) {
        r->other_side++;
        return;
    }
    size_t section = find->code.section, before = c->anchor_section;
    es_section_times times = es_programme_times(&c->programme, c->side, section);
    double tape_s = times.marker_s + 0.5 * ES_MARKER_S,
           time_s = 0.5 * (find->start_s + find->end_s);
    int jump = !first && jumped(c, tape_s, time_s);
    if (c->running) /* it should have been over by now */
        es_tape_step_end(r, 1);
    if (jump) {
        r->jumps++;
        distrust(r, before, before < section ? section : before + 1);
        close_run(c);
    }
    anchor(c, tape_s, time_s, find->speed, first || jump);
    c->anchor_section = section;
    open_section(r, section);
}
