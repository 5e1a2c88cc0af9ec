/*
 * The life of a session: its worker's thread, from the first word that all is open to the end, and those who
 * wait in it for news.
 *
 *   lock    one lock guards what the worker tells and the others ask, here and in the session itself;
 *           functions that say so are called under it
 *   thread  any, but for es_session_life_create, _begin and _destroy: one, first and last
 */
#ifndef ES_LIVE_SESSION_LIFE_H
#define ES_LIVE_SESSION_LIFE_H

#include "evenspool/base/error.h"

#include <pthread.h>
#include <time.h>

typedef struct es_session_life {
    pthread_t thread;
    int running; /* the thread is to be joined; under `stop_lock` */
    pthread_mutex_t stop_lock;

    pthread_mutex_t lock; /* guards what follows, and what the session says */
    pthread_cond_t news;  /* for everybody but the worker */
    es_error opening;     /* why it could not be opened */
    int opened;           /* 1: the worker has begun, well or not */
    int stopping;
    int over;   /* the worker has nothing more to give */
    int inside; /* calls that wait in here             */
} es_session_life;

void es_session_life_create(es_session_life *life);
void es_session_life_destroy(es_session_life *life);

/* A condition whose waits end by the steady clock. */
void es_session_condition(pthread_cond_t *condition);
/* That clock, so many seconds from now; NaN and less than nothing: now. */
struct timespec es_session_after(double seconds);

/* Starts the worker and waits until it has opened everything, or could not: es_session_life_tell_opened().
 * ES_ERR_INTERNAL "no-thread", else what it told. */
es_status es_session_life_begin(es_session_life *life, void *(*work)(void *), void *who,
                                es_error *error);
/* Under the lock, by the worker. */
void es_session_life_tell_opened(es_session_life *life, es_status status, const es_error *error);
/* Under the lock, by the worker: the last of its words. */
void es_session_life_tell_over(es_session_life *life);

int es_session_life_stops(es_session_life *life);

/* Asks the worker to stop, and wakes it where it waits (work NULL: it does not). It waits for its end in any
 * case; twice is fine. */
void es_session_life_stop(es_session_life *life, pthread_cond_t *work);
/* After it was stopped: until the calls that wait in it have returned. */
void es_session_life_empty(es_session_life *life);

/* Under the lock: a call that waited in here leaves. */
void es_session_life_leave(es_session_life *life);

#endif
