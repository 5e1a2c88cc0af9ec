/* The face of a tape session: its life, and what others ask of it. */
#include "live/tape_session.h"

#include "live/tape_session_inside.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

es_tape_session_config es_tape_session_defaults(void)
{
    return (es_tape_session_config){.reading = es_measure_tape_defaults()};
}

/* --- life ------------------------------------------------------------------------------ */

static void destroy(es_tape_session *s)
{
    es_session_life_destroy(&s->life);
    free(s);
}

static es_tape_session *create(const es_session_ground *ground,
                               const es_tape_session_config *config)
{
    es_tape_session *s = calloc(1, sizeof *s); /* large */
    if (!s)
        return NULL;
    es_session_life_create(&s->life);
    s->config = *config;
    s->line.ground = es_session_ground_of(ground);
    s->over_s = (double)NAN;
    es_tape_listening *now = &s->now;
    now->standing = es_session_standing_of(config->source, config->record_path);
    now->left_s = now->error_percent = (double)NAN;
    return s;
}

es_status es_tape_session_open_on(const es_session_ground *ground,
                                  const es_tape_session_config *config, es_tape_session **out,
                                  es_error *error)
{
    *out = NULL;
    es_tape_session *s = create(ground, config);
    if (!s)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to listen.");
    es_status status = es_session_life_begin(&s->life, es_tape_session_work, s, error);
    if (status == ES_OK)
        *out = s;
    else
        es_tape_session_close(s);
    return status;
}

es_status es_tape_session_open(const es_tape_session_config *config, es_tape_session **out,
                               es_error *error)
{
    return es_tape_session_open_on(NULL, config, out, error);
}

void es_tape_session_stop(es_tape_session *s)
{
    if (s)
        es_session_life_stop(&s->life, NULL);
}

void es_tape_session_close(es_tape_session *s)
{
    if (!s)
        return;
    es_tape_session_stop(s);
    es_session_life_empty(&s->life);
    destroy(s);
}

/* --- what others ask --------------------------------------------------------------------- */

int es_tape_session_next(es_tape_session *s, uint64_t *news, double timeout_s,
                         es_tape_listening *out)
{
    struct timespec until = es_session_after(timeout_s);
    int late = 0;
    pthread_mutex_lock(&s->life.lock);
    s->life.inside++;
    while (s->now.news <= *news && !s->life.over && !late)
        late = pthread_cond_timedwait(&s->life.news, &s->life.lock, &until) == ETIMEDOUT;
    int got = s->now.news > *news ? 1 : s->life.over ? -1 : 0;
    *out = s->now;
    *news = s->now.news;
    es_session_life_leave(&s->life);
    pthread_mutex_unlock(&s->life.lock);
    return got;
}

es_status es_tape_session_result(es_tape_session *s, es_tape_result *result, es_error *error)
{
    pthread_mutex_lock(&s->life.lock);
    s->life.inside++;
    while (!s->life.over)
        pthread_cond_wait(&s->life.news, &s->life.lock);
    *result = s->result;
    es_error said = s->finishing;
    es_session_life_leave(&s->life);
    pthread_mutex_unlock(&s->life.lock);
    return said.status == ES_OK ? ES_OK : es_fail(error, said.status, said.code, "%s", said.text);
}
