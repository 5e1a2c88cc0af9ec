/* Inside of a live session: session.c (its face), session_orders.c (what others ask of the worker),
 * session_work.c (the worker). Private to the floor and its tests. */
#ifndef ES_LIVE_SESSION_INSIDE_H
#define ES_LIVE_SESSION_INSIDE_H

#include "evenspool/task/trim.h"
#include "live/board.h"
#include "live/keeper.h"
#include "live/level.h"
#include "live/session.h"
#include "live/source.h"
#include "live/voice.h"

#include <pthread.h>

/*
 * What a session stands on. Left out (NULL): the computer's sound system, the clock, and the source
 * that the configuration names. All are called by the worker.
 */
typedef struct es_session_ground {
    void *who;
    es_status (*borrow)(void *who, es_sound **out, es_error *error);
    void (*give_back)(void *who, es_sound *sound);
    void (*wait)(void *who, double seconds); /* in place of waiting */
    es_status (*source)(void *who, es_source *out, es_error *error);
} es_session_ground;

/* The ground with what it leaves out; NULL: the usual one. */
es_session_ground es_session_ground_of(const es_session_ground *ground);

/*
 * The source of that name, unless the ground has one of its own: "device:NAME", for which *sound is borrowed
 * where it is not yet, or "file:PATH". Errors: es_source_device(), es_source_file(); ES_ERR_ARG
 * "bad-source", "unpaced".
 */
es_status es_session_source(const es_session_ground *ground, const char *source, int unpaced,
                            es_sound **sound, es_source *out, es_error *error);
/* What a source's name is after the word of its kind; NULL: it is of another kind. */
const char *es_source_after(const char *source, const char *word);

/* The recording of a source, written as it comes; path "": *out is NULL. Errors: es_keeper_create(). */
es_status es_session_keeper(const es_source *source, const char *path, int replace, int unpaced,
                            es_keeper **out, es_error *error);

/* That the device is gone, and what to do. */
void es_session_gone_words(const es_source *source, char *room, size_t size);

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
    es_session_ground ground;
    pthread_t thread;
    int running; /* the thread is to be joined; under `stop_lock` */
    pthread_mutex_t stop_lock;

    /* the worker's */
    es_source source;
    es_sound *sound; /* NULL: not borrowed */
    es_level_watch level;
    es_keeper *keeper; /* NULL: nothing is recorded, or no more */
    es_voice *voice;   /* NULL: no sound */
    float *frames;
    int64_t begun_ns;     /* when the first frame of a source that the session paces was due */
    int64_t away_ns;      /* since when the device is gone; 0: it is there                   */
    int64_t told_away_ns; /* when the listeners were told last                               */
    es_trim_snapshot last;
    uint64_t frames_most; /* end of the part to listen to */

    pthread_mutex_t coach_lock; /* guards trim: the worker pushes, others ask */
    es_trim *trim;

    pthread_mutex_t lock; /* guards what follows */
    pthread_cond_t news;  /* for everybody but the worker */
    pthread_cond_t work;  /* for the worker               */
    es_board board;
    es_session_facts facts;
    es_error opening; /* why it could not be opened */
    int opened;       /* 1: the worker has begun, well or not */
    int stopping;
    int over;     /* the worker has nothing more to give */
    int inside;   /* calls that wait in here              */
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
