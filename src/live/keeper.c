#include "live/keeper.h"

#include "device/ring.h"
#include "wave/recorder.h"

#include <math.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define RING_S 10.0 /* that the disk may tarry                                        */
#define LOOK_NS 100000000
#define FLUSH_S 0.5
#define BLOCK 4096       /* frames written at once                                         */
#define GAP_MOST_S 5.0   /* of silence in place of what is missing                         */
#define GAP_LEAST_S 0.01 /* also where it is not known how much is missing                */

struct es_keeper {
    es_recorder *recorder;
    es_ring *ring;
    float *block, *silence;
    double rate_hz;
    size_t channels;
    int patient, running;
    pthread_t thread;
    int64_t flushed; /* frames written at the last flush */
    int64_t written;

    pthread_mutex_t lock; /* guards what follows */
    pthread_cond_t nudged, drained;
    int stopping;
    es_error trouble; /* status ES_OK: none */
};

/* --- writing thread --------------------------------------------------------------------- */

static es_status write_block(es_keeper *k, const float *frames, size_t count, es_error *error)
{
    es_status status = es_recorder_write(k->recorder, frames, count, error);
    k->written += (int64_t)count;
    if (status == ES_OK && (double)(k->written - k->flushed) >= FLUSH_S * k->rate_hz) {
        status = es_recorder_flush(k->recorder, error);
        k->flushed = k->written;
    }
    return status;
}

static es_status write_silence(es_keeper *k, int64_t lost, es_error *error)
{
    double seconds = fmax(fmin((double)lost / k->rate_hz, GAP_MOST_S), GAP_LEAST_S);
    int64_t left = llround(seconds * k->rate_hz);
    es_status status = ES_OK;
    while (left > 0 && status == ES_OK) {
        size_t count = left < BLOCK ? (size_t)left : BLOCK;
        status = write_block(k, k->silence, count, error);
        left -= (int64_t)count;
    }
    return status;
}

/* Everything that waits. */
static es_status drain(es_keeper *k, es_error *error)
{
    es_status status = ES_OK;
    size_t count = 1;
    while (count > 0 && status == ES_OK) {
        es_gap gap;
        count = es_ring_read(k->ring, k->block, BLOCK, &gap);
        if (gap.reasons)
            status = write_silence(k, gap.lost, error);
        if (count > 0 && status == ES_OK)
            status = write_block(k, k->block, count, error);
        pthread_mutex_lock(&k->lock);
        pthread_cond_signal(&k->drained);
        pthread_mutex_unlock(&k->lock);
    }
    return status;
}

/* 0: to be stopped. */
static int await(es_keeper *k)
{
    struct timespec when;
    clock_gettime(CLOCK_MONOTONIC, &when);
    when.tv_nsec += LOOK_NS;
    if (when.tv_nsec >= 1000000000) {
        when.tv_nsec -= 1000000000;
        when.tv_sec++;
    }
    pthread_mutex_lock(&k->lock);
    if (!k->stopping)
        pthread_cond_timedwait(&k->nudged, &k->lock, &when);
    int stopping = k->stopping;
    pthread_mutex_unlock(&k->lock);
    return !stopping;
}

static void fail(es_keeper *k, es_status status, const es_error *error)
{
    pthread_mutex_lock(&k->lock);
    if (k->trouble.status == ES_OK)
        k->trouble = *error;
    k->trouble.status = status;
    pthread_cond_signal(&k->drained);
    pthread_mutex_unlock(&k->lock);
}

static void *keep(void *who)
{
    es_keeper *k = who;
    es_error error = {0};
    es_status status = ES_OK;
    for (int more = 1; more && status == ES_OK;) {
        more = await(k);
        status = drain(k, &error); /* once more after the end */
    }
    if (status != ES_OK)
        fail(k, status, &error);
    return NULL;
}

/* --- life ------------------------------------------------------------------------------- */

