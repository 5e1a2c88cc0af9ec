#include "serve/hands.h"

#include <pthread.h>
#include <stdlib.h>
#include <time.h>

struct es_hands {
    pthread_t thread;
    int running;
    double idle_s;
    void (*idle)(void *who);
    void *who;

    pthread_mutex_t lock; /* guards what follows */
    pthread_cond_t came, rested;
    es_errand *first, **last;
    int busy, ending;
};

static struct timespec later(double seconds)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    long nanoseconds = t.tv_nsec + (long)((seconds - (double)(long)seconds) * 1e9);
    t.tv_sec += (time_t)seconds + nanoseconds / 1000000000;
    t.tv_nsec = nanoseconds % 1000000000;
    return t;
}

static int is_past(struct timespec at)
{
    struct timespec t = later(0.0);
    return t.tv_sec > at.tv_sec || (t.tv_sec == at.tv_sec && t.tv_nsec >= at.tv_nsec);
}

/* --- thread -------------------------------------------------------------------------------- */

static es_errand *next_errand(es_hands *h)
{
    es_errand *e = h->first;
    if (e) {
        h->first = e->next;
        if (!h->first)
            h->last = &h->first;
    }
    return e;
}

/* With the lock held on both ends, let go in between. */
static void do_errand(es_hands *h, es_errand *e)
{
    h->busy = 1;
    pthread_mutex_unlock(&h->lock);
    e->run(e);
    pthread_mutex_lock(&h->lock);
    h->busy = 0;
    e->done(e);
}

static void *work(void *who)
{
    es_hands *h = who;
    struct timespec idle_at = later(h->idle_s);
    pthread_mutex_lock(&h->lock);
    while (h->first || !h->ending) {
        es_errand *e = next_errand(h);
        if (e) {
            do_errand(h, e);
            continue;
        }
        pthread_cond_broadcast(&h->rested);
        pthread_cond_timedwait(&h->came, &h->lock, &idle_at);
        if (is_past(idle_at)) {
            pthread_mutex_unlock(&h->lock);
            h->idle(h->who);
            idle_at = later(h->idle_s);
            pthread_mutex_lock(&h->lock);
        }
    }
    pthread_cond_broadcast(&h->rested);
    pthread_mutex_unlock(&h->lock);
    return NULL;
}

/* --- life ---------------------------------------------------------------------------------- */

static void make_ready(es_hands *h)
{
    pthread_condattr_t clock;
    pthread_condattr_init(&clock);
    pthread_condattr_setclock(&clock, CLOCK_MONOTONIC);
    pthread_mutex_init(&h->lock, NULL);
    pthread_cond_init(&h->came, &clock);
    pthread_cond_init(&h->rested, &clock);
    pthread_condattr_destroy(&clock);
    h->last = &h->first;
}

es_status es_hands_start(double idle_s, void (*idle)(void *who), void *who, es_hands **out,
                         es_error *error)
{
    *out = NULL;
    es_hands *h = calloc(1, sizeof *h);
    if (!h)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    *h = (es_hands){.idle_s = idle_s, .idle = idle, .who = who};
    make_ready(h);
    h->running = pthread_create(&h->thread, NULL, work, h) == 0;
    if (!h->running) {
        es_hands_destroy(h);
        return es_fail(error, ES_ERR_INTERNAL, "no-thread",
                       "The computer refused another thread; close other programs.");
    }
    *out = h;
    return ES_OK;
}

void es_hands_end(es_hands *hands)
{
    if (!hands->running)
        return;
    pthread_mutex_lock(&hands->lock);
    hands->ending = 1;
    pthread_cond_signal(&hands->came);
    pthread_mutex_unlock(&hands->lock);
    pthread_join(hands->thread, NULL);
    hands->running = 0;
}

void es_hands_destroy(es_hands *hands)
{
    if (!hands)
        return;
    es_hands_end(hands);
    pthread_cond_destroy(&hands->came);
    pthread_cond_destroy(&hands->rested);
    pthread_mutex_destroy(&hands->lock);
    free(hands);
}

/* --- errands ------------------------------------------------------------------------------- */

int es_hands_take(es_hands *hands, es_errand *errand)
{
    pthread_mutex_lock(&hands->lock);
    int taken = !hands->ending;
    if (taken) {
        errand->next = NULL;
        *hands->last = errand;
        hands->last = &errand->next;
        if (errand->hold)
            errand->hold(errand);
        pthread_cond_signal(&hands->came);
    }
    pthread_mutex_unlock(&hands->lock);
    return taken;
}

void es_hands_wait(es_hands *hands)
{
    pthread_mutex_lock(&hands->lock);
    while (hands->first || hands->busy)
        pthread_cond_wait(&hands->rested, &hands->lock);
    pthread_mutex_unlock(&hands->lock);
}
