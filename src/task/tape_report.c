/* From what was heard of each step to the figures of the record. */
#include "task/tape_inside.h"

#include "evenspool/base/text.h"
#include "evenspool/base/units.h"
#include "task/tape_report.h"

#include <math.h>
#include <string.h>

#define NONE ((double)NAN)
#define REFERENCE_HZ 10000.0 /* for treble, phase and what azimuth costs there */

const es_tape_part *es_tape_part_of(const es_tape_read *r, es_section_kind kind, size_t nth,
                                    const es_programme_section **section)
{
    const es_programme_side *side = &r->course.programme.side[r->course.side];
    for (size_t i = 0; r->course.adopted && i < side->section_count; i++)
        if (side->section[i].kind == kind && es_tape_part_is_sound(&r->part[i]) && nth-- == 0) {
            *section = &side->section[i];
            return &r->part[i];
        }
    *section = NULL;
    return NULL;
}

/* --- the reference level --------------------------------------------------------------------- */

/* Of channel c at reference level, from the first step of the kind whose level is level_db at most. */
static int reference_from(const es_tape_read *r, es_section_kind kind, size_t nth, size_t c,
                          es_tape_level *out)
{
    const es_programme_section *s;
    const es_tape_part *part = es_tape_part_of(r, kind, nth, &s);
    size_t best = ES_PROGRAMME_STEPS;
    for (size_t i = 0; part && i < s->step_count; i++)
        if (part->step[i].tone[c].known &&
            (best == ES_PROGRAMME_STEPS ||
             fabs(s->step[i].level_db) < fabs(s->step[best].level_db)))
            best = i;
    if (best == ES_PROGRAMME_STEPS)
        return 0;
    const es_tape_tone *tone = &part->step[best].tone[c];
    *out =
        (es_tape_level){.known = 1,
                        .kind = kind,
                        .amplitude_fs = tone->amplitude_fs / es_amplitude(s->step[best].level_db),
                        .u_db = tone->u_db};
    return 1;
}

/* The section for it; else what else tells it: stepped levels, the response's first tone. */
static es_tape_level reference_of(const es_tape_read *r, size_t c)
{
    es_tape_level level = {.known = 0, .amplitude_fs = NONE, .u_db = NONE};
    if (!reference_from(r, ES_SECTION_LEVEL, 0, c, &level) &&
        !reference_from(r, ES_SECTION_DISTORTION, 0, c, &level))
        (void)reference_from(r, ES_SECTION_RESPONSE, 0, c, &level);
    return level;
}

static double u95_of(double a_db, double b_db)
{
    double u = 2.0 * hypot(a_db, b_db);
    return isfinite(u) ? u : NONE;
}

static void report_levels(const es_tape_read *r, es_tape_level level[ES_TAPE_CHANNELS],
                          es_tape_result *result)
{
    for (size_t c = 0; c < r->channels; c++) {
        es_tape_channel *to = &result->channels[c];
        level[c] = reference_of(r, c);
        to->level_db = es_db(level[c].amplitude_fs);
        to->level_u95_db = u95_of(level[c].u_db, 0.0);
        to->level_error_db = to->level_db - r->config.level_dbfs;
    }
    if (r->channels < 2)
        return;
    result->balance_db = result->channels[1].level_db - result->channels[0].level_db;
    result->balance_u95_db = u95_of(level[0].u_db, level[1].u_db);
}

/* --- response ------------------------------------------------------------------------------------ */

/* dB of a step's tone re what the programme has there. */
static double heard_db(const es_tape_part *part, const es_programme_section *s, size_t i, size_t c)
{
    return es_db(part->step[i].tone[c].amplitude_fs) - s->step[i].level_db;
}

static es_tape_point point_of(const es_tape_part *part, const es_programme_section *s, size_t i,
                              size_t c)
{
    const es_tape_tone *tone = &part->step[i].tone[c], *first = &part->step[0].tone[c];
    es_tape_point p = {.hz = s->step[i].hz, .db = NONE, .u95_db = NONE};
    if (!first->known || !part->step[i].heard)
        return p;
    if (tone->known) {
        p.db = heard_db(part, s, i, c) - heard_db(part, s, 0, c);
        p.u95_db = i == 0 ? 0.0 : u95_of(tone->u_db, first->u_db);
    }
    return p;
}

