/*
 * Trim: the coach of a hand on a trimmer or screw, for speed, azimuth, level or balance
 * (base/adjust.h).
 *
 *   in      interleaved float frames, 1 .. 64 channels, full scale +-1.0, any block size, of a deck
 *           that plays a test tone (speed, level), or the like in its first two channels (azimuth,
 *           balance); lost input as gaps
 *   out     20 snapshots a second of the source's own time (base/trim_snapshot.h); the session's
 *           record (base/trim_session.h)
 *   how     what it listens with: finder -> quick tone tracker for the speed, else what both channels
 *           differ by (signal/pair.h), the delay put where the whole sound has it (signal/delay.h);
 *           then for all: steady swings off -> steps told from what is left -> efficient mean since
 *           the last step, with u95 -> what the nudges so far teach about the trimmer -> one sentence
 *           (docs/methods.md#trim, #azimuth-coach)
 *   memory  constant, all of it taken in create
 *   same    the snapshots do not depend on the block size, bit for bit
 *   thread  one coach, one thread at a time
 *   rt      nothing but _create allocates, locks or calls the system
 */
#ifndef ES_TASK_TRIM_H
#define ES_TASK_TRIM_H

#include "evenspool/base/error.h"
#include "evenspool/base/trim_session.h"
#include "evenspool/base/trim_snapshot.h"
#include "evenspool/tape/transport.h"

#define ES_TRIM_SNAPSHOTS_HZ 20.0
#define ES_TRIM_QUEUE 64 /* snapshots not taken: the oldest are dropped beyond this */

typedef struct es_trim es_trim;

/* When turning is no longer the cure. */
typedef struct es_trim_limits {
    double drift_per_min; /* a steady drift beyond this share of the speed [fraction/min]       */
    int nudges_most;      /* so many without reaching the target                                */
    double short_share;   /* a turn that does less than this part of what it should have done   */
    double patience_s;    /* asked for a turn, nothing changes: say so after this time          */
} es_trim_limits;

typedef struct es_trim_config {
    double rate_hz;    /* sample rate [Hz], 8000 .. 384000                                      */
    int channels;      /* 1 .. 64                                                               */
    int channel;       /* 0 = choose the better one, else 1 .. channels                         */
    es_adjust adjust;  /* what is adjusted                                                      */
    double nominal_hz; /* 0 = the test tone nearest to what is heard; else 300 .. 0.4 rate      */
    double tape_error; /* fraction, + : its recording deck was fast; NaN = not known            */
    double tape_u;     /* its standard uncertainty, fraction; NaN = not known                   */
    double clock_ppm;  /* + : the sound card samples fast; NaN = not known                      */
    /* What is wanted, and how near is near enough. Speed: fractions, +-0.1 and 0.0001 .. 0.05; else
     * the unit and the limits of base/adjust.h. */
    double target, tolerance;
    double
        reference_dbfs; /* level: what counts as 0 dB [dBFS of a sine]; NaN: what is heard first */
    double hold_s; /* quiet time after the tool was taken away, for the final reading, 1 .. 60 */
    es_geometry geometry; /* capstan and tape thickness give its turning time; 0 = found by ear */
    es_trim_limits limits;
} es_trim_config;

/* Target 0, tolerance 0.1 %, hold 3 s, a cassette deck of unknown sizes. */
es_trim_config es_trim_defaults(double rate_hz, int channels);

/* The same for another quantity, with its usual tolerance. */
es_trim_config es_trim_defaults_for(es_adjust adjust, double rate_hz, int channels);

/* ES_ERR_ARG (error says which field), ES_ERR_NOMEM. *out is NULL on error. */
es_status es_trim_create(const es_trim_config *config, es_trim **out, es_error *error);
void es_trim_destroy(es_trim *trim);

/* Consumes all frames (non-finite samples count as silence). Returns how many snapshots wait to be
 * taken. At most three seconds at a time if none is to be lost. */
size_t es_trim_push(es_trim *trim, const float *frames, size_t count);

/* Input of that length was lost: time goes on, nothing is averaged across it. The like of _push. */
size_t es_trim_gap(es_trim *trim, size_t frames);

/* Hands over the oldest snapshot that waits. 1: *out was filled; 0: none waits. */
int es_trim_take(es_trim *trim, es_trim_snapshot *out);

/* Things as they stand now, without taking anything. */
void es_trim_now(const es_trim *trim, es_trim_snapshot *out);

/* The session so far. */
void es_trim_session_of(const es_trim *trim, es_trim_session *out);

/* Another target and tolerance (as in the configuration) from now on. ES_ERR_ARG: out of range;
 * nothing changes. */
es_status es_trim_aim(es_trim *trim, double target, double tolerance);

#endif
