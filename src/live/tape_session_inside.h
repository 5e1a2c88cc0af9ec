/* Inside of a tape session: tape_session.c (its face), tape_session_work.c (the worker). Private to the floor
 * and its tests. */
#ifndef ES_LIVE_TAPE_SESSION_INSIDE_H
#define ES_LIVE_TAPE_SESSION_INSIDE_H

#include "evenspool/task/tape_read.h"
#include "live/session_ground.h"
#include "live/session_life.h"
#include "live/tape_session.h"

/* As es_tape_session_open(); ground NULL: the usual one. */
es_status es_tape_session_open_on(const es_session_ground *ground,
                                  const es_tape_session_config *config, es_tape_session **out,
                                  es_error *error);

/* Whether there is still something to hear: by windows of a quarter of a second. */
typedef struct es_tape_quiet {
    size_t window_frames, at;
    float peak, loudest;
    double heard_s, quiet_s;
} es_tape_quiet;

struct es_tape_session {
    es_tape_session_config config;
    es_session_life life; /* its lock guards what is said so below */

    /* the worker's */
    es_session_line line;
    es_tape_read *read;
    uint64_t heard;    /* frames                                                         */
    uint64_t told;     /* of them when it was told last                                  */
    size_t told_index; /* section in turn when it was told last                          */
    double over_s;     /* of the source: when the side's time was over; NaN: it is not    */
    es_tape_quiet quiet;

    /* under the life's lock */
    es_tape_listening now;
    es_tape_result result;
    es_error finishing; /* what es_tape_read_finish() said */
};

/* The worker, from opening the source to the result. */
void *es_tape_session_work(void *who);

#endif
