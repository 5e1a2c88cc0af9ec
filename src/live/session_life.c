/* The life of all live sessions: worker, locks, and those who wait. */
#include "live/session_life.h"

#include <math.h>

void es_session_condition(pthread_cond_t *condition)
{
    pthread_condattr_t steady;
    pthread_condattr_init(&steady);
    pthread_condattr_setclock(&steady, CLOCK_MONOTONIC);
    pthread_cond_init(condition, &steady);
    pthread_condattr_destroy(&steady);
}

struct timespec es_session_after(double seconds)
{
    struct timespec when;
    clock_gettime(CLOCK_MONOTONIC, &when);
    seconds = seconds > 0.0 ? fmin(seconds, 1e6) : 0.0; /* NaN: not at all */
    double whole = floor(seconds);
    when.tv_sec += (time_t)whole;
    when.tv_nsec += (long)((seconds - whole) * 1e9);
    if (when.tv_nsec >= 1000000000) {
        when.tv_nsec -= 1000000000;
        when.tv_sec++;
    }
    return when;
}

void es_session_life_create(es_session_life *life)
{
    es_session_condition(&life->news);
    pthread_mutex_init(&life->lock, NULL);
    pthread_mutex_init(&life->stop_lock, NULL);
}

void es_session_life_destroy(es_session_life *life)
{
    pthread_cond_destroy(&life->news);
    pthread_mutex_destroy(&life->lock);
    pthread_mutex_destroy(&life->stop_lock);
}

es_status es_session_life_begin(es_session_life *life, void *(*work)(void *), void *who,
                                es_error *error)
{
    if (pthread_create(&life->thread, NULL, work, who) != 0)
        return es_fail(error, ES_ERR_INTERNAL, "no-thread",
                       "The system gave no thread to listen with; close other programs.");
    life->running = 1;
    pthread_mutex_lock(&life->lock);
    while (!life->opened)
        pthread_cond_wait(&life->news, &life->lock);
    es_error opening = life->opening;
    pthread_mutex_unlock(&life->lock);
    if (opening.status == ES_OK)
        return ES_OK;
    return es_fail(error, opening.status, opening.code, "%s", opening.text);
}

void es_session_life_tell_opened(es_session_life *life, es_status status, const es_error *error)
{
    life->opening = *error;
    life->opening.status = status;
    life->opened = 1;
    pthread_cond_broadcast(&life->news);
}

void es_session_life_tell_over(es_session_life *life)
{
    life->over = 1;
    pthread_cond_broadcast(&life->news);
}

int es_session_life_stops(es_session_life *life)
{
    pthread_mutex_lock(&life->lock);
    int stopping = life->stopping;
    pthread_mutex_unlock(&life->lock);
    return stopping;
}

void es_session_life_stop(es_session_life *life, pthread_cond_t *work)
{
    pthread_mutex_lock(&life->lock);
    life->stopping = 1;
    if (work)
        pthread_cond_broadcast(work);
    pthread_mutex_unlock(&life->lock);
    pthread_mutex_lock(&life->stop_lock); /* joined once, and everybody waits for it */
    if (life->running)
        pthread_join(life->thread, NULL);
    life->running = 0;
    pthread_mutex_unlock(&life->stop_lock);
}

void es_session_life_empty(es_session_life *life)
{
    pthread_mutex_lock(&life->lock);
    while (life->inside > 0)
        pthread_cond_wait(&life->news, &life->lock);
    pthread_mutex_unlock(&life->lock);
}

void es_session_life_leave(es_session_life *life)
{
    if (--life->inside == 0 && life->over)
        pthread_cond_broadcast(&life->news);
}
