/* The face of a tape session: its life, and what others ask of it. */
#include "live/tape_session.h"

#include "live/tape_session_inside.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

es_tape_session_config es_tape_session_defaults(void)
{
    return (es_tape_session_config){.reading = es_measure_tape_defaults()};
}

/* --- life ------------------------------------------------------------------------------ */

static void create_locks(es_tape_session *s)
{
    pthread_condattr_t steady;
    pthread_condattr_init(&steady);
    pthread_condattr_setclock(&steady, CLOCK_MONOTONIC);
    pthread_cond_init(&s->news, &steady);
    pthread_condattr_destroy(&steady);
    pthread_mutex_init(&s->lock, NULL);
    pthread_mutex_init(&s->stop_lock, NULL);
}

static void destroy(es_tape_session *s)
{
    pthread_cond_destroy(&s->news);
    pthread_mutex_destroy(&s->lock);
    pthread_mutex_destroy(&s->stop_lock);
    free(s);
}

static es_tape_session *create(const es_session_ground *ground,
                               const es_tape_session_config *config)
{
    es_tape_session *s = calloc(1, sizeof *s); /* large */
    if (!s)
        return NULL;
    create_locks(s);
    s->config = *config;
    s->ground = es_session_ground_of(ground);
    s->over_s = (double)NAN;
    es_tape_listening *now = &s->now;
    memcpy(now->source, config->source, sizeof now->source);
    memcpy(now->record_path, config->record_path, sizeof now->record_path);
    now->rate_hz = now->left_s = now->error_percent = (double)NAN;
    return s;
}

/* Starts the worker and waits until it has opened everything, or could not. */
static es_status begin(es_tape_session *s, es_error *error)
{
    if (pthread_create(&s->thread, NULL, es_tape_session_work, s) != 0)
        return es_fail(error, ES_ERR_INTERNAL, "no-thread",
                       "The system gave no thread to listen with; close other programs.");
    s->running = 1;
    pthread_mutex_lock(&s->lock);
    while (!s->opened)
        pthread_cond_wait(&s->news, &s->lock);
    es_error opening = s->opening;
    pthread_mutex_unlock(&s->lock);
    if (opening.status == ES_OK)
        return ES_OK;
    return es_fail(error, opening.status, opening.code, "%s", opening.text);
}

es_status es_tape_session_open_on(const es_session_ground *ground,
                                  const es_tape_session_config *config, es_tape_session **out,
                                  es_error *error)
{
    *out = NULL;
    es_tape_session *s = create(ground, config);
    if (!s)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to listen.");
    es_status status = begin(s, error);
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
    if (!s)
        return;
    pthread_mutex_lock(&s->lock);
    s->stopping = 1;
    pthread_mutex_unlock(&s->lock);
    pthread_mutex_lock(&s->stop_lock);
    if (s->running)
        pthread_join(s->thread, NULL);
    s->running = 0;
    pthread_mutex_unlock(&s->stop_lock);
}

void es_tape_session_close(es_tape_session *s)
{
    if (!s)
        return;
    es_tape_session_stop(s);
    pthread_mutex_lock(&s->lock);
    while (s->inside > 0)
        pthread_cond_wait(&s->news, &s->lock);
    pthread_mutex_unlock(&s->lock);
    destroy(s);
}

/* --- what others ask --------------------------------------------------------------------- */

static struct timespec after(double seconds)
{
    struct timespec when;
    clock_gettime(CLOCK_MONOTONIC, &when);
    double whole = floor(seconds);
    when.tv_sec += (time_t)whole;
    when.tv_nsec += (long)((seconds - whole) * 1e9);
    if (when.tv_nsec >= 1000000000) {
        when.tv_nsec -= 1000000000;
        when.tv_sec++;
    }
    return when;
}

/* Under the lock: this call leaves. */
static void leave(es_tape_session *s)
{
    if (--s->inside == 0)
        pthread_cond_broadcast(&s->news);
}

int es_tape_session_next(es_tape_session *s, uint64_t *news, double timeout_s,
                         es_tape_listening *out)
{
    struct timespec until = after(fmax(timeout_s, 0.0));
    int late = 0;
    pthread_mutex_lock(&s->lock);
    s->inside++;
    while (s->now.news <= *news && !s->over && !late)
        late = pthread_cond_timedwait(&s->news, &s->lock, &until) == ETIMEDOUT;
    int got = s->now.news > *news ? 1 : s->over ? -1 : 0;
    *out = s->now;
    *news = s->now.news;
    leave(s);
    pthread_mutex_unlock(&s->lock);
    return got;
}

es_status es_tape_session_result(es_tape_session *s, es_tape_result *result, es_error *error)
{
    pthread_mutex_lock(&s->lock);
    s->inside++;
    while (!s->over)
        pthread_cond_wait(&s->news, &s->lock);
    *result = s->result;
    es_error said = s->finishing;
    leave(s);
    pthread_mutex_unlock(&s->lock);
    return said.status == ES_OK ? ES_OK : es_fail(error, said.status, said.code, "%s", said.text);
}
