/*
 * Source: where the frames of a live session come from: a device, a file, the rehearsal deck, or
 * something of a test's.
 *
 *   thread  all calls by the session's worker
 *   waits   never longer than a disk does
 */
#ifndef ES_LIVE_SOURCE_H
#define ES_LIVE_SOURCE_H

#include "device/device.h"
#include "evenspool/base/error.h"
#include "evenspool/base/programme.h"
#include "evenspool/tape/rehearsal.h"

#include <stddef.h>
#include <stdint.h>

typedef enum es_source_state {
    ES_SOURCE_RUNNING,
    ES_SOURCE_WAITING, /* the device is gone; it is looked for       */
    ES_SOURCE_ENDED,   /* nothing comes any more                     */
    ES_SOURCE_FAILED   /* nothing comes any more, and error says why */
} es_source_state;

typedef struct es_taken {
    size_t count; /* frames                                                                */
    int gap;      /* 1: input is missing just before the first of them                     */
    int64_t lost; /* how many frames that were, as far as is known; -1: not known          */
} es_taken;

typedef struct es_source {
    void *self;
    char name[128]; /* of the device; "": there is none */
    double rate_hz;
    int channels;
    int paces_itself; /* 1: what it has is to be taken as it comes; 0: the session keeps the time */

    /* Up to room frames that are there. RUNNING with count 0: none at the moment. */
    es_source_state (*take)(void *self, float *frames, size_t room, es_taken *out, es_error *error);
    /* Turns a trimmer; returns where its slot then stands [turns from where it began]. NULL: there
     * is none. */
    double (*turn)(void *self, double turns);
    void (*close)(void *self);
} es_source;

/* "file:PATH", that is. ES_ERR_INPUT (whatever the reason), ES_ERR_NOMEM. */
es_status es_source_file(const char *path, es_source *out, es_error *error);

/*
 * The rehearsal deck at 48 kHz, for as long as the scenario says but no less than least_s; `screw`
 * is what its turn turns. Errors as es_scenario_load(), an unreadable file being ES_ERR_INPUT.
 */
es_status es_source_rehearsal(const char *scenario, double least_s, es_screw screw, es_source *out,
                              es_error *error);

/*
 * The same with a test tape in it, from the beginning of the side to its end; nothing is turned. programme
 * NULL: the built-in one for the deck's class. Errors besides: as es_practice_tape_create().
 */
es_status es_source_rehearsal_tape(const char *scenario, const es_programme *programme, size_t side,
                                   es_source *out, es_error *error);

/* An input of the sound system, "" the preferred one. Errors as es_input_open(). */
es_status es_source_device(es_sound *sound, const char *name, es_source *out, es_error *error);

#endif
