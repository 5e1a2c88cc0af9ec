/* The worker of a live session: source -> recording, coach -> board; and what the ear is given. */
#include "live/geometry.h"
#include "live/session.h"

#include "evenspool/base/text.h"
#include "live/session_inside.h"

#include <math.h>
#include <time.h>

#define AWAY_TELL_S 0.2   /* between snapshots while the device is gone                        */
#define PRACTICE_S 1800.0 /* how long a paced rehearsal goes on at least                       */

/* --- opening ---------------------------------------------------------------------------- */

/* A deck in real time is not switched off while somebody practises; and no shorter than asked. */
static double least_rehearsal(const es_session_config *c)
{
    double practice = c->unpaced ? 0.0 : PRACTICE_S;
    return fmax(practice, c->seconds); /* fmax passes over NaN */
}

static es_screw screw_of(const es_session_config *c)
{
    switch (c->adjust) {
    case ES_ADJUST_AZIMUTH:
        return ES_SCREW_AZIMUTH;
    case ES_ADJUST_LEVEL:
        return c->channel == 2 ? ES_SCREW_LEVEL_RIGHT : ES_SCREW_LEVEL_LEFT;
    case ES_ADJUST_BALANCE:
        return ES_SCREW_LEVEL_RIGHT;
    default:
        return ES_SCREW_SPEED;
    }
}

static es_status open_source(es_session *s, es_error *error)
{
    const es_session_config *c = &s->config;
    const char *deck = es_source_after(c->source, "rehearse:");
    if (deck && deck[0] && !s->line.ground.source)
        return es_source_rehearsal(deck, least_rehearsal(c), screw_of(c), &s->line.source, error);
    return es_session_line_open(&s->line, c->source, c->unpaced, error);
}

static es_status create_trim(es_session *s, es_error *error)
{
    const es_session_config *from = &s->config;
    es_trim_config c =
        es_trim_defaults_for(from->adjust, s->line.source.rate_hz, s->line.source.channels);
    c.channel = from->channel;
    c.nominal_hz = from->nominal_hz;
    c.tape_error = 0.01 * from->tape_error_percent;
    c.tape_u = 0.005 * from->tape_u95_percent; /* k = 2 */
    c.clock_ppm = from->clock_ppm;
    c.target = es_session_unit(from) * from->target_percent;
    c.tolerance = es_session_unit(from) * from->tolerance_percent;
    c.reference_dbfs = from->reference_dbfs;
    es_status status = ES_OK;
    if (from->transport[0])
        status = es_geometry_of(from->transport, NULL, NULL, &c.geometry, error);
    return status == ES_OK ? es_trim_create(&c, &s->trim, error) : status;
}

static es_status open_all(es_session *s, es_error *error)
{
    es_status status = open_source(s, error);
    if (status == ES_OK)
        status = create_trim(s, error);
    if (status == ES_OK)
        status = es_session_line_begin(&s->line, s->config.record_path, s->config.record_replace,
                                       s->config.unpaced, error);
    return status;
}

/* The caller of es_session_open() waits for this. */
static void tell_opened(es_session *s, es_status status, const es_error *error)
{
    pthread_mutex_lock(&s->life.lock);
    es_session_standing_opened(&s->facts.standing, &s->line.source);
    s->facts.has_trimmer = s->line.source.turn != NULL;
    s->facts.sound_level_db = (double)NAN;
    es_session_life_tell_opened(&s->life, status, error);
    pthread_mutex_unlock(&s->life.lock);
}

/* --- one block --------------------------------------------------------------------------- */

static void put_up(es_session *s, const es_trim_snapshot *snapshots, size_t count)
{
    pthread_mutex_lock(&s->life.lock);
    for (size_t i = 0; i < count; i++)
        es_board_put(&s->board, &snapshots[i]);
    s->facts.snapshots = s->board.newest;
    pthread_cond_broadcast(&s->life.news);
    pthread_mutex_unlock(&s->life.lock);
}

/* What the coach has said since. */
static void hand_out(es_session *s)
{
    int more = 1;
    while (more) {
        pthread_mutex_lock(&s->coach_lock);
        more = es_trim_take(s->trim, &s->last);
        pthread_mutex_unlock(&s->coach_lock);
        if (more)
            put_up(s, &s->last, 1);
    }
}

