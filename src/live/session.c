/* The face of a live session: its life, and what listeners call. */
#include "live/session.h"

#include "live/session_inside.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#define SECONDS_MOST 86400.0

es_session_config es_session_defaults(void)
{
    return (es_session_config){.tape_error_percent = (double)NAN,
                               .tape_u95_percent = (double)NAN,
                               .clock_ppm = (double)NAN,
                               .tolerance_percent = 0.1,
                               .reference_dbfs = (double)NAN,
                               .seconds = (double)NAN};
}

/* --- life ------------------------------------------------------------------------------ */

static int within(double value, double low, double high)
{
    return value >= low && value <= high; /* false for NaN */
}

/* Of what can be judged without the source; the coach judges the rest. */
static es_status judge(const es_session_config *c, es_error *error)
{
    if (!isnan(c->seconds) && !within(c->seconds, 0.1, SECONDS_MOST))
        return es_fail(error, ES_ERR_ARG, "bad-seconds",
                       "A session lasts from 0.1 s to a day; name another time.");
    if (!isnan(c->tape_error_percent) && !within(c->tape_error_percent, -50.0, 50.0))
        return es_fail(error, ES_ERR_ARG, "bad-tape-error",
                       "A tape's speed error is between -50 and 50 %%.");
    if (!isnan(c->tape_u95_percent) && !within(c->tape_u95_percent, 0.0, 50.0))
        return es_fail(error, ES_ERR_ARG, "bad-tape-u95",
                       "The uncertainty of a tape's speed error is between 0 and 50 %%.");
    if (!isnan(c->clock_ppm) && !within(c->clock_ppm, -10000.0, 10000.0))
        return es_fail(error, ES_ERR_ARG, "bad-clock",
                       "The error of a sound card's clock is between -10000 and 10000 millionths.");
    return ES_OK;
}

static void destroy(es_session *s)
{
    es_board_destroy(&s->board);
    es_trim_destroy(s->trim);
    es_session_life_destroy(&s->life);
    pthread_cond_destroy(&s->work);
    pthread_mutex_destroy(&s->coach_lock);
    free(s);
}

static es_session *create(const es_session_ground *ground, const es_session_config *config)
{
    es_session *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    es_session_life_create(&s->life);
    es_session_condition(&s->work);
    pthread_mutex_init(&s->coach_lock, NULL);
    s->config = *config;
    s->line = (es_session_line){.ground = es_session_ground_of(ground), .channel = config->channel};
    s->facts.standing = es_session_standing_of(config->source, config->record_path);
    if (es_board_create(&s->board))
        return s;
    destroy(s);
    return NULL;
}

es_status es_session_open_on(const es_session_ground *ground, const es_session_config *config,
                             es_session **out, es_error *error)
{
    *out = NULL;
    es_status status = judge(config, error);
    if (status != ES_OK)
        return status;
    es_session *s = create(ground, config);
    if (!s)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to listen.");
    status = es_session_life_begin(&s->life, es_session_work, s, error);
    if (status == ES_OK)
        *out = s;
    else
        es_session_close(s);
    return status;
}

es_status es_session_open(const es_session_config *config, es_session **out, es_error *error)
{
    return es_session_open_on(NULL, config, out, error);
}

void es_session_stop(es_session *s)
{
    if (s)
        es_session_life_stop(&s->life, &s->work);
}

void es_session_close(es_session *s)
{
    if (!s)
        return;
    es_session_stop(s);
    es_session_life_empty(&s->life);
    destroy(s);
}

/* --- listeners ---------------------------------------------------------------------------- */

int es_session_next(es_session *s, uint64_t *cursor, double timeout_s, es_trim_snapshot *out,
                    uint64_t *skipped)
{
    struct timespec until = es_session_after(timeout_s);
    int got, late = 0;
    pthread_mutex_lock(&s->life.lock);
    s->life.inside++;
    uint64_t wanted = s->board.wanted;
    while ((got = es_board_read(&s->board, cursor, out, skipped)) == 0 && !s->life.over && !late) {
        if (s->config.unpaced && s->board.wanted != wanted)
            pthread_cond_signal(&s->work); /* the worker waits for this */
        wanted = s->board.wanted;
        late = pthread_cond_timedwait(&s->life.news, &s->life.lock, &until) == ETIMEDOUT;
    }
    if (late && got == 0)
        got = es_board_read(&s->board, cursor, out, skipped);
    if (got == 0 && s->life.over)
        got = -1;
    es_session_life_leave(&s->life);
    pthread_mutex_unlock(&s->life.lock);
    return got;
}

es_session_facts es_session_facts_of(es_session *s)
{
    pthread_mutex_lock(&s->life.lock);
    es_session_facts facts = s->facts;
    pthread_mutex_unlock(&s->life.lock);
    return facts;
}

void es_session_record(es_session *s, es_trim_session *out)
{
    pthread_mutex_lock(&s->coach_lock);
    es_trim_session_of(s->trim, out);
    pthread_mutex_unlock(&s->coach_lock);
}
