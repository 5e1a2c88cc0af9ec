/* Inside of a live session: session.c (its face), session_orders.c (what others ask of the worker),
 * session_work.c (the worker). Private to the floor and its tests. */
#ifndef ES_LIVE_SESSION_INSIDE_H
#define ES_LIVE_SESSION_INSIDE_H

#include "evenspool/task/trim.h"
#include "live/board.h"
#include "live/session.h"
#include "live/session_ground.h"
#include "live/session_life.h"
#include "live/voice.h"

/* As es_session_open(); ground NULL: the usual one. */
es_status es_session_open_on(const es_session_ground *ground, const es_session_config *config,
                             es_session **out, es_error *error);

typedef struct es_sound_order {
    int asked, answered;
    int kind;
    double level_db;
    char output[128];
    es_error answer; /* status ES_OK: done */
} es_sound_order;

struct es_session {
    es_session_config config;
    es_session_life life; /* its lock guards what is said so below */

    /* the worker's */
    es_session_line line;
    es_voice *voice;      /* NULL: no sound */
    int64_t away_ns;      /* since when the device is gone; 0: it is there                   */
    int64_t told_away_ns; /* when the listeners were told last                               */
    es_trim_snapshot last;
    uint64_t frames_most; /* end of the part to listen to */

    pthread_mutex_t coach_lock; /* guards trim: the worker pushes, others ask */
    es_trim *trim;

    pthread_cond_t work; /* for the worker; what follows is under the life's lock */
    es_board board;
    es_session_facts facts;
    double turns; /* asked for and not done yet */
    es_sound_order order;
};

/* The coach takes fractions of the speed, and other quantities in their own unit. */
static inline double es_session_unit(const es_session_config *config)
{
    return config->adjust == ES_ADJUST_SPEED ? 0.01 : 1.0;
}

/* The worker, from opening the source to the end. */
void *es_session_work(void *who);

/* Does what was asked of the worker; 0: it is asked to stop. */
int es_session_obey(es_session *session);

/* The sound system, borrowed when it is not yet. */
es_status es_session_need_sound(es_session *session, es_error *error);

#endif
