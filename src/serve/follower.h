/*
 * Follower: the thread that follows a session into the feed, and how it is told to stop.
 *
 *   thread  all calls by one thread, but for es_follower_is_done(): the follower's own
 */
#ifndef ES_SERVE_FOLLOWER_H
#define ES_SERVE_FOLLOWER_H

#include "evenspool/base/error.h"

#include <pthread.h>

#define ES_FOLLOWER_WAIT_S 0.1 /* how soon the follower has to look whether it is done */

typedef struct es_follower {
    pthread_t thread;
    int runs;
    pthread_mutex_t lock; /* guards what follows */
    int stopping;
} es_follower;

void es_follower_create(es_follower *follower);
/* After its end. */
void es_follower_destroy(es_follower *follower);

/* ES_ERR_INTERNAL "no-thread". */
es_status es_follower_start(es_follower *follower, void *(*follow)(void *), void *who,
                            es_error *error);
/* Tells it to stop and waits for its end; nothing where none was started. */
void es_follower_end(es_follower *follower);

/* 1: it is to stop. */
int es_follower_is_done(es_follower *follower);

#endif
