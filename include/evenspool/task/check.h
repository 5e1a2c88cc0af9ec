/*
 * Check: everything that one played test tone tells about a deck, in one pass over the capture.
 *
 *   in      interleaved float frames, 1 .. 64 channels, full scale +-1.0, any block size
 *   out     es_check_result (base/check_result.h) at the end; the instantaneous speed on the way
 *   how     finder -> tone tracker -> stretches of steady tone -> modulation measures, lines,
 *           stereo -> gate (docs/methods.md)
 *   memory  constant, all of it taken in create
 *   same    the result does not depend on the block size, bit for bit
 *   thread  one check, one thread at a time
 *   rt      _push, _skip and _take_speed never allocate, lock or call the system
 */
#ifndef ES_TASK_CHECK_H
#define ES_TASK_CHECK_H

#include "evenspool/base/check_result.h"
#include "evenspool/base/error.h"
#include "evenspool/signal/tone_tracker.h"
#include "evenspool/tape/transport.h"
#include "evenspool/task/gate.h"

#include <stdint.h>

#define ES_CHECK_RATE_MIN_HZ 8000.0
#define ES_CHECK_RATE_MAX_HZ 384000.0
#define ES_CHECK_CHANNELS_MOST 64

typedef struct es_check es_check;

typedef struct es_check_config {
    double rate_hz;    /* sample rate [Hz], 8000 .. 384000                             */
    int channels;      /* 1 .. 64                                                      */
    int bits;          /* of the file's samples, 0 = unknown; only handed through      */
    int channel;       /* 0 = choose the better one, else 1 .. channels                */
    double nominal_hz; /* 0 = the test tone nearest to what is heard; else 300 .. 0.4 rate */
    es_nominal_source nominal_source; /* where a given nominal comes from                   */
    double tape_error;     /* fraction, + : its recording deck was fast; NaN = not known   */
    double tape_u;         /* its standard uncertainty, fraction; NaN = not known          */
    double clock_ppm;      /* + : the sound card samples fast; NaN = not known             */
    double start_s, end_s; /* part of the capture to measure [s]; end_s may be HUGE_VAL    */
    es_geometry geometry;  /* of the deck, for naming suspects                             */
    es_gate_limits limits;
} es_check_config;

/* One instant of the deck's speed, tape and clock taken off. */
typedef struct es_speed_sample {
    double time_s; /* of the capture        */
    double error;  /* fraction; NaN: no good tone */
} es_speed_sample;

es_check_config es_check_defaults(double rate_hz, int channels);

/* ES_ERR_ARG (error says which field), ES_ERR_NOMEM. *out is NULL on error. */
es_status es_check_create(const es_check_config *config, es_check **out, es_error *error);
void es_check_destroy(es_check *check);

/*
 * Where tone, machine and limits become known only on the way: before the first frame that is measured.
 * nominal_hz as in the config, but not 0. ES_ERR_ARG: it can't be followed; nothing was changed.
 */
es_status es_check_aim(es_check *check, double nominal_hz, es_nominal_source source,
                       const es_geometry *geometry, const es_gate_limits *limits);

/* Consumes all frames. Non-finite samples count as a gap and are reported. */
void es_check_push(es_check *check, const float *frames, size_t count);

/*
 * So many frames hold something else than the tone: their time goes by, but they count as no loss of the
 * tone, which is looked for anew afterwards.
 */
void es_check_skip(es_check *check, uint64_t count);

/*
 * The same in two halves, for a chain of two threads: hearing turns frames into readings of the tone,
 * weighing turns readings into figures. They share no state, so one thread may hear while another
 * weighs what was heard before, in the same order. es_check_take_speed() belongs to the weighing half;
 * es_check_finish() wants both at rest.
 * hear: at most ES_CHECK_HEAR_MOST frames; room for ES_CHECK_READINGS_MOST readings; returns their number.
 */
#define ES_CHECK_HEAR_MOST 16384
#define ES_CHECK_READINGS_MOST 4096
size_t es_check_hear(es_check *check, const float *frames, size_t count, es_tone_reading *out);
void es_check_weigh(es_check *check, const es_tone_reading *readings, size_t count);

/* Hands over speed samples not yet taken, oldest first; those not taken within 8 s of capture are
 * dropped. Returns how many were written to out[0 .. room). */
size_t es_check_take_speed(es_check *check, es_speed_sample *out, size_t room);

/*
 * Closes the capture and fills *result. Call once.
 * ES_ERR_INPUT with error->code: "empty", "silence", "too-short", "no-tone", "two-tones",
 * "wrong-tone", "not-finite"; *result then holds the capture facts only.
 */
es_status es_check_finish(es_check *check, es_check_result *result, es_error *error);

#endif
