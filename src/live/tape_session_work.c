/* The worker of a tape session: source -> recording, reader -> what is known so far; when it is over. */
#include "live/tape_session.h"

#include "live/measure_tape_inside.h"
#include "live/tape_session_inside.h"

#include <math.h>
#include <time.h>

#define UNPACED_S 0.25 /* of the source, before others are looked after                     */
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
    const char *deck = es_source_after(c->source, "rehearse:");
    if (deck && deck[0] && !s->line.ground.source)
        return es_source_rehearsal_tape(deck, c->reading.programme, 0, &s->line.source, error);
    return es_session_line_open(&s->line, c->source, c->unpaced, error);
}

static es_status open_all(es_tape_session *s, es_error *error)
{
    es_status status = open_source(s, error);
    if (status == ES_OK) {
        es_tape_read_config config = es_measure_tape_config(
            &s->config.reading, s->line.source.rate_hz, s->line.source.channels);
        status = es_tape_read_create(&config, &s->read, error);
    }
    if (status == ES_OK)
        status = es_session_line_begin(&s->line, s->config.record_path, s->config.record_replace,
                                       s->config.unpaced, error);
    return status;
}

/* The caller of es_tape_session_open() waits for this. */
static void tell_opened(es_tape_session *s, es_status status, const es_error *error)
{
    pthread_mutex_lock(&s->life.lock);
    es_session_standing_opened(&s->now.standing, &s->line.source);
    s->now.news++;
    es_session_life_tell_opened(&s->life, status, error);
    pthread_mutex_unlock(&s->life.lock);
}

/* --- what is told --------------------------------------------------------------------------- */

/* Leader, response and silence are soft by themselves: only at the reference it is the knob. */
static const char *level_words(const es_tape_session *s, const es_tape_result *so_far, size_t index)
{
    int clipped = 0;
    for (int i = 0; i < ES_LEVEL_PARTS; i++)
        clipped |= s->line.level.clipped[i];
    es_section_kind kind =
        index < so_far->section_count ? so_far->sections[index].kind : ES_SECTION_END;
    int loud = kind == ES_SECTION_LEVEL || kind == ES_SECTION_SPEED;
    int nothing = so_far->side == 0 && s->quiet.quiet_s >= QUIET_TOLD_S;
    return loud || clipped || nothing ? es_level_words(&s->line.level) : "";
}

static void tell(es_tape_session *s)
{
    es_tape_now stands = es_tape_read_now(s->read);
    pthread_mutex_lock(&s->life.lock);
    es_tape_listening *now = &s->now;
    es_tape_read_so_far(s->read, &now->so_far);
    now->standing.frames = s->heard;
    now->time_s = stands.time_s;
    now->left_s = stands.left_s;
    now->error_percent = 100.0 * stands.error;
    now->index = stands.index;
    now->measuring = stands.section[0] != '\0';
    now->strange_id = stands.strange_id;
    es_session_standing_level(&now->standing, now->standing.phase == ES_SESSION_WAITING
                                                  ? ""
                                                  : level_words(s, &now->so_far, now->index));
    now->news++;
    pthread_cond_broadcast(&s->life.news);
    pthread_mutex_unlock(&s->life.lock);
    s->told = s->heard;
    s->told_index = stands.index;
}

static void say(es_tape_session *s, es_session_phase phase, es_status status, const char *sentence)
{
    pthread_mutex_lock(&s->life.lock);
    es_session_standing_say(&s->now.standing, phase, status, sentence);
    s->now.news++;
    pthread_cond_broadcast(&s->life.news);
    pthread_mutex_unlock(&s->life.lock);
}

/* --- one block --------------------------------------------------------------------------- */

