/*
 * What the device floor asks of a sound system: PortAudio, or the fake one of the tests.
 * Private to the floor. All functions are called by the thread that owns the es_sound, except
 * `take`, `fill` and `ended`, which the sound system calls from wherever it likes.
 */
#ifndef ES_DEVICE_BACKEND_H
#define ES_DEVICE_BACKEND_H

#include "device/device.h"

typedef struct es_stream_wish {
    size_t place; /* index in the list */
    int channels;
    double rate_hz, latency_s;
    void *who;
    /* One of both is NULL: an input is taken from, an output filled. The sound system calls them
     * where it must not wait, allocate or call the system. overflowed: it lost input before;
     * ran_dry: it had nothing to play for a while. */
    void (*take)(void *who, const float *frames, size_t count, int overflowed);
    void (*fill)(void *who, float *frames, size_t count, int ran_dry);
    /* The stream has ended, asked or not. */
    void (*ended)(void *who);
} es_stream_wish;

typedef struct es_backend {
    void *self;
    /* Fills a new array; *places NULL when there are none. No stream is open. */
    es_status (*list)(void *self, es_place **places, size_t *count, es_error *error);
    /* Errors as es_input_open(); *stream is NULL on error. */
    es_status (*open)(void *self, const es_stream_wish *wish, void **stream, es_error *error);
    es_status (*start)(void *self, void *stream, es_error *error);
    /* Stops and closes: once it returns, nothing of the wish is called no more. */
    void (*close)(void *self, void *stream);
    int64_t (*now_ns)(void *self); /* steady; called from take and fill too */
    void (*wait)(void *self, double seconds);
    void (*destroy)(void *self);
} es_backend;

/* Takes the backend over, also on error. ES_ERR_NOMEM and what backend.list says. */
es_status es_sound_over(es_backend backend, es_sound **out, es_error *error);

#endif