/* 10 kHz, or the highest tone below it. */
static size_t treble_step(const es_programme_section *s)
{
    size_t best = 0;
    for (size_t i = 1; i < s->step_count; i++)
        if (s->step[i].hz <= REFERENCE_HZ && s->step[i].hz > s->step[best].hz)
            best = i;
    return best;
}

/* What the recording deck did, by an earlier reading of the same tape. */
static double recorded_db(const es_tape_result *recorded, size_t c, double hz)
{
    const es_tape_channel *from = &recorded->channels[c];
    for (size_t i = 0; i < from->response_count; i++)
        if (fabs(from->response[i].hz - hz) < 1e-3 * hz)
            return from->response[i].db;
    return NONE;
}

static void report_response(const es_tape_read *r, es_tape_result *result)
{
    const es_programme_section *s;
    const es_tape_part *part = es_tape_part_of(r, ES_SECTION_RESPONSE, 0, &s);
    for (size_t c = 0; part && c < r->channels; c++) {
        es_tape_channel *to = &result->channels[c];
        to->response_count = s->step_count;
        for (size_t i = 0; i < s->step_count; i++) {
            to->response[i] = point_of(part, s, i, c);
            if (result->tape_share_known)
                to->response[i].db -= recorded_db(&r->recorded, c, s->step[i].hz);
        }
        result->treble_db[c] = to->response[treble_step(s)].db;
    }
}

/* --- separation ---------------------------------------------------------------------------------- */

static double loudest(const es_tape_part *part, const es_programme_section *s, size_t c)
{
    double most = 0.0;
    for (size_t i = 0; i < s->step_count; i++)
        if (part->step[i].tone[c].known)
            most = fmax(most, part->step[i].tone[c].amplitude_fs);
    return most;
}

static es_tape_point leak_of(const es_tape_step *step, double hz, size_t from)
{
    const es_tape_tone *tone = &step->tone[from], *other = &step->tone[1 - from];
    es_tape_point p = {.hz = hz, .db = NONE, .u95_db = NONE};
    if (!tone->known)
        return p;
    p.limit = !other->known;
    p.db = es_db(tone->amplitude_fs / (p.limit ? other->floor_fs : other->amplitude_fs));
    p.u95_db = p.limit ? NONE : u95_of(tone->u_db, other->u_db);
    if (!isfinite(p.db)) /* not even noise there: a dead or digital channel */
        p.db = p.u95_db = NONE;
    return p;
}

static void report_separation(const es_tape_read *r, es_section_kind kind, size_t meant,
                              es_tape_result *result)
{
    const es_programme_section *s;
    const es_tape_part *part = es_tape_part_of(r, kind, 0, &s);
    if (!part || r->channels < 2)
        return;
    double mine = loudest(part, s, meant), others = loudest(part, s, 1 - meant);
    int swapped = others > 2.0 * mine; /* 6 dB: no head's separation is negative */
    result->swapped |= swapped;
    size_t from = swapped ? 1 - meant : meant;
    es_tape_channel *to = &result->channels[from];
    to->separation_count = s->step_count;
    for (size_t i = 0; i < s->step_count; i++)
        to->separation[i] = leak_of(&part->step[i], s->step[i].hz, from);
}

/* --- noise ------------------------------------------------------------------------------------------ */

/* Rms against the rms of a sine of that peak. */
static double re_level(double rms_fs, const es_tape_level *level)
{
    return es_db(rms_fs / (level->amplitude_fs * sqrt(0.5)));
}

static void report_hum(const es_noise_figures *f, const es_tape_level *level, es_tape_channel *to)
{
    for (size_t i = 0; i < f->line_count && i < ES_TAPE_HUM_MOST; i++) {
        es_tape_hum hum = {.hz = f->line[i].hz,
                           .db = re_level(f->line[i].rms_fs, level),
                           .mains_hz = f->line[i].mains_hz,
                           .multiple = f->line[i].multiple};
        size_t at = to->hum_count++;
        for (; at > 0 && to->hum[at - 1].db < hum.db; at--)
            to->hum[at] = to->hum[at - 1];
        to->hum[at] = hum;
    }
}

