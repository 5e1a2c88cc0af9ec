#include "serve/bench.h"

#include "serve/facts_json.h"
#include "serve/follower.h"
#include "json/session_json.h"
#include "json/trim_json.h"

#include <math.h>
#include <pthread.h>
#include <stdlib.h>
#include <time.h>

#define FACTS_EVERY_S 0.25

struct es_bench {
    es_feed *feed;
    es_session *session; /* the hands' alone; the follower has it while it runs */
    es_follower follower;

    pthread_mutex_t lock; /* guards what follows */
    int number;           /* of the session; counts on */
    es_session_config config;
    es_visit visit;
    uint64_t missed;
    double opened_s, closed_s; /* of the calendar; NaN: not yet */
    int64_t kept;              /* id of the job; 0: not kept    */
    int being_kept, stale;     /* 1: facts that nobody was told */
};

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* --- facts --------------------------------------------------------------------------------- */

static void publish_facts(es_bench *b)
{
    es_session_facts live;
    if (b->session)
        live = es_session_facts_of(b->session);
    pthread_mutex_lock(&b->lock);
    es_session_config settings = b->config;
    es_visit visit = b->visit;
    es_bench_facts facts = {.session = b->session ? b->number : 0,
                            .live = b->session ? &live : NULL,
                            .settings = &settings,
                            .visit = &visit,
                            .kept = b->session ? b->kept : 0,
                            .missed = b->missed};
    b->stale = 0;
    if (b->session && live.standing.phase >= ES_SESSION_ENDED && isnan(b->closed_s))
        b->closed_s = (double)time(NULL);
    pthread_mutex_unlock(&b->lock);
    char *text;
    if (es_facts_to_json(&facts, &text) == ES_OK)
        es_feed_publish(b->feed, ES_FEED_FACTS, text);
    free(text);
}

void es_bench_publish_facts(es_bench *bench)
{
    publish_facts(bench);
}

void es_bench_freshen(es_bench *bench)
{
    pthread_mutex_lock(&bench->lock);
    int stale = bench->stale;
    pthread_mutex_unlock(&bench->lock);
    if (stale)
        publish_facts(bench);
}

/* --- follower ------------------------------------------------------------------------------ */

static void take_snapshot(es_bench *b, const es_trim_snapshot *snapshot, uint64_t skipped)
{
    char *text;
    pthread_mutex_lock(&b->lock);
    b->missed += skipped;
    pthread_mutex_unlock(&b->lock);
    if (es_trim_to_json(snapshot, &text) == ES_OK)
        es_feed_publish(b->feed, ES_FEED_SNAPSHOT, text);
    free(text);
}

static void *follow(void *who)
{
    es_bench *b = who;
    es_trim_snapshot snapshot;
    uint64_t cursor = 0, skipped = 0;
    double facts_at = now_s();
    int got = 0;
    while (got >= 0 && !es_follower_is_done(&b->follower)) {
        got = es_session_next(b->session, &cursor, ES_FOLLOWER_WAIT_S, &snapshot, &skipped);
        if (got > 0)
            take_snapshot(b, &snapshot, skipped);
        if (got < 0 || now_s() >= facts_at) {
            publish_facts(b);
            facts_at = now_s() + FACTS_EVERY_S;
        }
    }
    return NULL;
}

/* --- life ---------------------------------------------------------------------------------- */

es_status es_bench_create(const es_session_config *config, es_feed *feed, es_bench **out)
{
    *out = NULL;
    es_bench *b = calloc(1, sizeof *b);
    if (!b)
        return ES_ERR_NOMEM;
    b->feed = feed;
    b->config = *config;
    es_follower_create(&b->follower);
    pthread_mutex_init(&b->lock, NULL);
    *out = b;
    return ES_OK;
}

static void end_session(es_bench *b)
{
    es_follower_end(&b->follower);
    es_session_close(b->session);
    b->session = NULL;
    es_feed_forget(b->feed, ES_FEED_SNAPSHOT);
}

void es_bench_destroy(es_bench *bench)
{
    if (!bench)
        return;
    end_session(bench);
    es_follower_destroy(&bench->follower);
    pthread_mutex_destroy(&bench->lock);
    free(bench);
}

/* --- hands --------------------------------------------------------------------------------- */

