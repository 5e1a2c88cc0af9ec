#include "live/tape_play.h"

#include "evenspool/base/text.h"
#include "evenspool/task/programme_sound.h"
#include "live/desk.h"
#include "live/tape_play_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define BLOCK 1024
#define LATENCY_S 0.2
#define AHEAD_S 2.0       /* written ahead of what is played: other programs may get in the way */
#define LEVEL_AHEAD_S 0.3 /* less while it has to end when told                                 */
#define FADE_S 0.02       /* of the level tone                                                  */
#define AFTER_S 1.0       /* silence behind the side, so that all of it gets out                */
#define LEVEL_HZ 315.0    /* of a programme that has no level section                           */
#define TONE_S 7200.0
#define TONE_BACK_S 7000.0 /* whole periods of any tone of whole Hz */

struct es_tape_play {
    es_sound *borrowed; /* from the desk; NULL: the caller's */
    es_output *output;
    es_line_facts facts;
    es_programme programme;
    es_tape_play_config config;
    es_programme_sound *tone, *side;
    double level_hz;
    int64_t written;                                /* frames                    */
    int64_t tone_end, side_begin, side_end, finish; /* -1: not known yet         */
    int64_t gaps;                                   /* when the side began       */
    es_error trouble;
};

es_tape_play_config es_tape_play_defaults(void)
{
    return (es_tape_play_config){.reference_dbfs = ES_PROGRAMME_REFERENCE_DBFS};
}

/* --- the sounds ------------------------------------------------------------------------------ */

static double level_hz_of(const es_programme_side *side)
{
    for (size_t i = 0; i < side->section_count; i++)
        if (side->section[i].kind == ES_SECTION_LEVEL)
            return side->section[i].step[0].hz;
    return LEVEL_HZ;
}

/* The reference level as the programme itself would have it, for as long as wanted. */
static es_status make_tone(es_tape_play *p, es_error *error)
{
    static const es_programme_side empty;
    es_programme level = p->programme;
    es_programme_side *side = &level.side[0];
    level.side_most_s = 2.0 * TONE_S;
    level.side_count = 1;
    *side = empty;
    side->section_count = 2;
    side->section[0] = (es_programme_section){.kind = ES_SECTION_LEVEL,
                                              .name = "level",
                                              .step_count = 1,
                                              .step = {{p->level_hz, 0.0, TONE_S}}};
    side->section[1] = (es_programme_section){.kind = ES_SECTION_END, .name = "end"};
    es_programme_sound_config config = {.rate_hz = p->facts.rate_hz,
                                        .reference_dbfs = p->config.reference_dbfs};
    es_status status = es_programme_sound_create(&level, &config, &p->tone, error);
    if (status == ES_OK) /* beyond the marker and the soft edge; the tone is faded here */
        es_programme_sound_seek(
            p->tone, llround((es_programme_times(&level, 0, 0).body_s + 1.0) * p->facts.rate_hz));
    return status;
}

static es_status make_sounds(es_tape_play *p, es_error *error)
{
    es_programme_sound_config config = {.rate_hz = p->facts.rate_hz,
                                        .side = p->config.side,
                                        .reference_dbfs = p->config.reference_dbfs};
    es_status status = es_programme_sound_create(&p->programme, &config, &p->side, error);
    if (status != ES_OK)
        return status;
    p->level_hz = level_hz_of(&p->programme.side[p->config.side]);
    return make_tone(p, error);
}

/* --- life ------------------------------------------------------------------------------------ */

static es_status open_output(es_tape_play *p, es_sound *sound, es_error *error)
{
    es_output_settings settings = es_output_defaults();
    settings.rate_hz = p->config.rate_hz;
    settings.latency_s = LATENCY_S;
    settings.ahead_s = AHEAD_S;
    settings.stereo = 1;
    es_status status = es_output_open(sound, p->config.output, &settings, &p->output, error);
    if (status != ES_OK)
        return status;
    p->facts = es_output_facts(p->output);
    status = make_sounds(p, error);
    return status == ES_OK ? es_output_start(p->output, error) : status;
}

