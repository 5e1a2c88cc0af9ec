#include "live/stage.h"

#include <pthread.h>
#include <stdlib.h>

#define BLOCKS 8
#define WAKE_AT (BLOCKS / 2) /* wake the other side for a batch: waking costs more than a block */

typedef struct block {
    size_t count;
    void *at;
} block;

struct es_stage {
    es_stage_fill *fill;
    void *who;
    pthread_t thread;
    int running;

    block blocks[BLOCKS];
    int holding; /* 1: the caller works on blocks[taken % BLOCKS] */

    pthread_mutex_t lock; /* guards what follows */
    pthread_cond_t filled_up, emptied;
    unsigned filled, taken; /* blocks since the start */
    int ended, stopping;
    es_status status;
    es_error error;
};

/* --- the stage's thread -------------------------------------------------------------- */

/* A block to fill, or NULL: nobody wants more. */
static block *free_block(es_stage *s)
{
    pthread_mutex_lock(&s->lock);
    if (s->filled - s->taken == BLOCKS)
        while (s->filled - s->taken > BLOCKS - WAKE_AT && !s->stopping)
            pthread_cond_wait(&s->emptied, &s->lock);
    block *next = s->stopping ? NULL : &s->blocks[s->filled % BLOCKS];
    pthread_mutex_unlock(&s->lock);
    return next;
}

static void hand_on(es_stage *s)
{
    pthread_mutex_lock(&s->lock);
    s->filled++;
    if (s->filled - s->taken == WAKE_AT)
        pthread_cond_signal(&s->filled_up);
    pthread_mutex_unlock(&s->lock);
}

static void end(es_stage *s, es_status status, const es_error *error)
{
    pthread_mutex_lock(&s->lock);
    s->status = status;
    s->error = *error;
    s->ended = 1;
    pthread_cond_signal(&s->filled_up);
    pthread_mutex_unlock(&s->lock);
}

static void *fill_all(void *who)
{
    es_stage *s = who;
    es_error error = {0};
    es_status status = ES_OK;
    block *b;
    while (status == ES_OK && (b = free_block(s))) {
        status = s->fill(s->who, b->at, &b->count, &error);
        if (status != ES_OK || b->count == 0)
            break;
        hand_on(s);
    }
    end(s, status, &error);
    return NULL;
}

/* --- caller ---------------------------------------------------------------------------- */

static int create_blocks(es_stage *s, size_t bytes)
{
    for (size_t i = 0; i < BLOCKS; i++) {
        s->blocks[i].at = calloc(1, bytes);
        if (!s->blocks[i].at)
            return 0;
    }
    return 1;
}

es_status es_stage_create(es_stage_fill *fill, void *who, size_t block_bytes, es_stage **out,
                          es_error *error)
{
    *out = NULL;
    es_stage *s = calloc(1, sizeof *s);
    if (!s)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to read it.");
    s->fill = fill;
    s->who = who;
    pthread_mutex_init(&s->lock, NULL);
    pthread_cond_init(&s->filled_up, NULL);
    pthread_cond_init(&s->emptied, NULL);
    es_status status = ES_OK;
    if (!create_blocks(s, block_bytes))
        status =
            es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to read it.");
    else if (pthread_create(&s->thread, NULL, fill_all, s) != 0)
        status = es_fail(error, ES_ERR_INTERNAL, "no-thread",
                         "The system gave no thread to read with; close other programs.");
    s->running = status == ES_OK;
    if (status == ES_OK)
        *out = s;
    else
        es_stage_destroy(s);
    return status;
}

void es_stage_destroy(es_stage *s)
{
    if (!s)
        return;
    if (s->running) {
        pthread_mutex_lock(&s->lock);
        s->stopping = 1;
        pthread_cond_signal(&s->emptied);
        pthread_mutex_unlock(&s->lock);
        pthread_join(s->thread, NULL);
    }
    for (size_t i = 0; i < BLOCKS; i++)
        free(s->blocks[i].at);
    pthread_cond_destroy(&s->emptied);
    pthread_cond_destroy(&s->filled_up);
    pthread_mutex_destroy(&s->lock);
    free(s);
}

/* Gives the block in hand back and waits for a batch, or for the end. */
static const block *next_block(es_stage *s, es_status *status, es_error *error)
{
    const block *next = NULL;
    pthread_mutex_lock(&s->lock);
    if (s->holding) {
        s->taken++;
        if (s->filled - s->taken == BLOCKS - WAKE_AT)
            pthread_cond_signal(&s->emptied);
    }
    if (s->filled == s->taken)
        while (s->filled - s->taken < WAKE_AT && !s->ended)
            pthread_cond_wait(&s->filled_up, &s->lock);
    s->holding = s->filled != s->taken;
    if (s->holding)
        next = &s->blocks[s->taken % BLOCKS];
    else if (s->status != ES_OK)
        *status = es_fail(error, s->status, s->error.code, "%s", s->error.text);
    pthread_mutex_unlock(&s->lock);
    return next;
}

const void *es_stage_take(es_stage *s, size_t *count, es_status *status, es_error *error)
{
    const block *next = next_block(s, status, error);
    *count = next ? next->count : 0;
    return next ? next->at : NULL;
}