es_status es_bench_start(es_bench *bench, const es_session_config *config, const es_visit *visit,
                         es_error *error)
{
    end_session(bench);
    pthread_mutex_lock(&bench->lock);
    bench->number++;
    bench->config = *config;
    bench->visit = *visit;
    bench->missed = 0;
    bench->opened_s = (double)time(NULL);
    bench->closed_s = (double)NAN;
    bench->kept = bench->being_kept = 0;
    pthread_mutex_unlock(&bench->lock);
    es_status status = es_session_open(config, &bench->session, error);
    publish_facts(bench);
    if (status != ES_OK)
        return status;
    status = es_follower_start(&bench->follower, follow, bench, error);
    if (status != ES_OK)
        es_bench_clear(bench);
    return status;
}

void es_bench_stop(es_bench *bench)
{
    es_session_stop(bench->session); /* the follower hears of it and tells what is left */
    publish_facts(bench);
}

void es_bench_clear(es_bench *bench)
{
    end_session(bench);
    publish_facts(bench);
}

int es_bench_listens(const es_bench *bench)
{
    return bench->session && es_session_facts_of(bench->session).standing.phase < ES_SESSION_ENDED;
}

static es_status no_session(es_error *error)
{
    return es_fail(error, ES_ERR_ARG, "no-session", "Nothing is being listened to.");
}

es_status es_bench_turn(es_bench *bench, double turns, es_error *error)
{
    if (!bench->session)
        return no_session(error);
    if (es_session_turn(bench->session, turns) != ES_OK)
        return es_fail(error, ES_ERR_ARG, "no-trimmer",
                       "Only the rehearsal deck has a trimmer that can be turned from here.");
    publish_facts(bench);
    return ES_OK;
}

es_status es_bench_sound(es_bench *bench, int kind, double level_db, const char *output,
                         es_error *error)
{
    if (!bench->session)
        return no_session(error);
    es_status status = es_session_sound(bench->session, kind, level_db, output, error);
    publish_facts(bench);
    return status;
}

es_status es_bench_record(es_bench *bench, char **out, es_error *error)
{
    *out = NULL;
    if (!bench->session)
        return no_session(error);
    es_trim_session *record = malloc(sizeof *record);
    es_status status = record ? ES_OK : ES_ERR_NOMEM;
    if (record) {
        es_session_record(bench->session, record);
        status = es_session_to_json(record, 0, out);
    }
    free(record);
    return status == ES_OK ? ES_OK
                           : es_fail(error, status, "no-memory", "There is not enough memory.");
}

/* --- for the records ----------------------------------------------------------------------- */

static void write_time(double seconds, char out[ES_TIME_ROOM])
{
    struct tm parts;
    time_t whole = (time_t)seconds;
    gmtime_r(&whole, &parts);
    strftime(out, ES_TIME_ROOM, "%Y-%m-%dT%H:%M:%SZ", &parts);
}

static es_status check_job(const es_bench *b, es_error *error)
{
    if (!b->session)
        return no_session(error);
    if (es_session_facts_of(b->session).standing.phase < ES_SESSION_ENDED)
        return es_fail(error, ES_ERR_ARG, "still-running",
                       "The coach is still listening; stop it first, then the job can be kept.");
    return ES_OK;
}

/* 1: it is the caller's now. */
static int claim(es_bench *b)
{
    pthread_mutex_lock(&b->lock);
    int free_to_take = !b->kept && !b->being_kept;
    if (free_to_take)
        b->being_kept = 1;
    pthread_mutex_unlock(&b->lock);
    return free_to_take;
}

es_status es_bench_take_job(es_bench *bench, es_bench_job **out, es_error *error)
{
    *out = NULL;
    es_status status = check_job(bench, error);
    if (status != ES_OK)
        return status;
    es_bench_job *job = calloc(1, sizeof *job);
    if (!job)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    if (!claim(bench)) {
        free(job);
        return es_fail(error, ES_ERR_ARG, "kept-already", "This job is in the records already.");
    }
    publish_facts(bench); /* whatever ended the session: now it is known when */
    job->session = bench->number;
    write_time(bench->opened_s, job->opened_at);
    write_time(bench->closed_s, job->closed_at);
    es_session_record(bench->session, &job->record);
    *out = job;
    return ES_OK;
}

void es_bench_kept(es_bench *bench, const es_bench_job *job, int64_t id)
{
    pthread_mutex_lock(&bench->lock);
    if (bench->number == job->session) {
        bench->kept = id;
        bench->being_kept = 0;
        bench->stale = 1;
    }
    pthread_mutex_unlock(&bench->lock);
}
