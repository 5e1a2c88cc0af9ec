/*
 * live/session.h and live/inputs.h played from a script, for tests of the server and the page without the coach.
 *
 *   rehearse:*     a deck that starts at -3 %, 3 % a turn; moves, settles and reads like the coach. Another
 *                  quantity than the speed has the same figures in its own unit
 *   rehearse:stuck the same, but can't be set
 *   file:short     ends after a second
 *   device:gone    vanishes after a second, is back five seconds later
 *   device:flood   a thousand snapshots a second instead of twenty
 *   device:*       can't be opened
 */
#include "live/inputs.h"
#include "live/session.h"

#include <math.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define KEPT 128
#define PACE_S 0.05
#define PER_TURN 3.0 /* percent */

struct es_session {
    es_session_config config;
    pthread_t worker;
    int joined;

    pthread_mutex_t lock; /* guards what follows */
    pthread_cond_t came;
    es_trim_snapshot kept[KEPT];
    uint64_t count;
    es_session_facts facts;
    es_trim_session record;
    double error, before, still_s;
    int turned, over;
    size_t nudges;
    es_nudge nudge[ES_NUDGES_MOST];
};

es_session_config es_session_defaults(void)
{
    return (es_session_config){.tape_error_percent = (double)NAN,
                               .tape_u95_percent = (double)NAN,
                               .clock_ppm = (double)NAN,
                               .tolerance_percent = 0.1,
                               .seconds = (double)NAN};
}

static int is(const es_session *s, const char *source)
{
    return strcmp(s->config.source, source) == 0;
}

/* --- script -------------------------------------------------------------------------------- */

static void end_nudge(es_session *s)
{
    s->turned = 0;
    if (s->nudges < ES_NUDGES_MOST)
        s->nudge[s->nudges++] = (es_nudge){.time_s = (double)s->count * PACE_S - s->still_s,
                                           .size_percent = s->error - s->before,
                                           .asked = (double)NAN};
    s->before = s->error;
}

static es_trim_state state_of(const es_session *s)
{
    if (s->facts.standing.phase == ES_SESSION_WAITING || s->count < 10)
        return ES_TRIM_LISTENING;
    if (s->turned && s->still_s < 0.5)
        return ES_TRIM_TURNING;
    if (s->still_s < 1.0)
        return ES_TRIM_SETTLING;
    if (is(s, "rehearse:stuck"))
        return ES_TRIM_LOOK_FIRST;
    return fabs(s->error - s->config.target_percent) < s->config.tolerance_percent
               ? ES_TRIM_THERE
               : ES_TRIM_READING;
}

static const char *advice_of(const es_session *s, es_trim_state state)
{
    switch (state) {
    case ES_TRIM_LISTENING:
        return "Nothing is heard: play the test tape, and check cable and input.";
    case ES_TRIM_TURNING:
        return "The speed is moving: let go, then I will read it.";
    case ES_TRIM_SETTLING:
        return "Hands off: reading the speed.";
    case ES_TRIM_LOOK_FIRST:
        return "Stop: the speed wavers too much to be set to 0.10 %; find what wavers first, "
               "roller, "
               "capstan or belt.";
    case ES_TRIM_THERE:
        return s->still_s > 4.0 ? "Done: within the tolerance."
                                : "There: take the tool away and keep your hands off; the final "
                                  "reading takes 3 s.";
    default:
        return s->nudges == 0
                   ? "Too slow: turn a little either way, then let go: I will tell which way is "
                     "faster."
               : s->error < s->config.target_percent
                   ? "Too slow: about a third of your last turn, the same way."
                   : "Too fast: about a third of your last turn, the other way.";
    }
}

