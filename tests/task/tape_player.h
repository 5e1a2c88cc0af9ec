/*
 * A tape machine for tests: plays a side of a programme's sound with faults that are known exactly into
 * a reader. Sound between frames by a windowed sinc (64 taps, Kaiser 9: 90 dB).
 */
#ifndef ES_TESTS_TAPE_PLAYER_H
#define ES_TESTS_TAPE_PLAYER_H

#include "cm.h"

#include <stdlib.h>
#include <string.h>

#include "evenspool/base/units.h"
#include "evenspool/task/programme_sound.h"
#include "evenspool/task/tape_read.h"

#define PLAY_RATE 32000
#define PLAY_TAPS 64
#define PLAY_PHASES 1024

typedef struct tape_fault {
    double speed;                /* played / nominal; 0: 1                          */
    double wow, wow_hz;          /* peak [fraction of the speed]                    */
    double delay_s;              /* right later                                     */
    double gain_db[2];           /* left, right                                     */
    double leak_db[2];           /* left into right, right into left; 0: none       */
    double fade_db_per_s;        /* of the tape                                     */
    double noise_fs;             /* rms, white, in both channels, unlike            */
    double hum_fs[2], hum_hz[2]; /* peaks, in both channels                         */
    double cubic;                /* y = x - cubic x^3                               */
    double lowpass;              /* y[n] = y[n-1] + lowpass (x[n] - y[n-1]); 0: none */
    double clip_fs;              /* 0: none                                         */
    int opposed, swapped;        /* right upside down; channels crossed             */
    int dead;                    /* 1 left, 2 right carries only noise              */
    int mono;                    /* one channel, the left one                       */
    double from_s, to_s;         /* of the tape; to_s 0: to its end                 */
    double stop_s, resume_s;     /* of the tape: played to stop_s, goes on at resume_s; 0: not */
    double mute[4][2];           /* of the tape: silent from .. to                  */
    double drop_every_s, drop_s; /* dropouts of 20 dB                               */
} tape_fault;

typedef struct tape_player {
    float *sound; /* the whole side: left, then right */
    size_t frames;
    double taps[PLAY_PHASES + 1][PLAY_TAPS];
} tape_player;

static inline double play_i0(double x)
{
    double sum = 1.0, term = 1.0;
    for (int k = 1; k < 60; k++) {
        term *= (x / 2.0) / k;
        sum += term * term;
    }
    return sum;
}

static inline void play_make_taps(tape_player *p)
{
    for (int f = 0; f <= PLAY_PHASES; f++)
        for (int k = 0; k < PLAY_TAPS; k++) {
            double x = k - (PLAY_TAPS / 2 - 1) - (double)f / PLAY_PHASES;
            double edge = x / (PLAY_TAPS / 2), window = 1.0 - edge * edge;
            double sinc = fabs(x) < 1e-12 ? 1.0 : sin(ES_PI * x) / (ES_PI * x);
            p->taps[f][k] = window > 0.0 ? sinc * play_i0(9.0 * sqrt(window)) / play_i0(9.0) : 0.0;
        }
}

static inline tape_player *play_load(const es_programme *programme, size_t side)
{
    es_programme_sound *sound;
    es_programme_sound_config config = es_programme_sound_defaults();
    es_error error = {0};
    config.rate_hz = PLAY_RATE;
    config.side = side;
    if (es_programme_sound_create(programme, &config, &sound, &error) != ES_OK)
        fail_msg("%s", error.text);
    tape_player *p = calloc(1, sizeof *p);
    p->frames = (size_t)es_programme_sound_length(sound);
    p->sound = calloc(2 * p->frames, sizeof *p->sound);
    for (size_t i = 0; i < p->frames; i++) {
        float stereo[2];
        es_programme_sound_render(sound, stereo, 1);
        p->sound[i] = stereo[0];
        p->sound[p->frames + i] = stereo[1];
    }
    es_programme_sound_destroy(sound);
    play_make_taps(p);
    return p;
}

static inline void play_unload(tape_player *p)
{
    if (p)
        free(p->sound);
    free(p);
}

