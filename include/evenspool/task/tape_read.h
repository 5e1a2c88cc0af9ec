/*
 * Tape read: one play of the home-made test tape, one pass, every figure of an alignment.
 *
 *   in      interleaved float frames, full scale +-1.0, any block size; of more than two channels the
 *           first two
 *   out     es_tape_result (base/tape_result.h) at the end; where it stands on the way
 *   how     markers say which programme, side and section, and how fast it is played; between them
 *           times follow by the programme's plan and the speed heard. The sections' bodies are
 *           measured by the objects of floor 1, tuned to nominal x speed (docs/methods.md#tape-read)
 *   missed  a section whose marker was not heard is measured where it must be; what lies before the
 *           first marker heard is lost, since nothing is kept
 *   memory  constant, all of it taken in create
 *   same    the result does not depend on the block size, bit for bit
 *   thread  one object, one thread at a time
 *   rt      _push never allocates, locks or calls the system
 */
#ifndef ES_TASK_TAPE_READ_H
#define ES_TASK_TAPE_READ_H

#include "evenspool/base/error.h"
#include "evenspool/base/programme.h"
#include "evenspool/base/tape_result.h"
#include "evenspool/signal/marker.h"
#include "evenspool/tape/transport.h"
#include "evenspool/task/tape_limits.h"

#include <stddef.h>

typedef struct es_tape_read es_tape_read;

typedef struct es_tape_read_config {
    double rate_hz;    /* 8000 .. 384000                                                 */
    int channels;      /* 1 .. 64                                                        */
    int bits;          /* of the file's samples, 0 = unknown; only handed through        */
    double tape_error; /* fraction, + : its recording deck was fast; NaN = not known     */
    double tape_u;     /* its standard uncertainty, fraction; NaN = not known            */
    double clock_ppm;  /* + : the sound card samples fast; NaN = not known               */
    const es_programme *programme; /* beside the built-in ones; copied; NULL = none      */
    const char *label; /* programme that the tape's record names; copied; NULL or "" = not known  */
    const es_tape_limits *limits; /* copied; NULL = what is usual for the class         */
    const es_geometry
        *geometry;     /* of the deck, for naming suspects; copied; NULL = the class's usual */
    double level_dbfs; /* what the reference level should read; NaN = not known          */
    const es_tape_result *recorded; /* the same tape, read on a deck whose own response is flat;
                                       copied; NULL = not known                          */
    int recorded_here;              /* 1 = the deck under test recorded it               */
} es_tape_read_config;

es_tape_read_config es_tape_read_defaults(double rate_hz, int channels);

/* ES_ERR_ARG (error says which field), ES_ERR_NOMEM. *out is NULL on error. */
es_status es_tape_read_create(const es_tape_read_config *config, es_tape_read **out,
                              es_error *error);
void es_tape_read_destroy(es_tape_read *read);

/* Consumes all frames. Samples that are not finite count as 0. */
void es_tape_read_push(es_tape_read *read, const float *frames, size_t count);

/*
 * The same in two halves, for a chain of two threads: listening finds markers, measuring does the rest.
 * They share no state; what was listened to must be measured in the same order, with its finds.
 * listen: at most ES_TAPE_LISTEN_MOST frames; returns how many finds were written to out.
 */
#define ES_TAPE_LISTEN_MOST 16384
#define ES_TAPE_FINDS_MOST 64
typedef struct es_tape_find {
    es_marker_find marker;
    uint64_t known_at; /* frames heard when it was found */
} es_tape_find;
size_t es_tape_read_listen(es_tape_read *read, const float *frames, size_t count,
                           es_tape_find out[ES_TAPE_FINDS_MOST]);
void es_tape_read_measure(es_tape_read *read, const float *frames, size_t count,
                          const es_tape_find *finds, size_t find_count);

/* Where the tape stands. */
typedef struct es_tape_now {
    double time_s; /* of the capture                                    */
    int side;      /* 0: no marker yet; then the rest says nothing      */
    char programme[ES_PROGRAMME_NAME];
    char section[ES_PROGRAMME_NAME]; /* "": between two, or over */
    size_t index, count;             /* of sections; steps */
    size_t step;
    double left_s; /* of the side, at the speed heard */
    double speed;  /* played / nominal */
    double error;  /* of the deck, as far as it is known: fraction, tape's and clock's taken off */
    int ended;     /* 1: the marker of the side's end was heard */
    unsigned
        strange_id; /* of a programme that is not known, if markers of one were heard; else 0 */
} es_tape_now;
es_tape_now es_tape_read_now(const es_tape_read *read);

/*
 * What the result would be if the tape ended now, but without speed (a section's own is there), warnings
 * and verdicts. A section that still goes on has no figures yet, but its times are there.
 */
void es_tape_read_so_far(const es_tape_read *read, es_tape_result *result);

/*
 * Input is missing here: so many frames that were never heard, 0 when nobody knows how many. What was
 * being measured begins anew after it; time goes on. Named in the result. Only with _push.
 */
void es_tape_read_gap(es_tape_read *read, size_t frames);

/*
 * Closes the capture and fills *result. Call once.
 * ES_ERR_INPUT with error->code: "empty", "silence", "no-markers", "unknown-programme",
 * "nothing-heard"; *result then holds what is known all the same.
 */
es_status es_tape_read_finish(es_tape_read *read, es_tape_result *result, es_error *error);

#endif
