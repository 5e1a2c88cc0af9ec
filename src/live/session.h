/*
 * Live session: one source -> the coach -> snapshots for any number of listeners.
 *
 *   source    "device:NAME" (NAME "": the preferred input), "file:PATH" or "rehearse:SCENARIO" (a
 *             built-in's name or a scenario file); file and rehearsal deck are paced as if live
 *             unless unpaced
 *   threads   the session owns one worker, and one more that writes the recording; the device
 *             callback only fills a ring. Every function here may be called from any thread.
 *   listeners each has its own cursor; one that is slow skips snapshots and is told how many; the
 *             worker never waits for it
 *   unpaced   the source goes on only when a listener asks for a snapshot that is not there yet: no
 *             snapshot is missed, and the same turns between the same snapshots give the same
 *             snapshots
 *   loss      a device that vanishes is reported within 2 s, in the facts and by snapshots without
 *             figures; the session waits and goes on when it returns
 *   sound     the computer's sound system is held by one session at a time (live/desk.h), by those
 *             that listen to a device or make a sound
 */
#ifndef ES_LIVE_SESSION_H
#define ES_LIVE_SESSION_H

#include "evenspool/base/error.h"
#include "evenspool/base/records.h"
#include "evenspool/base/trim_session.h"
#include "evenspool/base/trim_snapshot.h"
#include "live/session_standing.h"

#include <stdint.h>

typedef struct es_session es_session;

typedef struct es_session_config {
    char source[512];
    es_adjust adjust;            /* what is adjusted; speed                                       */
    char transport[ES_KEY_ROOM]; /* class of machine; "": cassette                              */
    double nominal_hz;           /* 0: the nearest test tone                                      */
    int channel;                 /* 0: the better one                                             */
    double tape_error_percent;   /* NaN: not known                                                */
    double tape_u95_percent;     /* NaN: not known                                                */
    double clock_ppm;            /* NaN: not known                                                */
    double target_percent;       /* 0; in the quantity's own unit (base/adjust.h)                 */
    double tolerance_percent;    /* 0.1; likewise                                                 */
    double reference_dbfs;       /* level: what counts as 0 dB; NaN: what is heard first          */
    int unpaced;                 /* not for a device                                              */
    double seconds;         /* of the source to listen to; NaN: all of it (a paced rehearsal  */
                            /* goes on for half an hour at least)                            */
    char record_path[1024]; /* "": the raw capture is not kept; else .wav or .flac           */
    int record_replace;     /* 1: a file of that name may be replaced                        */
} es_session_config;

es_session_config es_session_defaults(void);

typedef struct es_session_facts {
    es_session_standing standing;
    int has_trimmer;      /* the rehearsal deck: es_session_turn() works                        */
    double trimmer_turns; /* where it stands, from its start; its stops hold it                 */
    uint64_t snapshots;   /* so far: the cursor of who wants only what is still to come         */
    int sound;            /* es_session_sound()'s kind                                         */
    double sound_level_db;
    char output[128]; /* whole name of the output in use; "": none                         */
    char sound_sentence[240]; /* what is the matter with it; "" when nothing                     */
} es_session_facts;

/*
 * ES_ERR_ARG: a setting is out of range. ES_ERR_INPUT: a file or scenario can't be used. ES_ERR_IO: the
 * recording can't be begun. ES_ERR_DEVICE. ES_ERR_NOMEM, ES_ERR_INTERNAL "no-thread". All with a
 * sentence; *out is NULL on error.
 */
es_status es_session_open(const es_session_config *config, es_session **out, es_error *error);

/*
 * Ends the session but keeps it to be read: the worker has stopped, the recording is closed, the
 * listeners get what is left. Doing it twice is fine, and so is NULL.
 */
void es_session_stop(es_session *session);

/*
 * Stops and frees it, once calls that wait in it have returned; nothing may begin to use it any
 * more. NULL is fine.
 */
void es_session_close(es_session *session);

/*
 * Waits for the next snapshot after *cursor, at most timeout_s. Who begins with cursor 0 gets first
 * the oldest that is still there (six seconds back at most). 1: *out is filled, *cursor moved on,
 * *skipped says how many were missed; 0: none in time; -1: the session is over and all is handed
 * out.
 */
int es_session_next(es_session *session, uint64_t *cursor, double timeout_s, es_trim_snapshot *out,
                    uint64_t *skipped);

es_session_facts es_session_facts_of(es_session *session);

/* As found, nudges, trace and as left, so far. */
void es_session_record(es_session *session, es_trim_session *out);

/* Turns the rehearsal deck's trimmer for what is adjusted, + clockwise. ES_ERR_ARG: this source has none, or not a number
 * from -20 to 20. */
es_status es_session_turn(es_session *session, double turns);

/* Another target and tolerance, in the quantity's own unit. ES_ERR_ARG: out of range (task/trim.h); nothing changes. */
es_status es_session_aim(es_session *session, double target_percent, double tolerance_percent);

/*
 * By ear: kind 0 none, 1 reference tone, 2 magnified beat, 3 guide; peak level [dB re full scale, -80
 * .. -12]; output "" : the default one. ES_ERR_ARG: out of range, a reference tone for what has none,
 * or the session is unpaced or over.
 * ES_ERR_DEVICE, ES_ERR_NOMEM with a sentence: there is no sound then.
 */
es_status es_session_sound(es_session *session, int kind, double level_db, const char *output,
                           es_error *error);

#endif
