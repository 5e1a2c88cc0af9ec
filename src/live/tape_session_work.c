/* The worker of a tape session: source -> recording, reader -> what is known so far; when it is over. */
#include "live/tape_session.h"

#include "evenspool/base/text.h"
#include "live/clock_watch_inside.h"
#include "live/measure_tape_inside.h"
#include "live/tape_session_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define BLOCK 1024 /* frames handed on at once                                          */
#define CHANNELS_MOST 64
#define TICK_S 0.005
#define AT_ONCE_S 0.25 /* of the source, before others are looked after                     */
#define TELL_S 0.25    /* of the source, between news                                       */
#define WINDOW_S 0.25
#define SOUND_FS 0.0032f   /* -50 dB: something is heard                                          */
#define NOTHING_FS 0.0005f /* -66 dB: nothing is, ...                                             */
#define NOTHING_SHARE                                                                              \
    0.003f /* ... nor 50 dB below the loudest. Common practice, no source          */
#define HEARD_LEAST_S 10.0
#define QUIET_MOST_S 30.0
#define QUIET_TOLD_S 20.0 /* before a leader is more than a leader                            */
#define OVER_MOST_S 3.0
#define GAP_MOST_S 7200.0

/* --- opening ---------------------------------------------------------------------------- */

static es_status open_source(es_tape_session *s, es_error *error)
{
    const es_tape_session_config *c = &s->config;
    if (!s->ground.source && es_source_after(c->source, "rehearse:"))
        return es_fail(error, ES_ERR_ARG, "bad-source",
                       "The rehearsal deck has no test tape; write one with \"evenspool tape "
                       "write\" and listen to file:PATH.");
    return es_session_source(&s->ground, c->source, c->unpaced, &s->sound, &s->source, error);
}

static es_status open_all(es_tape_session *s, es_error *error)
{
    es_status status = open_source(s, error);
    if (status == ES_OK) {
        es_tape_read_config config =
            es_measure_tape_config(&s->config.reading, s->source.rate_hz, s->source.channels);
        status = es_tape_read_create(&config, &s->read, error);
    }
    if (status == ES_OK)
        status = es_session_keeper(&s->source, s->config.record_path, s->config.record_replace,
                                   s->config.unpaced, &s->keeper, error);
    s->frames = calloc(BLOCK * CHANNELS_MOST, sizeof *s->frames);
    if (status == ES_OK && !s->frames)
        status = es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to listen.");
    return status;
}

/* The caller of es_tape_session_open() waits for this. */
static void tell_opened(es_tape_session *s, es_status status, const es_error *error)
{
    pthread_mutex_lock(&s->lock);
    s->opening = *error;
    s->opening.status = status;
    s->now.rate_hz = s->source.rate_hz;
    s->now.channels = s->source.channels;
    memcpy(s->now.device, s->source.name, sizeof s->now.device);
    s->now.news++;
    s->opened = 1;
    pthread_cond_broadcast(&s->news);
    pthread_mutex_unlock(&s->lock);
}

/* --- what is told --------------------------------------------------------------------------- */

/* Leader, response and silence are soft by themselves: only at the reference it is the knob. */
static const char *level_words(const es_tape_session *s, const es_tape_result *so_far, size_t index)
{
    int clipped = 0;
    for (int i = 0; i < ES_LEVEL_PARTS; i++)
        clipped |= s->level.clipped[i];
    es_section_kind kind =
        index < so_far->section_count ? so_far->sections[index].kind : ES_SECTION_END;
    int loud = kind == ES_SECTION_LEVEL || kind == ES_SECTION_SPEED;
    int nothing = so_far->side == 0 && s->quiet.quiet_s >= QUIET_TOLD_S;
    return loud || clipped || nothing ? es_level_words(&s->level) : "";
}

static void tell(es_tape_session *s)
{
    es_tape_now stands = es_tape_read_now(s->read);
    pthread_mutex_lock(&s->lock);
    es_tape_listening *now = &s->now;
    es_tape_read_so_far(s->read, &now->so_far);
    now->frames = s->heard;
    now->time_s = stands.time_s;
    now->left_s = stands.left_s;
    now->error_percent = 100.0 * stands.error;
    now->index = stands.index;
    now->measuring = stands.section[0] != '\0';
    now->strange_id = stands.strange_id;
    es_text words = es_text_over(now->level_words, sizeof now->level_words);
    es_text_add(&words, "%s",
                now->phase == ES_SESSION_WAITING ? "" : level_words(s, &now->so_far, now->index));
    now->news++;
    pthread_cond_broadcast(&s->news);
    pthread_mutex_unlock(&s->lock);
    s->told = s->heard;
    s->told_index = stands.index;
}

