/* A tape with faults at their appointed time as the source of a tape session, and what the tests of such
 * sessions share. What is right is the programme's own plan: its levels, times and names
 * (docs/programmes.md). */
#ifndef ES_TESTS_TAPE_SESSION_HELP_H
#define ES_TESTS_TAPE_SESSION_HELP_H

#include "cm.h"
#include "evenspool/base/text.h"
#include "evenspool/task/programme_sound.h"
#include "live/tape_session_inside.h"
#include "near.h"
#include "tiny_programme.h"

#include <limits.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define RATE 48000
#define NEVER INT64_MAX

/* Bodies: speed 3.608 .. 12.608 s, level 15.616 .. 17.616, azimuth 20.624 .. 23.624, silence 26.632 ..
 * 29.632, end marker 30.032 .. 32.240, over at 32.640: markers 2.208 s, gaps 0.4 s. */
static es_programme programme = {
    TINY_PROGRAMME,
    .side = {{.section_count = 6,
              .section = {{ES_SECTION_LEADER, "leader", 1, {{0, 0, 1}}},
                          {ES_SECTION_SPEED, "speed", 1, {{3000, -6, 9}}},
                          {ES_SECTION_LEVEL, "level", 1, {{400, 0, 2}}},
                          {ES_SECTION_AZIMUTH_BROADBAND, "azimuth", 1, {{0, -10, 3}}},
                          {ES_SECTION_SILENCE, "silence", 1, {{0, 0, 3}}},
                          {ES_SECTION_END, "end", 0, {{0, 0, 0}}}}}}};
enum { LEADER, SPEED, LEVEL, AZIMUTH, SILENCE, END };

/* --- a tape with faults ------------------------------------------------------------------ */

typedef struct tape {
    es_programme_sound *sound;
    int64_t at, cut_at, over_at; /* silent from there; nothing comes any more */
    int64_t gap_at, gap, lost;   /* frames that nobody hears, and what is told of them */
    int64_t away_at;
    int away_takes, fails;
    pthread_mutex_t lock;
    pthread_cond_t change;
    int64_t stood; /* where it was when it waited last */
    int64_t until; /* as far as the test lets it play; NEVER: without bounds */
    int hold_at;   /* it stands there too, when so many takes without the device are left; 0: not */
    int waits;     /* 1: it stands there */
} tape;

static es_source_state take(void *self, float *frames, size_t room, es_taken *out, es_error *error)
{
    tape *t = self;
    if (t->at >= t->away_at && t->away_takes > 0) {
        t->away_takes--;
        return ES_SOURCE_WAITING;
    }
    if (t->at >= t->over_at)
        return t->fails ? (es_fail(error, ES_ERR_INPUT, "broken", "The file is broken."),
                           ES_SOURCE_FAILED)
                        : ES_SOURCE_ENDED;
    if (t->at >= t->gap_at) {
        t->at += t->gap;
        t->gap_at = NEVER;
        *out = (es_taken){.gap = 1, .lost = t->lost};
    }
    out->count = room;
    es_programme_sound_seek(t->sound, t->at);
    es_programme_sound_render(t->sound, frames, room);
    for (size_t i = 0; i < room; i++)
        if (t->at + (int64_t)i >= t->cut_at)
            frames[2 * i] = frames[2 * i + 1] = 0.0f;
    t->at += (int64_t)room;
    return ES_SOURCE_RUNNING;
}

static es_status give_source(void *who, es_source *out, es_error *error)
{
    (void)error;
    *out = (es_source){.self = who,
                       .rate_hz = RATE,
                       .channels = 2,
                       .paces_itself = 1,
                       .take = take,
                       .name = "Line in"};
    return ES_OK;
}

static void wait_for_test(void *who, double seconds)
{
    tape *t = who;
    (void)seconds;
    pthread_mutex_lock(&t->lock);
    t->waits = 1;
    t->stood = t->at;
    pthread_cond_broadcast(&t->change);
    while (t->at >= t->until || (t->hold_at > 0 && t->away_takes == t->hold_at))
        pthread_cond_wait(&t->change, &t->lock);
    t->waits = 0;
    pthread_mutex_unlock(&t->lock);
}

