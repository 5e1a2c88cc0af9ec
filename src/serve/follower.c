#include "serve/follower.h"

void es_follower_create(es_follower *f)
{
    f->runs = f->stopping = 0;
    pthread_mutex_init(&f->lock, NULL);
}

void es_follower_destroy(es_follower *f)
{
    pthread_mutex_destroy(&f->lock);
}

static void set_stopping(es_follower *f, int stopping)
{
    pthread_mutex_lock(&f->lock);
    f->stopping = stopping;
    pthread_mutex_unlock(&f->lock);
}

es_status es_follower_start(es_follower *f, void *(*follow)(void *), void *who, es_error *error)
{
    set_stopping(f, 0);
    f->runs = pthread_create(&f->thread, NULL, follow, who) == 0;
    return f->runs ? ES_OK
                   : es_fail(error, ES_ERR_INTERNAL, "no-thread",
                             "The computer refused another thread; close other programs.");
}

void es_follower_end(es_follower *f)
{
    set_stopping(f, 1);
    if (f->runs)
        pthread_join(f->thread, NULL);
    f->runs = 0;
}

int es_follower_is_done(es_follower *f)
{
    pthread_mutex_lock(&f->lock);
    int stopping = f->stopping;
    pthread_mutex_unlock(&f->lock);
    return stopping;
}