static void say(es_tape_session *s, es_session_phase phase, es_status status, const char *sentence)
{
    pthread_mutex_lock(&s->lock);
    s->now.phase = phase;
    s->now.status = status;
    es_text text = es_text_over(s->now.sentence, sizeof s->now.sentence);
    es_text_add(&text, "%s", sentence);
    s->now.news++;
    pthread_cond_broadcast(&s->news);
    pthread_mutex_unlock(&s->lock);
}

/* --- one block --------------------------------------------------------------------------- */

static void take_gap(es_tape_session *s, int64_t lost)
{
    double most = GAP_MOST_S * s->source.rate_hz;
    int64_t known = lost > 0 ? lost : 0;
    es_tape_read_gap(s->read, (double)known < most ? (size_t)known : (size_t)most);
    if (s->keeper)
        es_keeper_gap(s->keeper, lost);
    pthread_mutex_lock(&s->lock);
    s->now.gaps++;
    s->now.lost_frames += (uint64_t)known;
    pthread_mutex_unlock(&s->lock);
}

static int in_silence(const es_tape_session *s)
{
    const es_tape_listening *now = &s->now; /* written by this thread only */
    return now->index < now->so_far.section_count &&
           now->so_far.sections[now->index].kind == ES_SECTION_SILENCE;
}

static void close_window(es_tape_session *s)
{
    es_tape_quiet *q = &s->quiet;
    q->loudest = fmaxf(q->loudest, q->peak);
    int quiet = q->peak < fmaxf(NOTHING_FS, NOTHING_SHARE * q->loudest);
    q->heard_s += q->peak >= SOUND_FS ? WINDOW_S : 0.0;
    q->quiet_s = quiet && !in_silence(s) ? q->quiet_s + WINDOW_S : 0.0;
    q->at = 0;
    q->peak = 0.0f;
}

static void watch_quiet(es_tape_session *s, size_t count)
{
    es_tape_quiet *q = &s->quiet;
    size_t samples = count * (size_t)s->source.channels;
    for (size_t i = 0; i < samples; i++)
        q->peak = fmaxf(q->peak, fabsf(s->frames[i])); /* fmaxf passes over NaN */
    q->at += count;
    if (q->at >= q->window_frames)
        close_window(s);
}

static void take_frames(es_tape_session *s, size_t count)
{
    if (s->keeper)
        es_keeper_push(s->keeper, s->frames, count);
    es_level_watch_push(&s->level, s->frames, count, s->source.channels, 0);
    es_tape_read_push(s->read, s->frames, count);
    s->heard += count;
    watch_quiet(s, count);
    if ((double)(s->heard - s->told) >= TELL_S * s->source.rate_hz ||
        es_tape_read_now(s->read).index != s->told_index)
        tell(s);
}

/* --- what the source has ------------------------------------------------------------------- */

/* Frames that may be taken now. */
static int64_t due(const es_tape_session *s)
{
    int64_t most = (int64_t)(AT_ONCE_S * s->source.rate_hz);
    if (s->config.unpaced || s->source.paces_itself)
        return most;
    double since_s = es_system_clock_now_s(NULL) - s->begun_s;
    int64_t late = (int64_t)(since_s * s->source.rate_hz) - (int64_t)s->heard;
    return late < most ? late : most;
}

static es_source_state pull(es_tape_session *s, es_error *error)
{
    int64_t todo = due(s);
    es_source_state state = ES_SOURCE_RUNNING;
    while (todo > 0 && state == ES_SOURCE_RUNNING) {
        es_taken taken = {0};
        size_t room = todo < BLOCK ? (size_t)todo : BLOCK;
        state = s->source.take(s->source.self, s->frames, room, &taken, error);
        if (taken.gap)
            take_gap(s, taken.lost);
        if (taken.count == 0)
            break;
        take_frames(s, taken.count);
        todo -= (int64_t)taken.count;
    }
    return state;
}

static void note_device(es_tape_session *s, es_source_state state)
{
    int waits = s->now.phase == ES_SESSION_WAITING;
    char room[240];
    if (waits == (state == ES_SOURCE_WAITING))
        return;
    if (waits) {
        say(s, ES_SESSION_RUNNING, ES_OK, "");
        return;
    }
    es_session_gone_words(&s->source, room, sizeof room);
    say(s, ES_SESSION_WAITING, ES_OK, room);
}

/* --- recording --------------------------------------------------------------------------------- */

