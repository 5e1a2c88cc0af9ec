/*
 * Bench: the one session that is served, and the thread that follows it into the feed.
 *
 *   numbers  each session gets a number, 1 upward; 0: there is none
 *   feed     every snapshot as evenspool.trim/1 at once; the facts (evenspool.bench/1) four times a
 *            second and whenever something was done
 *   job      what a session came to can be taken once, to be kept in the records
 *   thread   all calls by one thread; es_bench_create and _destroy may be called by another, before
 *            and after it; es_bench_kept by any
 */
#ifndef ES_SERVE_BENCH_H
#define ES_SERVE_BENCH_H

#include "evenspool/base/error.h"
#include "evenspool/base/records.h"
#include "live/session.h"
#include "serve/feed.h"

typedef struct es_bench es_bench;

/* Whom the bench works for, as the records know them; "": not said. */
typedef struct es_visit {
    char deck[ES_NAME_ROOM], tape[ES_NAME_ROOM];
} es_visit;

/* What a session leaves for the records. */
typedef struct es_bench_job {
    int session;
    char opened_at[ES_TIME_ROOM], closed_at[ES_TIME_ROOM];
    es_trim_session record;
} es_bench_job;

/* config: what settings there are before anything was started. ES_ERR_NOMEM; *out NULL on error. */
es_status es_bench_create(const es_session_config *config, es_feed *feed, es_bench **out);
/* Stops the session. NULL is fine. */
void es_bench_destroy(es_bench *bench);

/* Closes the session that is there, if one is, and opens another. Errors: es_session_open(); and
 * ES_ERR_INTERNAL "no-thread". Then there is none. */
es_status es_bench_start(es_bench *bench, const es_session_config *config, const es_visit *visit,
                         es_error *error);
/* Ends the session, but keeps it to be looked at. */
void es_bench_stop(es_bench *bench);
/* Puts it away: there is none then. */
void es_bench_clear(es_bench *bench);

/* ES_ERR_ARG "no-session", "no-trimmer". */
es_status es_bench_turn(es_bench *bench, double turns, es_error *error);

/* ES_ERR_ARG "no-session"; else es_session_sound(). */
es_status es_bench_sound(es_bench *bench, int kind, double level_db, const char *output,
                         es_error *error);

/* The session's record, evenspool.session/1, with the trace of the last two minutes. *out is the
 * caller's to free, NULL on error. ES_ERR_ARG "no-session", ES_ERR_NOMEM. */
es_status es_bench_record(es_bench *bench, char **out, es_error *error);

/*
 * The session's job, the caller's to free; NULL on error. It is then being kept: nobody else gets it
 * until es_bench_kept(). ES_ERR_ARG "no-session", "still-running", "kept-already", ES_ERR_NOMEM.
 */
es_status es_bench_take_job(es_bench *bench, es_bench_job **out, es_error *error);
/* id: of its record; 0: it could not be kept, and may be taken again. */
void es_bench_kept(es_bench *bench, const es_bench_job *job, int64_t id);

/* 1: a session listens, or waits for its device. */
int es_bench_listens(const es_bench *bench);

/* Tells the feed how things stand. */
void es_bench_publish_facts(es_bench *bench);
/* The same if something was kept since. */
void es_bench_freshen(es_bench *bench);

#endif