es_status es_tape_play_on(es_sound *sound, const es_programme *programme,
                          const es_tape_play_config *config, es_tape_play **out, es_error *error)
{
    *out = NULL;
    es_status status = es_programme_check(programme, NULL, error);
    if (status != ES_OK)
        return status;
    es_tape_play *p = calloc(1, sizeof *p);
    if (!p)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory for sound.");
    p->programme = *programme;
    p->config = *config;
    p->tone_end = p->side_begin = p->side_end = p->finish = -1;
    status = open_output(p, sound, error);
    if (status == ES_OK)
        *out = p;
    else
        es_tape_play_close(p);
    return status;
}

es_status es_tape_play_open(const es_programme *programme, const es_tape_play_config *config,
                            es_tape_play **out, es_error *error)
{
    *out = NULL;
    es_sound *sound;
    es_status status = es_desk_borrow(&sound, error);
    if (status != ES_OK)
        return status;
    status = es_tape_play_on(sound, programme, config, out, error);
    if (status == ES_OK)
        (*out)->borrowed = sound;
    else
        es_desk_return(sound);
    return status;
}

void es_tape_play_close(es_tape_play *p)
{
    if (!p)
        return;
    es_output_close(p->output);
    es_desk_return(p->borrowed);
    es_programme_sound_destroy(p->tone);
    es_programme_sound_destroy(p->side);
    free(p);
}

const char *es_tape_play_output(const es_tape_play *p)
{
    return p->facts.name;
}

double es_tape_play_rate(const es_tape_play *p)
{
    return p->facts.rate_hz;
}

double es_tape_play_level_hz(const es_tape_play *p)
{
    return p->level_hz;
}

/* --- what is written ---------------------------------------------------------------------------- */

static int64_t frames_of(const es_tape_play *p, double seconds)
{
    return llround(seconds * p->facts.rate_hz);
}

void es_tape_play_go(es_tape_play *p)
{
    if (p->tone_end >= 0)
        return;
    p->tone_end = p->written > 0 ? p->written + frames_of(p, FADE_S) : 0; /* 0: nothing to fade */
    p->side_begin = p->tone_end + frames_of(p, ES_TAPE_COUNT_S);
    p->side_end = p->side_begin + es_programme_sound_length(p->side);
    p->finish = p->side_end + frames_of(p, AFTER_S);
}

/* Of the level tone at a frame: in and out within FADE_S. */
static double tone_gain(const es_tape_play *p, int64_t frame)
{
    double fade = FADE_S * p->facts.rate_hz, gain = fmin(1.0, (double)frame / fade);
    return p->tone_end < 0 ? gain : fmin(gain, (double)(p->tone_end - frame) / fade);
}

static void render_tone(es_tape_play *p, float *frames, size_t count)
{
    es_programme_sound_render(p->tone, frames, count);
    for (size_t i = 0; i < count; i++) {
        double gain = tone_gain(p, p->written + (int64_t)i);
        frames[2 * i] = (float)(gain * (double)frames[2 * i]);
        frames[2 * i + 1] = (float)(gain * (double)frames[2 * i + 1]);
    }
    int64_t at = es_programme_sound_tell(p->tone);
    if (at > frames_of(p, TONE_BACK_S + 60.0))
        es_programme_sound_seek(p->tone, at - frames_of(p, TONE_BACK_S));
}