static void take_gap(void *who, int64_t lost)
{
    es_session *s = who;
    pthread_mutex_lock(&s->coach_lock);
    es_trim_gap(s->trim, lost > 0 ? (size_t)lost : 1);
    pthread_mutex_unlock(&s->coach_lock);
    pthread_mutex_lock(&s->life.lock);
    s->facts.standing.gaps++;
    s->facts.standing.lost_frames += lost > 0 ? (uint64_t)lost : 0;
    pthread_mutex_unlock(&s->life.lock);
    hand_out(s);
}

static void take_frames(void *who, const float *frames, size_t count)
{
    es_session *s = who;
    pthread_mutex_lock(&s->coach_lock);
    size_t ready = es_trim_push(s->trim, frames, count);
    pthread_mutex_unlock(&s->coach_lock);
    pthread_mutex_lock(&s->life.lock);
    s->facts.standing.frames += count;
    pthread_mutex_unlock(&s->life.lock);
    if (ready > 0)
        hand_out(s);
}

/* --- what the source has ------------------------------------------------------------------- */

static es_source_state pull(es_session *s, es_error *error)
{
    es_session_taker taker = {.who = s, .gap = take_gap, .frames = take_frames};
    int64_t left =
        (int64_t)(s->frames_most - s->facts.standing.frames); /* written by this thread only */
    int64_t most = s->config.unpaced ? ES_SESSION_BLOCK
                                     : es_session_line_due(&s->line, s->facts.standing.frames);
    es_source_state state =
        es_session_line_pull(&s->line, most < left ? most : left, &taker, error);
    return s->facts.standing.frames >= s->frames_most ? ES_SOURCE_ENDED : state;
}

/* --- a device that is gone -------------------------------------------------------------------- */

static void say(es_session *s, es_session_phase phase, es_status status, const char *sentence)
{
    pthread_mutex_lock(&s->life.lock);
    es_session_standing_say(&s->facts.standing, phase, status, sentence);
    pthread_cond_broadcast(&s->life.news);
    pthread_mutex_unlock(&s->life.lock);
}

/* A snapshot that the coach can't make, since nothing comes: the time goes on, no figure stands. */
static es_trim_snapshot without_input(es_session *s, double away_s)
{
    es_trim_snapshot now;
    pthread_mutex_lock(&s->coach_lock);
    es_trim_now(s->trim, &now);
    pthread_mutex_unlock(&s->coach_lock);
    now.time_s += 1.0 / ES_TRIM_SNAPSHOTS_HZ + away_s;
    now.state = ES_TRIM_LISTENING;
    now.error_percent = now.u95_percent = now.live_percent = now.heard_hz = (double)NAN;
    now.snr_db = now.averaged_s = now.move_factor = now.unseen_factor = (double)NAN;
    now.input_peak_fs = now.held_s = 0.0;
    now.pair.known = 0;
    now.note[0] = '\0';
    es_text reason = es_text_over(now.reason, sizeof now.reason);
    es_text_add(&reason, "no-input");
    es_text advice = es_text_over(now.advice, sizeof now.advice);
    es_text_add(&advice, "The input is gone; connect it again, and hands off the trimmer until "
                         "then.");
    return now;
}

static void wait_for_device(es_session *s)
{
    int64_t now = es_session_now_ns();
    if (s->away_ns == 0) {
        char room[240];
        es_session_gone_words(&s->line.source, room, sizeof room);
        say(s, ES_SESSION_WAITING, ES_OK, room);
        s->away_ns = now;
    }
    if ((double)(now - s->told_away_ns) * 1e-9 < AWAY_TELL_S)
        return;
    s->told_away_ns = now;
    s->last = without_input(s, (double)(now - s->away_ns) * 1e-9);
    put_up(s, &s->last, 1);
}

static void note_device(es_session *s, es_source_state state)
{
    if (state == ES_SOURCE_WAITING) {
        wait_for_device(s);
    } else if (s->away_ns != 0) {
        s->away_ns = 0;
        say(s, ES_SESSION_RUNNING, ES_OK, "");
    }
}

