/*
 * What all live sessions stand on: a source, its level, the recording of it, and what is told of them.
 *
 *   in      blocks of a source, as it has them or as they are due
 *   out     the same blocks and gaps, to whoever listens; the recording
 *   thread  all calls by the session's worker; es_session_ground_of(), es_session_standing_of() by any
 */
#ifndef ES_LIVE_SESSION_GROUND_H
#define ES_LIVE_SESSION_GROUND_H

#include "evenspool/base/error.h"
#include "live/keeper.h"
#include "live/level.h"
#include "live/session_standing.h"
#include "live/source.h"

#define ES_SESSION_BLOCK 1024   /* frames handed on at once           */
#define ES_SESSION_TICK_S 0.005 /* between looks at the source        */

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

/* The steady clock. */
int64_t es_session_now_ns(void);

/* What a source's name is after the word of its kind; NULL: it is of another kind. */
const char *es_source_after(const char *source, const char *word);

/* What a session hears, and where it is kept. Zeroed, but for `ground`, before its first call. */
typedef struct es_session_line {
    es_session_ground ground;
    es_source source;
    es_sound *sound;      /* NULL: not borrowed                                                 */
    es_keeper *keeper;    /* NULL: nothing is recorded, or no more                              */
    es_level_watch level; /* of `channel`                                                       */
    int channel;          /* 0: of all                                                          */
    float *frames;        /* a block                                                            */
    int64_t begun_ns;     /* when the first frame of a source that the session paces was due    */
} es_session_line;

/*
 * Opens the source of that name, unless the ground has one of its own: "device:NAME", for which the sound
 * system is borrowed where it is not yet, or "file:PATH". Errors: es_source_device(), es_source_file();
 * ES_ERR_ARG "bad-source", "unpaced".
 */
es_status es_session_line_open(es_session_line *line, const char *source, int unpaced,
                               es_error *error);

/* The source is open: begins the recording, written as it comes (path "": none), and the time. Errors:
 * es_keeper_create(), ES_ERR_NOMEM. */
es_status es_session_line_begin(es_session_line *line, const char *path, int replace, int unpaced,
                                es_error *error);

/* Closes all but the recording, which is es_keeper_finish()ed before, and gives back what was borrowed. */
void es_session_line_close(es_session_line *line);

/* Frames that may be taken now in real time, when so many were heard. */
int64_t es_session_line_due(const es_session_line *line, uint64_t heard);

/* Who is given what was taken. */
typedef struct es_session_taker {
    void *who;
    void (*gap)(void *who, int64_t lost); /* before the frames; -1: not known how long */
    void (*frames)(void *who, const float *frames, size_t count);
} es_session_taker;

/* Takes as many frames as are there, `most` at the most; the recording and the level get them, too. */
es_source_state es_session_line_pull(es_session_line *line, int64_t most,
                                     const es_session_taker *taker, es_error *error);

/* Looks after the recording. ES_OK: all is well; else it has ended, once, and the error says why. */
es_status es_session_line_watch(es_session_line *line, es_error *error);

/* --- what is told of it: under the lock of the session's life ------------------------------ */

/* Before anything is open; the path of the recording is "" without one. */
es_session_standing es_session_standing_of(const char *source, const char *record_path);
void es_session_standing_opened(es_session_standing *standing, const es_source *source);
void es_session_standing_level(es_session_standing *standing, const char *words);

void es_session_standing_say(es_session_standing *standing, es_session_phase phase,
                             es_status status, const char *sentence);
/* It is over, unless it has failed. */
void es_session_standing_over(es_session_standing *standing);

/* Recording has stopped: why. */
void es_session_standing_unkept(es_session_standing *standing, const es_error *error);

/* That the device is gone, and what to do. */
void es_session_gone_words(const es_source *source, char *room, size_t size);

#endif