/* Up to count frames, but none beyond the next change; 0: all is written. */
static size_t render(es_tape_play *p, float *frames, size_t count)
{
    int64_t at = p->written;
    int64_t until = p->tone_end < 0 || at < p->tone_end ? p->tone_end
                    : at < p->side_begin                ? p->side_begin
                    : at < p->side_end                  ? p->side_end
                                                        : p->finish;
    if (until >= 0 && until - at < (int64_t)count)
        count = (size_t)(until - at);
    if (until == p->tone_end)
        render_tone(p, frames, count);
    else if (until == p->side_end)
        es_programme_sound_render(p->side, frames, count);
    else
        memset(frames, 0, 2 * count * sizeof *frames);
    return count;
}

static size_t room_now(const es_tape_play *p)
{
    size_t room = es_output_room(p->output), waiting = es_output_waiting(p->output);
    size_t ahead = (size_t)frames_of(p, LEVEL_AHEAD_S);
    if (p->tone_end >= 0)
        return room;
    return waiting < ahead ? ahead - waiting : 0;
}

static void fill(es_tape_play *p)
{
    float frames[2 * BLOCK];
    for (size_t room = room_now(p); room > 0;) {
        size_t count = render(p, frames, room < BLOCK ? room : BLOCK);
        if (count == 0)
            return;
        es_output_write(p->output, frames, count);
        p->written += (int64_t)count;
        room -= count;
    }
}

/* --- what is heard -------------------------------------------------------------------------------- */

static void look_for_trouble(es_tape_play *p, int64_t heard)
{
    if (es_output_watch(p->output) == ES_LINE_LOST) {
        es_fail(&p->trouble, ES_ERR_DEVICE, "device-gone",
                "%s has vanished. Connect it again, wind the tape back, and record the side again "
                "from the start.",
                p->facts.name);
        return;
    }
    int64_t gaps = es_output_missed(p->output) + es_output_ran_dry(p->output);
    if (p->side_begin < 0 || heard < p->side_begin || heard >= p->side_end) {
        p->gaps = gaps;
    } else if (gaps != p->gaps) {
        char at[16];
        es_text time = es_text_over(at, sizeof at);
        es_text_add(&time, "%.0f s", (double)(heard - p->side_begin) / p->facts.rate_hz);
        es_fail(&p->trouble, ES_ERR_DEVICE, "sound-gap",
                "The sound broke off for a moment about %s into the side. Close other programs, "
                "wind the tape back, and record the side again from the start.",
                at);
    }
}

static void tell_place(const es_tape_play *p, int64_t heard, es_tape_play_now *now)
{
    double rate_hz = p->facts.rate_hz;
    if (heard < p->side_begin) {
        now->act = ES_TAPE_COUNT;
        now->left_s = (double)(p->side_begin - heard) / rate_hz;
        return;
    }
    now->act = heard < p->finish ? ES_TAPE_SIDE : ES_TAPE_DONE;
    now->side_s =
        (double)(heard < p->side_end ? heard - p->side_begin : p->side_end - p->side_begin) /
        rate_hz;
    now->left_s = fmax(0.0, (double)(p->side_end - heard) / rate_hz);
    const es_programme_side *side = &p->programme.side[p->config.side];
    es_programme_place place = es_programme_at(&p->programme, p->config.side, now->side_s);
    now->section = place.part == ES_PART_OF_NOTHING ? side->section_count - 1 : place.section;
    now->section_left_s = fmax(
        0.0, es_programme_times(&p->programme, p->config.side, now->section).next_s - now->side_s);
}

es_tape_play_now es_tape_play_feed(es_tape_play *p)
{
    es_tape_play_now now = {.act = ES_TAPE_LEVEL, .left_s = (double)NAN};
    fill(p);
    int64_t heard = p->written - (int64_t)es_output_waiting(p->output);
    if (p->trouble.status == ES_OK && !(p->finish >= 0 && heard >= p->side_end))
        look_for_trouble(p, heard);
    if (p->tone_end >= 0 && heard >= p->tone_end)
        tell_place(p, heard, &now);
    if (p->trouble.status != ES_OK) {
        now.act = ES_TAPE_BROKEN;
        now.trouble = p->trouble;
    }
    return now;
}