/* --- the loop -------------------------------------------------------------------------------- */

/* Recording that failed is told once; the session goes on without it. */
static void note_keeper(es_session *s, es_status status, const es_error *error)
{
    if (status == ES_OK)
        return;
    pthread_mutex_lock(&s->life.lock);
    es_session_standing_unkept(&s->facts.standing, error);
    pthread_mutex_unlock(&s->life.lock);
}

static void look_after_keeper(es_session *s)
{
    es_error error = {0};
    es_status status = es_session_line_watch(&s->line, &error);
    note_keeper(s, status, &error);
}

static void look_after_voice(es_session *s)
{
    if (!s->voice)
        return;
    es_voice_feed(s->voice, &s->last);
    int heard = es_voice_is_heard(s->voice);
    pthread_mutex_lock(&s->life.lock);
    es_text text = es_text_over(s->facts.sound_sentence, sizeof s->facts.sound_sentence);
    es_text_add(&text, "%s",
                heard ? "" : "The output is gone; see that it is connected and switched on.");
    pthread_mutex_unlock(&s->life.lock);
}

static void note_level(es_session *s)
{
    const char *words = es_level_words(&s->line.level);
    pthread_mutex_lock(&s->life.lock);
    es_session_standing_level(&s->facts.standing, s->away_ns ? "" : words);
    pthread_mutex_unlock(&s->life.lock);
}

/* Until the next tick, or until somebody asks for something. */
static void rest(es_session *s)
{
    if (s->line.ground.wait) {
        s->line.ground.wait(s->line.ground.who, ES_SESSION_TICK_S);
        return;
    }
    struct timespec when = es_session_after(ES_SESSION_TICK_S);
    pthread_mutex_lock(&s->life.lock);
    if (!s->life.stopping && s->turns == 0.0 && !(s->order.asked && !s->order.answered))
        pthread_cond_timedwait(&s->work, &s->life.lock, &when);
    pthread_mutex_unlock(&s->life.lock);
}

/* An unpaced source goes on for those who ask. 0: asked to stop. */
static int await_listener(es_session *s)
{
    pthread_mutex_lock(&s->life.lock);
    while (s->board.newest >= s->board.wanted && !s->life.stopping && !s->order.asked)
        pthread_cond_wait(&s->work, &s->life.lock);
    int stopping = s->life.stopping;
    pthread_mutex_unlock(&s->life.lock);
    return !stopping;
}

/* 0: it is over. */
static int step(es_session *s)
{
    if (s->config.unpaced && !await_listener(s))
        return 0;
    if (!es_session_obey(s))
        return 0;
    es_error error = {0};
    es_source_state state = pull(s, &error);
    if (state == ES_SOURCE_FAILED)
        say(s, ES_SESSION_FAILED, error.status, error.text);
    if (state == ES_SOURCE_FAILED || state == ES_SOURCE_ENDED)
        return 0;
    note_device(s, state);
    note_level(s);
    look_after_keeper(s);
    look_after_voice(s);
    if (!s->config.unpaced)
        rest(s);
    return 1;
}

static void finish(es_session *s)
{
    es_error error = {0};
    note_keeper(s, es_keeper_finish(s->line.keeper, &error), &error);
    s->line.keeper = NULL;
    es_voice_destroy(s->voice);
    s->voice = NULL;
    es_session_line_close(&s->line);
    pthread_mutex_lock(&s->life.lock);
    es_session_standing_over(&s->facts.standing);
    s->facts.sound = 0;
    s->facts.output[0] = '\0';
    es_session_life_tell_over(&s->life);
    pthread_mutex_unlock(&s->life.lock);
}

void *es_session_work(void *who)
{
    es_session *s = who;
    es_error error = {0};
    es_status status = open_all(s, &error);
    s->frames_most = isnan(s->config.seconds)
                         ? UINT64_MAX / 2
                         : (uint64_t)llround(s->config.seconds * s->line.source.rate_hz);
    tell_opened(s, status, &error);
    if (status == ES_OK)
        while (step(s))
            ;
    finish(s);
    return NULL;
}
