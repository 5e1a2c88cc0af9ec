/*
 * Keeper: writes the raw capture to a file on a thread of its own, so that a slow disk keeps nobody
 * waiting; flushed at least once a second.
 *
 *   gaps    input that is known to be missing is written as silence, five seconds of it at most, so
 *           that what follows is not heard as if it came at once
 *   failed  the first failure ends the recording and is kept; what was written until then is whole
 *   thread  _push and _gap by one thread, _trouble by any
 *   rt      _push and _gap never wait unless `patient`
 */
#ifndef ES_LIVE_KEEPER_H
#define ES_LIVE_KEEPER_H

#include "evenspool/base/error.h"

#include <stddef.h>
#include <stdint.h>

typedef struct es_keeper es_keeper;

typedef struct es_keeper_config {
    const char *path;
    double rate_hz;
    int channels;
    int replace; /* 1: a file of that name may be replaced                    */
    int patient; /* 1: _push waits for the disk: the source is not live       */
} es_keeper_config;

/* Errors as es_recorder_open() in wave/recorder.h; ES_ERR_INTERNAL "no-thread". *out is NULL on error. */
es_status es_keeper_create(const es_keeper_config *config, es_keeper **out, es_error *error);

/* Writes what is left and closes the file. The first failure of all is told. NULL is fine. */
es_status es_keeper_finish(es_keeper *keeper, es_error *error);

void es_keeper_push(es_keeper *keeper, const float *frames, size_t count);
void es_keeper_gap(es_keeper *keeper, int64_t frames); /* -1: how many is not known */

/* 1: recording has ended by a failure; *error says which. */
int es_keeper_trouble(es_keeper *keeper, es_error *error);

#endif