static void create_locks(es_keeper *k)
{
    pthread_condattr_t steady;
    pthread_condattr_init(&steady);
    pthread_condattr_setclock(&steady, CLOCK_MONOTONIC);
    pthread_cond_init(&k->nudged, &steady);
    pthread_cond_init(&k->drained, &steady);
    pthread_condattr_destroy(&steady);
    pthread_mutex_init(&k->lock, NULL);
}

static es_status no_memory(es_error *error)
{
    return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to record.");
}

static es_status create_parts(es_keeper *k, const es_keeper_config *c, es_error *error)
{
    k->block = calloc(BLOCK * k->channels, sizeof *k->block);
    k->silence = calloc(BLOCK * k->channels, sizeof *k->silence);
    if (!k->block || !k->silence ||
        es_ring_create(c->channels, (size_t)(RING_S * c->rate_hz), &k->ring) != ES_OK)
        return no_memory(error);
    es_recorder_settings settings = {
        .rate_hz = (int)lround(c->rate_hz), .channels = c->channels, .replace = c->replace};
    return es_recorder_open(c->path, &settings, &k->recorder, error);
}

es_status es_keeper_create(const es_keeper_config *config, es_keeper **out, es_error *error)
{
    *out = NULL;
    es_keeper *k = calloc(1, sizeof *k);
    if (!k)
        return no_memory(error);
    k->rate_hz = config->rate_hz;
    k->channels = (size_t)config->channels;
    k->patient = config->patient;
    create_locks(k);
    es_status status = create_parts(k, config, error);
    if (status == ES_OK && pthread_create(&k->thread, NULL, keep, k) != 0)
        status = es_fail(error, ES_ERR_INTERNAL, "no-thread",
                         "The system gave no thread to record with; close other programs.");
    k->running = status == ES_OK;
    if (status == ES_OK)
        *out = k;
    else
        es_keeper_finish(k, NULL);
    return status;
}

static void stop(es_keeper *k)
{
    pthread_mutex_lock(&k->lock);
    k->stopping = 1;
    pthread_cond_signal(&k->nudged);
    pthread_mutex_unlock(&k->lock);
    if (k->running)
        pthread_join(k->thread, NULL);
    k->running = 0;
}

es_status es_keeper_finish(es_keeper *k, es_error *error)
{
    if (!k)
        return ES_OK;
    stop(k);
    es_error closing = {0};
    es_status status = k->trouble.status, closed = es_recorder_close(k->recorder, &closing);
    if (status != ES_OK)
        es_fail(error, status, k->trouble.code, "%s", k->trouble.text);
    else if (closed != ES_OK)
        status = es_fail(error, closed, closing.code, "%s", closing.text);
    es_ring_destroy(k->ring);
    pthread_cond_destroy(&k->nudged);
    pthread_cond_destroy(&k->drained);
    pthread_mutex_destroy(&k->lock);
    free(k->block);
    free(k->silence);
    free(k);
    return status;
}

/* --- the other thread ------------------------------------------------------------------- */

static void await_room(es_keeper *k, size_t count)
{
    pthread_mutex_lock(&k->lock);
    while (es_ring_room(k->ring) - es_ring_waiting(k->ring) < count && k->trouble.status == ES_OK) {
        pthread_cond_signal(&k->nudged);
        pthread_cond_wait(&k->drained, &k->lock);
    }
    pthread_mutex_unlock(&k->lock);
}

void es_keeper_push(es_keeper *k, const float *frames, size_t count)
{
    if (k->patient)
        await_room(k, count);
    es_ring_write(k->ring, frames, count);
}

void es_keeper_gap(es_keeper *k, int64_t frames)
{
    es_ring_gap(k->ring, (es_gap){.reasons = ES_GAP_AWAY, .since_frame = -1, .lost = frames});
}

int es_keeper_trouble(es_keeper *k, es_error *error)
{
    pthread_mutex_lock(&k->lock);
    int troubled = k->trouble.status != ES_OK;
    if (troubled)
        *error = k->trouble;
    pthread_mutex_unlock(&k->lock);
    return troubled;
}