/* Recording that failed is told once; listening goes on without it. */
static void note_keeper(es_tape_session *s, es_status status, const es_error *error)
{
    if (status == ES_OK)
        return;
    pthread_mutex_lock(&s->lock);
    es_text text = es_text_over(s->now.record_sentence, sizeof s->now.record_sentence);
    es_text_add(&text, "%s", error->text);
    s->now.news++;
    pthread_mutex_unlock(&s->lock);
}

static void look_after_keeper(es_tape_session *s)
{
    es_error error = {0};
    if (!s->keeper || !es_keeper_trouble(s->keeper, &error))
        return;
    es_status status = es_keeper_finish(s->keeper, NULL);
    s->keeper = NULL;
    note_keeper(s, status == ES_OK ? error.status : status, &error);
}

/* --- the loop -------------------------------------------------------------------------------- */

static void rest(es_tape_session *s)
{
    static const struct timespec tick = {.tv_nsec = (long)(TICK_S * 1e9)};
    if (s->config.unpaced)
        return;
    if (s->ground.wait)
        s->ground.wait(s->ground.who, TICK_S);
    else
        clock_nanosleep(CLOCK_MONOTONIC, 0, &tick, NULL);
}

static int asked_to_stop(es_tape_session *s)
{
    pthread_mutex_lock(&s->lock);
    int stopping = s->stopping;
    pthread_mutex_unlock(&s->lock);
    return stopping;
}

/* The side ends by its marker, or a little after it should have come. */
static es_tape_ending side_over(es_tape_session *s)
{
    es_tape_now stands = es_tape_read_now(s->read);
    if (stands.ended)
        return ES_TAPE_END_MARKER;
    if (!(stands.left_s <= 0.0)) /* also when it is not known */
        s->over_s = (double)NAN;
    else if (isnan(s->over_s))
        s->over_s = stands.time_s;
    return stands.time_s - s->over_s >= OVER_MOST_S ? ES_TAPE_TIME_OVER : ES_TAPE_GOES_ON;
}

static es_tape_ending step(es_tape_session *s)
{
    es_error error = {0};
    if (asked_to_stop(s))
        return ES_TAPE_STOPPED;
    es_source_state state = pull(s, &error);
    if (state == ES_SOURCE_FAILED)
        say(s, ES_SESSION_FAILED, error.status, error.text);
    es_tape_ending ending = side_over(s);
    if (ending != ES_TAPE_GOES_ON)
        return ending;
    if (state == ES_SOURCE_FAILED || state == ES_SOURCE_ENDED)
        return ES_TAPE_SOURCE_OVER;
    if (s->quiet.heard_s >= HEARD_LEAST_S && s->quiet.quiet_s >= QUIET_MOST_S)
        return ES_TAPE_FELL_SILENT;
    note_device(s, state);
    look_after_keeper(s);
    rest(s);
    return ES_TAPE_GOES_ON;
}

static void let_go(es_tape_session *s)
{
    es_error error = {0};
    note_keeper(s, es_keeper_finish(s->keeper, &error), &error);
    s->keeper = NULL;
    if (s->source.close)
        s->source.close(s->source.self);
    if (s->sound)
        s->ground.give_back(s->ground.who, s->sound);
    s->sound = NULL;
    free(s->frames);
    s->frames = NULL;
}

static void finish(es_tape_session *s, es_tape_ending ending)
{
    es_error said = {0};
    let_go(s);
    pthread_mutex_lock(&s->lock);
    if (s->read) {
        es_status status = es_tape_read_finish(s->read, &s->result, &said);
        said.status = status;
        s->now.so_far = s->result;
    }
    s->finishing = said;
    s->now.ending = ending;
    s->now.news++;
    if (s->now.phase != ES_SESSION_FAILED) {
        s->now.phase = ES_SESSION_ENDED;
        s->now.sentence[0] = '\0';
    }
    s->over = 1;
    pthread_cond_broadcast(&s->news);
    pthread_mutex_unlock(&s->lock);
    es_tape_read_destroy(s->read);
    s->read = NULL;
}

void *es_tape_session_work(void *who)
{
    es_tape_session *s = who;
    es_error error = {0};
    es_tape_ending ending = ES_TAPE_GOES_ON;
    es_status status = open_all(s, &error);
    s->level = es_level_watch_of(s->source.rate_hz);
    s->quiet.window_frames = (size_t)(WINDOW_S * s->source.rate_hz);
    s->begun_s = es_system_clock_now_s(NULL);
    tell_opened(s, status, &error);
    while (status == ES_OK && ending == ES_TAPE_GOES_ON)
        ending = step(s);
    if (s->read)
        tell(s);
    finish(s, ending);
    return NULL;
}
