/* Measuring one step of the tape: which objects listen, and what is kept of what they say. */
#include "task/tape_inside.h"

#include <math.h>

#define SPEED_TAKEN 512
#define SPEED_LEAST ((size_t)(5.0 * ES_READINGS_HZ))

static const es_programme_step *step_of(const es_tape_read *r)
{
    return &es_tape_section_of(r, r->course.section)->step[r->course.step];
}

static es_section_kind kind_of(const es_tape_read *r)
{
    return es_tape_section_of(r, r->course.section)->kind;
}

static int has_level(es_section_kind kind)
{
    return kind == ES_SECTION_LEVEL || kind == ES_SECTION_RESPONSE ||
           kind == ES_SECTION_LEFT_ONLY || kind == ES_SECTION_RIGHT_ONLY ||
           kind == ES_SECTION_DISTORTION;
}

static int is_followed(const es_tape_read *r)
{
    return kind_of(r) == ES_SECTION_SPEED && step_of(r)->hz == r->check_hz;
}

/* Music has tones too, but seldom those that the plan wants at their times. */
int es_tape_part_is_sound(const es_tape_part *part)
{
    return part->steps_heard > 0 && 2 * part->steps_heard >= part->steps_tried;
}

/* Where the section's body lies in the capture, as far as is known now. */
static void note_times(es_tape_read *r, es_tape_part *part)
{
    const es_tape_course *c = &r->course;
    es_section_times times = es_programme_times(&c->programme, c->side, c->section);
    part->start_s = es_tape_course_time(c, times.body_s);
    part->end_s = es_tape_course_time(c, times.end_s);
}

/* --- beginning ------------------------------------------------------------------------- */

void es_tape_step_begin(es_tape_read *r)
{
    es_tape_part *part = &r->part[r->course.section];
    es_tape_step *step = &part->step[r->course.step];
    es_section_kind kind = kind_of(r);
    *step = (es_tape_step){.hz = step_of(r)->hz * r->course.speed};
    r->course.running = 1;
    note_times(r, part);
    if (kind == ES_SECTION_AZIMUTH_TONES && r->channels == 2)
        (void)es_tape_phase_tune(r->phase, step->hz);
    if (has_level(kind))
        (void)es_level_tune(r->level, step->hz);
    if (kind == ES_SECTION_AZIMUTH_BROADBAND)
        es_delay_reset(r->delay);
    if (kind == ES_SECTION_SILENCE)
        es_noise_reset(r->noise);
    if (is_followed(r)) {
        es_check_skip(r->check, r->frames - r->check_frames);
        r->check_frames = r->frames;
        es_tape_dropouts_break(&r->dropouts);
    }
}

/* --- on the way ---------------------------------------------------------------------------- */

static double known_or_0(double value)
{
    return isnan(value) ? 0.0 : value;
}

/* True speed over heard speed: what is known of the tape and of the clock. */
static double correction(const es_tape_read *r)
{
    return (1.0 + known_or_0(r->config.tape_error)) *
           (1.0 + 1e-6 * known_or_0(r->config.clock_ppm));
}

double es_tape_error_of(const es_tape_read *r, double speed)
{
    return speed * correction(r) - 1.0;
}

/* Mean speed since the section's beginning: tells better than its marker when it will end. */
static void learn_speed(es_tape_read *r)
{
    es_speed_sample samples[SPEED_TAKEN];
    double off = correction(r);
    size_t count;
    do {
        count = es_check_take_speed(r->check, samples, SPEED_TAKEN);
        for (size_t i = 0; i < count; i++)
            if (!isnan(samples[i].error)) {
                r->speed_sum += (1.0 + samples[i].error) / off;
                r->speed_count++;
            }
    } while (count == SPEED_TAKEN);
    if (r->speed_count <= SPEED_LEAST)
        return;
    r->part[r->course.section].speed = r->speed_sum / (double)r->speed_count;
    es_tape_course_refine(r, r->part[r->course.section].speed);
}

static void push_speed(es_tape_read *r, const float *stereo, size_t count)
{
    es_check_push(r->check, stereo, count);
    r->check_frames += count;
    es_tape_dropouts_push(&r->dropouts, stereo, count);
}

void es_tape_step_push(es_tape_read *r, const float *stereo, size_t count)
{
    const float *right = r->channels == 2 ? stereo + 1 : NULL;
    es_section_kind kind = kind_of(r);
    if (is_followed(r))
        push_speed(r, stereo, count);
    if (has_level(kind))
        es_level_push(r->level, stereo, right, r->channels, count);
    if (kind == ES_SECTION_SILENCE)
        es_noise_push(r->noise, stereo, right, r->channels, count);
    if (!right)
        return;
    if (kind == ES_SECTION_AZIMUTH_TONES)
        es_tape_phase_push(r->phase, stereo, right, 2, count);
    if (kind == ES_SECTION_AZIMUTH_BROADBAND)
        es_delay_push(r->delay, stereo, right, 2, count);
}

/* --- at its end ------------------------------------------------------------------------------ */

static es_tape_tone tone_of(const es_level_figures *f)
{
    return (es_tape_tone){.known = f->known,
                          .amplitude_fs = f->amplitude_fs,
                          .u_db = f->u_db,
                          .floor_fs = f->floor_fs,
                          .third = f->harmonic[3],
                          .third_floor = f->harmonic_floor[3]};
}

static void keep_level(es_tape_read *r, es_tape_step *step)
{
    for (size_t c = 0; c < r->channels; c++) {
        es_level_figures f = es_level_figures_of(r->level, (int)c);
        step->tone[c] = tone_of(&f);
        step->heard |= f.known;
        if (f.known && !r->course.paired) /* one marker alone knows the speed less well */
            es_tape_course_refine(r, f.hz / step_of(r)->hz);
    }
}

static void keep_noise(es_tape_read *r, es_tape_part *part, es_tape_step *step)
{
    for (size_t c = 0; c < r->channels; c++) {
        part->noise[c] = es_noise_figures_of(r->noise, (int)c);
        step->heard |= part->noise[c].known;
    }
}

static void keep_delay(es_tape_read *r, es_tape_part *part, es_tape_step *step)
{
    if (r->channels < 2)
        return;
    part->delay = es_delay_figures_of(r->delay);
    step->heard = part->delay.known;
}

static void keep_phase(es_tape_read *r, es_tape_step *step)
{
    if (r->channels < 2)
        return;
    step->phase = es_tape_phase_of(r->phase);
    step->heard = step->phase.known;
}

void es_tape_step_end(es_tape_read *r, int cut)
{
    es_tape_part *part = &r->part[r->course.section];
    es_tape_step *step = &part->step[r->course.step];
    es_section_kind kind = kind_of(r);
    r->course.running = 0;
    note_times(r, part);
    if (is_followed(r)) { /* the check judges by itself what is steady */
        step->heard = r->speed_count > 0;
        r->course.paired |= r->speed_count > SPEED_LEAST;
    }
    if (has_level(kind) && !cut)
        keep_level(r, step);
    if (kind == ES_SECTION_AZIMUTH_TONES && !cut)
        keep_phase(r, step);
    if (kind == ES_SECTION_AZIMUTH_BROADBAND && !cut)
        keep_delay(r, part, step);
    if (kind == ES_SECTION_SILENCE && !cut)
        keep_noise(r, part, step);
    part->steps_heard += (size_t)step->heard;
    part->steps_tried += !cut;
}

void es_tape_listen_on(es_tape_read *r)
{
    if (r->course.running && is_followed(r))
        learn_speed(r);
}