static es_trim_snapshot snapshot_of(const es_session *s)
{
    es_trim_state state = state_of(s);
    int shown = state == ES_TRIM_READING || state == ES_TRIM_THERE;
    int heard = state != ES_TRIM_LISTENING;
    double ripple = 0.04 * sin((double)s->count * 0.9) + 0.02 * sin((double)s->count * 2.3);
    es_trim_snapshot out = {.time_s = (double)s->count * PACE_S,
                            .state = state,
                            .adjust = s->config.adjust,
                            .error_percent = shown ? s->error : (double)NAN,
                            .u95_percent = shown ? 0.02 + 0.08 / (1.0 + s->still_s) : (double)NAN,
                            .live_percent = heard ? s->error + ripple : (double)NAN,
                            .target_percent = s->config.target_percent,
                            .tolerance_percent = s->config.tolerance_percent,
                            .held_s = state == ES_TRIM_THERE ? s->still_s - 1.0 : (double)NAN,
                            .final = state == ES_TRIM_THERE && s->still_s > 4.0,
                            .input_peak_fs = 0.5,
                            .snr_db = heard ? 46.0 : (double)NAN,
                            .nominal_hz = 3150.0,
                            .heard_hz = heard ? 31.5 * (100.0 + s->error) : (double)NAN,
                            .tape_error_percent = s->config.tape_error_percent,
                            .nudge_count = s->nudges,
                            .move_factor = (double)NAN,
                            .unseen_factor = (double)NAN,
                            .averaged_s = (double)NAN,
                            .scatter_percent = (double)NAN,
                            .turn_s = (double)NAN,
                            .backlash_percent = (double)NAN,
                            .final_percent = (double)NAN,
                            .final_u95_percent = (double)NAN};
    memcpy(out.nudges, s->nudge, sizeof out.nudges);
    snprintf(out.advice, sizeof out.advice, "%s", advice_of(s, state));
    snprintf(out.reason, sizeof out.reason, "%s", heard ? "" : "silence");
    return out;
}

static void play_script(es_session *s)
{
    double now = (double)s->count * PACE_S;
    int gone = is(s, "device:gone") && now > 1.0 && now < 6.0;
    s->facts.standing.phase = gone ? ES_SESSION_WAITING : ES_SESSION_RUNNING;
    snprintf(s->facts.standing.sentence, sizeof s->facts.standing.sentence, "%s",
             gone ? "The input is gone; plug it in again." : "");
    if (is(s, "file:short") && now > 1.0)
        s->over = 1;
}

/* --- worker -------------------------------------------------------------------------------- */

static void step(es_session *s)
{
    s->still_s += PACE_S;
    if (s->turned && s->still_s > 0.5)
        end_nudge(s);
    play_script(s);
    es_trim_snapshot now = snapshot_of(s);
    s->kept[s->count++ % KEPT] = now;
    s->facts.standing.frames += 2400;
    s->facts.snapshots = s->count;
    if (s->record.trace_count < ES_TRACE_POINTS)
        s->record.trace_percent[s->record.trace_count++] = (float)now.live_percent;
    pthread_cond_broadcast(&s->came);
}

static void *work(void *who)
{
    es_session *s = who;
    struct timespec pace = {.tv_nsec = is(s, "device:flood") ? 1000000 : 50000000};
    int over = 0;
    while (!over) {
        nanosleep(&pace, NULL);
        pthread_mutex_lock(&s->lock);
        if (!s->over)
            step(s);
        over = s->over;
        if (over)
            s->facts.standing.phase = ES_SESSION_ENDED;
        pthread_cond_broadcast(&s->came);
        pthread_mutex_unlock(&s->lock);
    }
    return NULL;
}

/* --- face ---------------------------------------------------------------------------------- */

static void prepare(es_session *s, const es_session_config *config)
{
    s->config = *config;
    s->error = s->before = -3.0;
    s->facts = (es_session_facts){.standing = {.rate_hz = 48000.0, .channels = 2},
                                  .has_trimmer = strncmp(config->source, "rehearse:", 9) == 0,
                                  .sound_level_db = -20.0};
    snprintf(s->facts.standing.source, sizeof s->facts.standing.source, "%s", config->source);
    s->record = (es_trim_session){.adjust = config->adjust,
                                  .as_found = {.error_percent = (double)NAN},
                                  .as_left = {.error_percent = (double)NAN},
                                  .target_percent = config->target_percent,
                                  .tolerance_percent = config->tolerance_percent};
    pthread_mutex_init(&s->lock, NULL);
    pthread_cond_init(&s->came, NULL);
}

es_status es_session_open(const es_session_config *config, es_session **out, es_error *error)
{
    *out = NULL;
    if (strncmp(config->source, "device:", 7) == 0 && strcmp(config->source, "device:gone") != 0 &&
        strcmp(config->source, "device:flood") != 0)
        return es_fail(error, ES_ERR_DEVICE, "no-such-device",
                       "There is no input of that name; plug it in, or choose another one.");
    es_session *s = calloc(1, sizeof *s);
    if (!s)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    prepare(s, config);
    pthread_create(&s->worker, NULL, work, s);
    *out = s;
    return ES_OK;
}