/* The sound at a place of the tape [frames]. */
static inline double play_at(const tape_player *p, double place, int channel)
{
    double whole = floor(place), fraction = (place - whole) * PLAY_PHASES;
    long first = (long)whole - (PLAY_TAPS / 2 - 1);
    if (first < 0 || first + PLAY_TAPS >= (long)p->frames)
        return 0.0;
    int f = (int)fraction;
    double rest = fraction - f, low[4] = {0.0}, high[4] = {0.0};
    const float *at = p->sound + (size_t)channel * p->frames + first;
    if (rest == 0.0 && f == 0)
        return (double)at[PLAY_TAPS / 2 - 1];
    for (int k = 0; k < PLAY_TAPS; k += 4) /* four sums side by side */
        for (int j = 0; j < 4; j++) {
            double x = (double)at[k + j];
            low[j] += x * p->taps[f][k + j];
            high[j] += x * p->taps[f + 1][k + j];
        }
    double below = low[0] + low[1] + low[2] + low[3], above = high[0] + high[1] + high[2] + high[3];
    return below + rest * (above - below);
}

/* Four even numbers out of one: near enough to a Gaussian of variance 1. */
static inline double play_noise(uint64_t *state)
{
    *state = *state * 6364136223846793005u + 1442695040888963407u;
    uint64_t x = *state ^ *state >> 29;
    double sum = (double)(x & 0xFFFF) + (double)(x >> 16 & 0xFFFF) + (double)(x >> 32 & 0xFFFF) +
                 (double)(x >> 48);
    return (sum / 65535.0 - 2.0) * 1.7320508075688772;
}

static inline int play_muted(const tape_fault *f, double tape_s)
{
    for (int i = 0; i < 4; i++)
        if (tape_s >= f->mute[i][0] && tape_s < f->mute[i][1])
            return 1;
    return 0;
}

/* What the heads and amplifiers of channel c make of both tracks, without noise. */
static inline double play_channel(const tape_player *p, const tape_fault *f, double tape_s, int c)
{
    double place = tape_s * PLAY_RATE, own;
    int track = f->swapped ? 1 - c : c;
    if (f->dead == c + 1 || play_muted(f, tape_s))
        return 0.0;
    if (c == 1)
        place -= f->delay_s * PLAY_RATE * (f->speed != 0.0 ? f->speed : 1.0);
    own = play_at(p, place, track);
    if (f->leak_db[1 - c] != 0.0)
        own += es_amplitude(f->leak_db[1 - c]) * play_at(p, place, 1 - track);
    double db = f->gain_db[c] + f->fade_db_per_s * tape_s;
    own *= (db != 0.0 ? es_amplitude(db) : 1.0) * (c == 1 && f->opposed ? -1.0 : 1.0);
    return own - f->cubic * own * own * own;
}

/* Plays into a push function block by block. */
typedef void play_push(void *who, const float *frames, size_t count);

static inline void play_tape(const tape_player *p, const tape_fault *f, size_t block,
                             play_push *push, void *who)
{
    double speed = f->speed != 0.0 ? f->speed : 1.0, tape_s = f->from_s, low[2] = {0.0, 0.0};
    double end_s = f->to_s != 0.0 ? f->to_s : (double)p->frames / PLAY_RATE;
    size_t channels = f->mono ? 1 : 2, filled = 0, anchor = 0;
    double anchor_s = f->from_s; /* without wow: no sum of roundings */
    int wound = 0;
    float *room = calloc(block * 2, sizeof *room);
    uint64_t noise = 20260501;
    for (size_t n = 0; tape_s < end_s; n++) {
        double now_s = (double)n / PLAY_RATE;
        int drop =
            f->drop_s > 0.0 && fmod(now_s + 0.5 * f->drop_every_s, f->drop_every_s) < f->drop_s;
        for (size_t c = 0; c < channels; c++) {
            double x = play_channel(p, f, tape_s, (int)c) * (drop ? 0.1 : 1.0);
            for (int i = 0; i < 2 && f->hum_fs[i] > 0.0; i++)
                x += f->hum_fs[i] * sin(ES_TWO_PI * f->hum_hz[i] * now_s);
            if (f->noise_fs > 0.0)
                x += f->noise_fs * play_noise(&noise);
            if (f->lowpass > 0.0)
                x = low[c] += f->lowpass * (x - low[c]);
            if (f->clip_fs > 0.0)
                x = fmin(fmax(x, -f->clip_fs), f->clip_fs) / f->clip_fs;
            room[filled * channels + c] = (float)x;
        }
        if (++filled == block) {
            push(who, room, filled);
            filled = 0;
        }
        double wow = f->wow != 0.0 ? f->wow * sin(ES_TWO_PI * f->wow_hz * now_s) : 0.0;
        double next_s = f->wow != 0.0 ? tape_s + speed * (1.0 + wow) / PLAY_RATE
                                      : anchor_s + (double)(n + 1 - anchor) * speed / PLAY_RATE;
        if (!wound && f->stop_s > 0.0 && next_s >= f->stop_s) {
            next_s = anchor_s = f->resume_s;
            anchor = n + 1;
            wound = 1;
        }
        tape_s = next_s;
    }
    push(who, room, filled);
    free(room);
}