/* Returns when the tape has come there, and all until then has been worked on. */
static void let_play_until(tape *t, double seconds)
{
    pthread_mutex_lock(&t->lock);
    t->until = (int64_t)(seconds * RATE);
    pthread_cond_broadcast(&t->change);
    while (t->stood < t->until || !t->waits)
        pthread_cond_wait(&t->change, &t->lock);
    pthread_mutex_unlock(&t->lock);
}

static void let_play(tape *t)
{
    pthread_mutex_lock(&t->lock);
    t->until = NEVER;
    pthread_cond_broadcast(&t->change);
    pthread_mutex_unlock(&t->lock);
}

static tape tape_of(const es_programme *of)
{
    tape t = {.cut_at = NEVER, .over_at = NEVER, .gap_at = NEVER, .away_at = NEVER, .until = NEVER};
    es_programme_sound_config config = es_programme_sound_defaults();
    assert_int_equal(es_programme_sound_create(of, &config, &t.sound, NULL), ES_OK);
    pthread_mutex_init(&t.lock, NULL);
    pthread_cond_init(&t.change, NULL);
    return t;
}

static es_tape_session *open_tape(tape *t, const es_programme *known)
{
    es_session_ground ground = {.who = t, .wait = wait_for_test, .source = give_source};
    es_tape_session_config config = es_tape_session_defaults();
    es_error error = {0};
    es_tape_session *s;
    config.reading.programme = known;
    if (es_tape_session_open_on(&ground, &config, &s, &error) != ES_OK)
        fail_msg("%s", error.text);
    return s;
}

static void let_go(tape *t, es_tape_session *s)
{
    es_tape_session_close(s);
    es_programme_sound_destroy(t->sound);
    pthread_mutex_destroy(&t->lock);
    pthread_cond_destroy(&t->change);
}

static es_tape_listening now, last;
static es_tape_result result;

/* Plays it to its end: `last` is where it stood, `result` what came of it. */
static es_status play_out(tape *t, const es_programme *known, es_error *error)
{
    uint64_t news = 0;
    es_tape_session *s = open_tape(t, known);
    while (es_tape_session_next(s, &news, 30.0, &last) >= 0)
        ;
    es_status status = es_tape_session_result(s, &result, error);
    let_go(t, s);
    return status;
}

static const es_tape_listening *look(es_tape_session *s)
{
    uint64_t news = 0;
    es_tape_session_next(s, &news, 0.0, &now);
    return &now;
}

static inline const char *words_of(size_t at)
{
    static char room[120];
    es_tape_section_words(&now.so_far, at, room, sizeof room);
    return room;
}

/* --- what is right ------------------------------------------------------------------------ */

static void assert_all_is_read(void)
{
    assert_string_equal(result.programme, "tiny");
    assert_int_equal(result.side, 1);
    assert_int_equal(result.section_count, 6);
    for (size_t i = SPEED; i <= END; i++)
        assert_true(result.sections[i].found);
    assert_near(result.sections[LEVEL].start_s, 15.616, 0.02);
    assert_near(result.sections[SPEED].error_percent, 0.0, 0.002);
    for (size_t c = 0; c < 2; c++)
        assert_near(result.channels[c].level_db, ES_PROGRAMME_REFERENCE_DBFS, 0.01);
    assert_true(result.azimuth.known);
    assert_near(result.azimuth.delay_us, 0.0, 0.1);
}

/* --- a folder ------------------------------------------------------------------------------- */

static char folder[] = "/tmp/evenspool-tape-XXXXXX";

static void in_folder(char *room, size_t size, const char *before, const char *name)
{
    es_text text = es_text_over(room, size);
    es_text_add(&text, "%s%s/%s", before, folder, name);
}

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    static const char *const names[] = {"side.wav", "kept.wav", "side.raw"};
    char path[200];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        in_folder(path, sizeof path, "", names[i]);
        unlink(path);
    }
    return rmdir(folder);
}

#endif
