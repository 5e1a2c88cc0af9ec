/*
 * Tape session: a test tape read while it plays: one source -> es_tape_read -> what is known so far, and the
 * result at the end.
 *
 *   source    "device:NAME" (NAME "": the preferred input), or "file:PATH" or "rehearse:SCENARIO", paced as if
 *             live unless unpaced; the rehearsal deck plays side a of reading.programme, NULL: of the built-in
 *             one for its class
 *   ends      by itself: at the marker of the side's end, 3 s after the side's time is over, after 30 s of
 *             silence once 10 s were heard, or with the source; else by es_tape_session_stop(). What was
 *             heard is measured in each case
 *   loss      as live/session.h: a device that vanishes is waited for; input that is missing is a gap, which
 *             the result names. A recording that can't go on is told once
 *   threads   the session owns one worker, and one more that writes the recording. Every function here
 *             may be called from any thread
 *   sound     the computer's sound system is held by one session at a time (live/desk.h)
 */
#ifndef ES_LIVE_TAPE_SESSION_H
#define ES_LIVE_TAPE_SESSION_H

#include "evenspool/base/error.h"
#include "evenspool/base/tape_result.h"
#include "live/measure_tape.h"
#include "live/session_standing.h"

#include <stdint.h>

typedef struct es_tape_session es_tape_session;

typedef struct es_tape_session_config {
    char source[512];
    int unpaced;            /* not for a device                              */
    char record_path[1024]; /* "": the raw capture is not kept               */
    int record_replace;     /* 1: a file of that name may be replaced        */
    es_measure_tape_settings
        reading; /* raw and watch are not looked at; what its pointers show is needed
                                         only until _open returns */
} es_tape_session_config;

es_tape_session_config es_tape_session_defaults(void);

typedef enum es_tape_ending {
    ES_TAPE_GOES_ON,
    ES_TAPE_END_MARKER,
    ES_TAPE_TIME_OVER,
    ES_TAPE_FELL_SILENT,
    ES_TAPE_SOURCE_OVER,
    ES_TAPE_STOPPED
} es_tape_ending;

/* Where it stands. Large. */
typedef struct es_tape_listening {
    es_session_standing standing;
    es_tape_ending ending;
    uint64_t news;         /* goes up with every change of what follows        */
    double time_s;         /* of the source                                    */
    double left_s;         /* of the side; NaN: not known yet                  */
    double error_percent;  /* of the deck so far, as far as it is known; NaN: not known yet */
    size_t index;          /* of the section in turn; the count of them: all are over */
    int measuring;         /* 1: its body is being heard; 0: its marker, or a gap       */
    unsigned strange_id;   /* of a programme that is not known but heard; 0: none */
    es_tape_result so_far; /* es_tape_read_so_far()                            */
} es_tape_listening;

/*
 * ES_ERR_ARG: the source is none of these, or a setting of es_tape_read_create(). ES_ERR_INPUT: file, scenario
 * or programme can't be used. ES_ERR_IO: the recording can't be begun. ES_ERR_DEVICE. ES_ERR_NOMEM, ES_ERR_INTERNAL
 * "no-thread". All with a sentence; *out is NULL on error.
 */
es_status es_tape_session_open(const es_tape_session_config *config, es_tape_session **out,
                               es_error *error);

/* Ends it but keeps it to be read: the recording is closed, the result is there. Twice is fine, so is NULL. */
void es_tape_session_stop(es_tape_session *session);

/* Stops and frees it, once calls that wait in it have returned. NULL is fine. */
void es_tape_session_close(es_tape_session *session);

/*
 * Waits until news are later than *news, at most timeout_s, and fills *out in any case. 1: they are, and
 * *news is moved on; 0: not in time; -1: it is over and all is told.
 */
int es_tape_session_next(es_tape_session *session, uint64_t *news, double timeout_s,
                         es_tape_listening *out);

/* Waits for the end. As es_tape_read_finish(): on ES_ERR_INPUT *result holds what is known all the same. */
es_status es_tape_session_result(es_tape_session *session, es_tape_result *result, es_error *error);

/* --- words ------------------------------------------------------------------------------- */

typedef enum es_tape_state {
    ES_TAPE_TO_COME,
    ES_TAPE_NOW,
    ES_TAPE_HEARD,
    ES_TAPE_IN_PART,
    ES_TAPE_MISSED
} es_tape_state;

/* Of the section `at` of so_far. */
es_tape_state es_tape_state_of(const es_tape_listening *now, size_t at);

/*
 * The first figures of a section that was heard, in a few words: "right later by +3.20 us, +- 0.10". "" when
 * it has none.
 */
void es_tape_section_words(const es_tape_result *result, size_t at, char *room, size_t size);

/* Why it ended, in a sentence; "" while it goes on. */
const char *es_tape_ending_words(es_tape_ending ending);

#endif