static inline void play_into_reader(void *who, const float *frames, size_t count)
{
    es_tape_read_push(who, frames, count);
}

static inline es_status play_read(const tape_player *p, const tape_fault *f,
                                  const es_tape_read_config *asked, size_t block,
                                  es_tape_result *result, es_error *error)
{
    es_tape_read *read;
    es_tape_read_config config = *asked;
    config.rate_hz = PLAY_RATE;
    config.channels = f->mono ? 1 : 2;
    memset(error, 0, sizeof *error);
    if (es_tape_read_create(&config, &read, error) != ES_OK)
        fail_msg("%s", error->text);
    play_tape(p, f, block, play_into_reader, read);
    es_status status = es_tape_read_finish(read, result, error);
    es_tape_read_destroy(read);
    return status;
}

/* --- a programme that has everything in two minutes --------------------------------------------- */

static inline es_programme_section *play_section(es_programme_side *side, es_section_kind kind,
                                                 const char *name)
{
    es_programme_section *s = &side->section[side->section_count++];
    memset(s, 0, sizeof *s);
    s->kind = kind;
    memcpy(s->name, name, strlen(name) + 1);
    return s;
}

static inline void play_steps(es_programme_section *s, const double *hz, size_t count,
                              double level_db, double seconds)
{
    for (size_t i = 0; i < count; i++)
        s->step[s->step_count++] = (es_programme_step){hz[i], level_db, seconds};
}

static inline void play_build(es_programme *p)
{
    static const double speed[] = {3150}, level[] = {315}, tones[] = {1000, 3150, 6300, 10000};
    static const double ladder[] = {315, 125, 1000, 4000, 8000, 10000, 12500}, one[] = {1000, 6300};
    static const double steps_db[] = {-3, 0, 3, 6}, none[] = {0};
    memset(p, 0, sizeof *p);
    memcpy(p->name, "bench", 6);
    memcpy(p->transport, "cassette", 9);
    memcpy(p->equalisation, "120", 4);
    p->reference_nwb_m = 250.0;
    p->marker_db = -10.0;
    p->broad_low_hz = 200.0;
    p->broad_high_hz = 12500.0;
    p->side_most_s = 1800.0;
    p->side_count = 2;
    es_programme_side *a = &p->side[0], *b = &p->side[1];
    play_steps(play_section(a, ES_SECTION_LEADER, "leader"), none, 1, 0.0, 1.0);
    play_steps(play_section(a, ES_SECTION_SPEED, "speed"), speed, 1, -6.0, 16.0);
    play_steps(play_section(a, ES_SECTION_LEVEL, "level"), level, 1, 0.0, 3.0);
    play_steps(play_section(a, ES_SECTION_AZIMUTH_TONES, "azimuth-tones"), tones, 4, -10.0, 3.0);
    play_steps(play_section(a, ES_SECTION_AZIMUTH_BROADBAND, "azimuth"), none, 1, -20.0, 5.0);
    play_steps(play_section(a, ES_SECTION_RESPONSE, "response"), ladder, 7, -20.0, 2.5);
    play_steps(play_section(a, ES_SECTION_LEFT_ONLY, "left"), one, 2, -10.0, 2.5);
    play_steps(play_section(a, ES_SECTION_RIGHT_ONLY, "right"), one, 2, -10.0, 2.5);
    play_steps(play_section(a, ES_SECTION_SILENCE, "silence"), none, 1, 0.0, 7.0);
    es_programme_section *d = play_section(a, ES_SECTION_DISTORTION, "distortion");
    for (size_t i = 0; i < COUNT(steps_db); i++)
        play_steps(d, level, 1, steps_db[i], 2.5);
    (void)play_section(a, ES_SECTION_END, "end");
    play_steps(play_section(b, ES_SECTION_LEVEL, "level"), level, 1, 0.0, 3.0);
    play_steps(play_section(b, ES_SECTION_RESPONSE, "response"), ladder, 3, -20.0, 2.5);
    play_steps(play_section(b, ES_SECTION_LEVEL, "level-again"), level, 1, 0.0, 3.0);
    play_steps(play_section(b, ES_SECTION_RESPONSE, "response-again"), ladder, 3, -20.0, 2.5);
    (void)play_section(b, ES_SECTION_END, "end");
}

#endif
