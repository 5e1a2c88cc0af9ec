/*
 * Tape bench: the one test tape that is being read, and the thread that follows it into the feed.
 *
 *   feed     how things stand as evenspool.tape-live/1, four times a second of the tape and whenever
 *            something happens; without a session with phase "none"
 *   reading  what came of a session can be taken once, to be kept in the records
 *   thread   all calls by one thread; es_tape_bench_create and _destroy may be called by another, before
 *            and after it; es_tape_bench_kept by any
 */
#ifndef ES_SERVE_TAPE_BENCH_H
#define ES_SERVE_TAPE_BENCH_H

#include "evenspool/base/error.h"
#include "evenspool/base/records.h"
#include "live/tape_session.h"
#include "serve/bench.h"
#include "serve/feed.h"

#define ES_TAPE_LIVE_SCHEMA "evenspool.tape-live/1"

typedef struct es_tape_bench es_tape_bench;

/* What a session leaves for the records. Large. */
typedef struct es_tape_reading {
    int session;
    es_visit visit;
    char taken_at[ES_TIME_ROOM];     /* when the session ended                  */
    char source[512], capture[1024]; /* the recording of it; "": none was asked for */
    es_tape_result result;
} es_tape_reading;

/* ES_ERR_NOMEM; *out is NULL on error. */
es_status es_tape_bench_create(es_feed *feed, es_tape_bench **out);
/* Stops the session. NULL is fine. */
void es_tape_bench_destroy(es_tape_bench *bench);

/* Closes the session that is there, if one is, and opens another; visit: deck and tape in the records.
 * Errors: es_tape_session_open(); ES_ERR_INTERNAL "no-thread". Then there is none. */
es_status es_tape_bench_start(es_tape_bench *bench, const es_tape_session_config *config,
                              const es_visit *visit, es_error *error);
/* Ends the session, but keeps it to be looked at. */
void es_tape_bench_stop(es_tape_bench *bench);
/* Puts it away: there is none then. */
void es_tape_bench_clear(es_tape_bench *bench);

/* 1: a session listens, or waits for its device. */
int es_tape_bench_listens(const es_tape_bench *bench);

/* What came of it, evenspool.tape/1; *out is the caller's to free, NULL on error. ES_ERR_ARG "no-session",
 * "still-running"; else es_tape_session_result(), ES_ERR_NOMEM. */
es_status es_tape_bench_result(es_tape_bench *bench, char **out, es_error *error);

/*
 * What came of it, for the records; the caller's to free, and to be handed back with es_tape_bench_kept().
 * ES_ERR_ARG "no-session", "still-running", "kept-already"; else es_tape_session_result(), ES_ERR_NOMEM.
 */
es_status es_tape_bench_take(es_tape_bench *bench, es_tape_reading **out, es_error *error);
/* id: the reading that it became, of that deck; 0: it could not be kept, and may be taken again. */
void es_tape_bench_kept(es_tape_bench *bench, const es_tape_reading *reading, int64_t id,
                        const char *deck);
/* Tells what is new since, when something is. */
void es_tape_bench_freshen(es_tape_bench *bench);

#endif