static void take_gap(void *who, int64_t lost)
{
    es_tape_session *s = who;
    double most = GAP_MOST_S * s->line.source.rate_hz;
    int64_t known = lost > 0 ? lost : 0;
    es_tape_read_gap(s->read, (double)known < most ? (size_t)known : (size_t)most);
    pthread_mutex_lock(&s->life.lock);
    s->now.standing.gaps++;
    s->now.standing.lost_frames += (uint64_t)known;
    pthread_mutex_unlock(&s->life.lock);
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

static void watch_quiet(es_tape_session *s, const float *frames, size_t count)
{
    es_tape_quiet *q = &s->quiet;
    size_t samples = count * (size_t)s->line.source.channels;
    for (size_t i = 0; i < samples; i++)
        q->peak = fmaxf(q->peak, fabsf(frames[i])); /* fmaxf passes over NaN */
    q->at += count;
    if (q->at >= q->window_frames)
        close_window(s);
}

static void take_frames(void *who, const float *frames, size_t count)
{
    es_tape_session *s = who;
    es_tape_read_push(s->read, frames, count);
    s->heard += count;
    watch_quiet(s, frames, count);
    if ((double)(s->heard - s->told) >= TELL_S * s->line.source.rate_hz ||
        es_tape_read_now(s->read).index != s->told_index)
        tell(s);
}

/* --- what the source has ------------------------------------------------------------------- */

static es_source_state pull(es_tape_session *s, es_error *error)
{
    es_session_taker taker = {.who = s, .gap = take_gap, .frames = take_frames};
    int64_t most = s->config.unpaced ? (int64_t)(UNPACED_S * s->line.source.rate_hz)
                                     : es_session_line_due(&s->line, s->heard);
    return es_session_line_pull(&s->line, most, &taker, error);
}

static void note_device(es_tape_session *s, es_source_state state)
{
    int waits = s->now.standing.phase == ES_SESSION_WAITING;
    char room[240];
    if (waits == (state == ES_SOURCE_WAITING))
        return;
    if (waits) {
        say(s, ES_SESSION_RUNNING, ES_OK, "");
        return;
    }
    es_session_gone_words(&s->line.source, room, sizeof room);
    say(s, ES_SESSION_WAITING, ES_OK, room);
}

/* --- recording --------------------------------------------------------------------------------- */

/* Recording that failed is told once; listening goes on without it. */
static void note_keeper(es_tape_session *s, es_status status, const es_error *error)
{
    if (status == ES_OK)
        return;
    pthread_mutex_lock(&s->life.lock);
    es_session_standing_unkept(&s->now.standing, error);
    s->now.news++;
    pthread_mutex_unlock(&s->life.lock);
}

static void look_after_keeper(es_tape_session *s)
{
    es_error error = {0};
    es_status status = es_session_line_watch(&s->line, &error);
    note_keeper(s, status, &error);
}

/* --- the loop -------------------------------------------------------------------------------- */

static void rest(es_tape_session *s)
{
    static const struct timespec tick = {.tv_nsec = (long)(ES_SESSION_TICK_S * 1e9)};
    if (s->config.unpaced)
        return;
    if (s->line.ground.wait)
        s->line.ground.wait(s->line.ground.who, ES_SESSION_TICK_S);
    else
        clock_nanosleep(CLOCK_MONOTONIC, 0, &tick, NULL);
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
    if (es_session_life_stops(&s->life))
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
    note_keeper(s, es_keeper_finish(s->line.keeper, &error), &error);
    s->line.keeper = NULL;
    es_session_line_close(&s->line);
}

static void finish(es_tape_session *s, es_tape_ending ending)
{
    es_error said = {0};
    let_go(s);
    pthread_mutex_lock(&s->life.lock);
    if (s->read) {
        es_status status = es_tape_read_finish(s->read, &s->result, &said);
        said.status = status;
        s->now.so_far = s->result;
    }
    s->finishing = said;
    s->now.ending = ending;
    s->now.news++;
    es_session_standing_over(&s->now.standing);
    es_session_life_tell_over(&s->life);
    pthread_mutex_unlock(&s->life.lock);
    es_tape_read_destroy(s->read);
    s->read = NULL;
}

void *es_tape_session_work(void *who)
{
    es_tape_session *s = who;
    es_error error = {0};
    es_tape_ending ending = ES_TAPE_GOES_ON;
    es_status status = open_all(s, &error);
    s->quiet.window_frames = (size_t)(WINDOW_S * s->line.source.rate_hz);
    tell_opened(s, status, &error);
    while (status == ES_OK && ending == ES_TAPE_GOES_ON)
        ending = step(s);
    if (s->read)
        tell(s);
    finish(s, ending);
    return NULL;
}