static void report_noise(const es_tape_read *r, const es_tape_level level[ES_TAPE_CHANNELS],
                         es_tape_result *result)
{
    const es_programme_section *s;
    const es_tape_part *part = es_tape_part_of(r, ES_SECTION_SILENCE, 0, &s);
    for (size_t c = 0; part && c < r->channels; c++) {
        const es_noise_figures *f = &part->noise[c];
        if (!f->known || !level[c].known || !(f->unweighted_fs > 0.0))
            continue;
        result->channels[c].noise = (es_tape_noise){
            .unweighted = re_level(f->unweighted_fs, &level[c]),
            .a = re_level(f->a_fs, &level[c]),
            .itu468 = re_level(f->itu468_fs, &level[c]),
            .itu468_peak = re_level(f->itu468_peak_fs, &level[c]),
            .u95_db = u95_of(f->u_db, level[c].u_db),
        };
        report_hum(f, &level[c], &result->channels[c]);
    }
}

/* --- distortion --------------------------------------------------------------------------------------- */

/* Level at which the third harmonic passes 3 %: straight between two steps, both in dB. */
static double level_of_3_percent(const es_tape_channel *channel)
{
    const es_tape_harmonic *h = channel->third_harmonic;
    for (size_t i = 1; i < channel->third_harmonic_count; i++)
        if (h[i - 1].percent < 3.0 && h[i].percent >= 3.0) {
            double from = es_db(h[i - 1].percent), to = es_db(h[i].percent);
            double share = (es_db(3.0) - from) / (to - from);
            return h[i - 1].heard_db + share * (h[i].heard_db - h[i - 1].heard_db);
        }
    return NONE;
}

static void report_distortion(const es_tape_read *r, const es_tape_level level[ES_TAPE_CHANNELS],
                              es_tape_result *result)
{
    const es_programme_section *s;
    const es_tape_part *part = es_tape_part_of(r, ES_SECTION_DISTORTION, 0, &s);
    for (size_t c = 0; part && c < r->channels; c++) {
        es_tape_channel *to = &result->channels[c];
        to->third_harmonic_count = s->step_count;
        for (size_t i = 0; i < s->step_count; i++) {
            const es_tape_tone *tone = &part->step[i].tone[c];
            es_tape_harmonic h = {s->step[i].level_db, NONE, NONE, NONE};
            if (tone->known && part->step[i].heard) {
                h.heard_db = es_db(tone->amplitude_fs / level[c].amplitude_fs);
                h.percent = 100.0 * tone->third;
                h.floor_percent = 100.0 * tone->third_floor;
            }
            to->third_harmonic[i] = h;
        }
        to->level_3_percent_db = level_of_3_percent(to);
    }
}

/* --- along the side ------------------------------------------------------------------------------------ */

static void report_again(const es_tape_read *r, es_tape_result *result)
{
    es_tape_again *again = &result->again;
    const es_programme_section *s;
    const es_tape_part *part = es_tape_part_of(r, ES_SECTION_RESPONSE, 1, &s);
    for (size_t c = 0; c < r->channels; c++) {
        es_tape_level level;
        if (reference_from(r, ES_SECTION_LEVEL, 1, c, &level))
            again->level_db[c] = es_db(level.amplitude_fs) - result->channels[c].level_db;
        if (!part || result->tape_share_known)
            continue;
        again->treble_db[c] = point_of(part, s, treble_step(s), c).db - result->treble_db[c];
    }
    es_delay_figures first = es_tape_delay_of(r, 0), later = es_tape_delay_of(r, 1);
    if (first.known && later.known)
        again->delay_us = 1e6 * (later.delay_s - first.delay_s);
}

/* --- all of it --------------------------------------------------------------------------------------------- */

static void blank(const es_tape_read *r, es_tape_result *result)
{
    result->played_speed = result->balance_db = result->balance_u95_db = NONE;
    result->azimuth = (es_tape_azimuth){0, NONE, NONE, 0, NONE, NONE, NONE, NONE, NONE};
    result->channel_count = r->channels;
    result->again.delay_us = NONE;
    for (size_t c = 0; c < ES_TAPE_CHANNELS; c++) {
        es_tape_channel *to = &result->channels[c];
        to->level_db = to->level_u95_db = to->level_error_db = to->level_3_percent_db = NONE;
        to->noise = (es_tape_noise){NONE, NONE, NONE, NONE, NONE};
        to->clipped_percent = NONE;
        to->dropouts = (es_tape_dropouts){0.0, NONE, NONE, NONE};
        result->treble_db[c] = result->again.level_db[c] = result->again.treble_db[c] = NONE;
    }
}