void es_session_stop(es_session *session)
{
    if (!session || session->joined)
        return;
    pthread_mutex_lock(&session->lock);
    session->over = 1;
    pthread_mutex_unlock(&session->lock);
    pthread_join(session->worker, NULL);
    session->joined = 1;
}

void es_session_close(es_session *session)
{
    if (!session)
        return;
    es_session_stop(session);
    pthread_cond_destroy(&session->came);
    pthread_mutex_destroy(&session->lock);
    free(session);
}

int es_session_next(es_session *session, uint64_t *cursor, double timeout_s, es_trim_snapshot *out,
                    uint64_t *skipped)
{
    struct timespec until;
    clock_gettime(CLOCK_REALTIME, &until);
    until.tv_nsec += (long)(timeout_s * 1e9);
    until.tv_sec += until.tv_nsec / 1000000000;
    until.tv_nsec %= 1000000000;
    *skipped = 0;
    pthread_mutex_lock(&session->lock);
    int late = 0;
    while (*cursor == session->count && !session->over && !late)
        late = pthread_cond_timedwait(&session->came, &session->lock, &until) != 0;
    int got = *cursor < session->count ? 1 : session->over ? -1 : 0;
    if (got > 0) {
        if (session->count - *cursor > KEPT)
            *skipped = session->count - *cursor - KEPT;
        *cursor += *skipped;
        *out = session->kept[(*cursor)++ % KEPT];
    }
    pthread_mutex_unlock(&session->lock);
    return got;
}

es_session_facts es_session_facts_of(es_session *session)
{
    pthread_mutex_lock(&session->lock);
    es_session_facts facts = session->facts;
    pthread_mutex_unlock(&session->lock);
    return facts;
}

void es_session_record(es_session *session, es_trim_session *out)
{
    pthread_mutex_lock(&session->lock);
    *out = session->record;
    out->as_found = (es_trim_reading){0.5, -3.0, 0.05, 1.0};
    out->as_left = (es_trim_reading){5.0, session->error, 0.03, 1.0};
    out->nudge_count = session->nudges;
    memcpy(out->nudges, session->nudge, sizeof out->nudges);
    pthread_mutex_unlock(&session->lock);
}

es_status es_session_turn(es_session *session, double turns)
{
    if (!session->facts.has_trimmer)
        return ES_ERR_ARG;
    pthread_mutex_lock(&session->lock);
    session->error += turns * PER_TURN;
    session->facts.trimmer_turns += turns;
    session->still_s = 0.0;
    session->turned = 1;
    pthread_mutex_unlock(&session->lock);
    return ES_OK;
}

es_status es_session_aim(es_session *session, double target_percent, double tolerance_percent)
{
    pthread_mutex_lock(&session->lock);
    session->config.target_percent = target_percent;
    session->config.tolerance_percent = tolerance_percent;
    pthread_mutex_unlock(&session->lock);
    return ES_OK;
}

es_status es_session_sound(es_session *session, int kind, double level_db, const char *output,
                           es_error *error)
{
    if (strcmp(output, "nowhere") == 0)
        return es_fail(error, ES_ERR_DEVICE, "no-such-device", "There is no output of that name.");
    pthread_mutex_lock(&session->lock);
    session->facts.sound = kind;
    session->facts.sound_level_db = level_db;
    pthread_mutex_unlock(&session->lock);
    return ES_OK;
}

/* --- inputs -------------------------------------------------------------------------------- */

es_status es_inputs_look(const char *only, double listen_s, es_live_places *out, es_error *error)
{
    (void)only;
    (void)error;
    *out = (es_live_places){.input_count = 2};
    out->inputs[0] = (es_live_place){.name = "Deck left of the bench",
                                     .preferred = 1,
                                     .heard = listen_s > 0.0,
                                     .heard_channels = 2,
                                     .peak_fs = {0.2, 0.3}};
    out->inputs[1] = (es_live_place){.name = "gone"};
    return ES_OK;
}

const char *es_inputs_level_word(double peak_fs)
{
    return peak_fs > 0.25 ? "good" : "quiet";
}