static void report_capture(const es_tape_read *r, es_tape_result *result)
{
    double full = 0.0;
    for (size_t c = 0; c < r->channels; c++) {
        double share = r->frames ? 100.0 * (double)r->full_scale[c] / (double)r->frames : NONE;
        result->channels[c].clipped_percent = share;
        result->channels[c].dropouts = es_tape_dropouts_of(&r->dropouts, c);
        full = fmax(full, share);
    }
    result->capture = (es_capture_facts){.samplerate_hz = (int)r->config.rate_hz,
                                         .channels = r->config.channels,
                                         .duration_s = (double)r->frames / r->config.rate_hz,
                                         .bits = r->config.bits,
                                         .clipped_percent = r->frames ? full : NONE};
}

static void report_sections(const es_tape_read *r, es_tape_result *result)
{
    const es_programme_side *side = &r->course.programme.side[r->course.side];
    result->section_count = side->section_count;
    for (size_t i = 0; i < side->section_count; i++) {
        const es_programme_section *s = &side->section[i];
        const es_tape_part *part = &r->part[i];
        es_tape_section *to = &result->sections[i];
        memcpy(to->name, s->name, sizeof to->name);
        to->kind = s->kind;
        to->start_s = part->start_s;
        to->end_s = part->end_s;
        to->marker = part->marker;
        to->step_count = s->step_count;
        to->steps_heard = part->steps_heard;
        to->error_percent =
            part->speed > 0.0 ? 100.0 * es_tape_error_of(r, part->speed) : (double)NAN;
        to->found = es_tape_part_is_sound(part) || (s->kind == ES_SECTION_END && part->marker);
    }
}

static void report_programme(const es_tape_read *r, es_tape_result *result)
{
    const es_programme *p = &r->course.programme;
    memcpy(result->programme, p->name, sizeof result->programme);
    memcpy(result->transport, p->transport, sizeof result->transport);
    memcpy(result->equalisation, p->equalisation, sizeof result->equalisation);
    result->programme_id = r->course.id;
    result->side = (int)r->course.side + 1;
    result->recorded_here = r->config.recorded_here;
    result->tape_share_known = r->config.recorded != NULL;
}

static double played_speed(const es_tape_course *c)
{
    double way_s = c->run_tape_s + c->anchor_tape_s - c->first_tape_s;
    double took_s = c->run_s + c->anchor_s - c->first_s;
    return way_s > 0.0 && took_s > 0.0 ? way_s / took_s : c->speed;
}

static void report_speed(es_tape_read *r, es_tape_result *result)
{
    es_error unheard = {0};
    result->speed_known = es_check_finish(r->check, &result->check, &unheard) == ES_OK;
    if (!result->speed_known)
        memset(&result->check, 0, sizeof result->check);
}

void es_tape_report_heard(const es_tape_read *r, es_tape_level level[ES_TAPE_CHANNELS],
                          es_tape_result *result)
{
    blank(r, result);
    report_capture(r, result);
    if (!r->course.adopted)
        return;
    report_programme(r, result);
    report_sections(r, result);
    result->played_speed = played_speed(&r->course);
    report_levels(r, level, result);
    report_response(r, result);
    report_separation(r, ES_SECTION_LEFT_ONLY, 0, result);
    report_separation(r, ES_SECTION_RIGHT_ONLY, 1, result);
    report_noise(r, level, result);
    report_distortion(r, level, result);
    es_tape_report_azimuth(r, result);
    report_again(r, result);
    for (size_t c = 0; c < r->channels; c++)
        result->channels[c].heard = level[c].known;
}

void es_tape_report(es_tape_read *r, es_tape_result *result)
{
    es_tape_level level[ES_TAPE_CHANNELS];
    es_tape_report_heard(r, level, result);
    result->warnings = r->warnings;
    if (r->gaps)
        es_tape_report_gaps(r, result);
    if (!r->course.adopted)
        return;
    report_speed(r, result);
    es_tape_report_words(r, level, result);
}
