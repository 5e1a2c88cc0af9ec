#include "serve/tape_bench.h"

#include "evenspool/base/text.h"
#include "live/ledger.h"
#include "serve/facts_json.h"
#include "serve/follower.h"
#include "json/document.h"
#include "json/tape_json.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

struct es_tape_bench {
    es_feed *feed;
    es_tape_session *session; /* the hands' alone; the follower has it while it runs */
    es_follower follower;
    char source[512], record_path[1024]; /* as they were asked for */
    es_visit visit;
    es_tape_listening now; /* the follower's */

    pthread_mutex_t lock;        /* guards what follows */
    int number;                  /* of the session; counts on */
    char ended_at[ES_TIME_ROOM]; /* "": not yet */
    int64_t kept;                /* number of the reading; 0: not kept */
    char kept_deck[ES_NAME_ROOM];
    int being_kept, stale; /* 1: what nobody was told */
};

/* --- document ------------------------------------------------------------------------------ */

static void write_section(es_json *json, es_json_part *list, const es_tape_listening *now,
                          size_t at)
{
    static const char *const states[] = {[ES_TAPE_TO_COME] = "to-come",
                                         [ES_TAPE_NOW] = "now",
                                         [ES_TAPE_HEARD] = "heard",
                                         [ES_TAPE_IN_PART] = "in-part",
                                         [ES_TAPE_MISSED] = "missed"};
    const es_tape_section *s = &now->so_far.sections[at];
    es_json_part *to = es_json_object(json, list, NULL);
    char figures[120];
    es_tape_section_words(&now->so_far, at, figures, sizeof figures);
    es_json_text(json, to, "name", s->name);
    es_json_text(json, to, "kind", es_section_kind_name(s->kind));
    es_json_text(json, to, "state", states[es_tape_state_of(now, at)]);
    es_json_truth(json, to, "marker", s->marker);
    es_json_text(json, to, "figures", es_text_or_null(figures));
}

static void write_place(es_json *json, es_json_part *root, const es_tape_listening *now)
{
    static const char *const sides[] = {NULL, "a", "b"};
    const es_tape_result *r = &now->so_far;
    es_json_number(json, root, "time_s", now->time_s);
    es_json_number(json, root, "left_s", now->left_s);
    es_json_number(json, root, "error_percent", now->error_percent);
    es_json_text(json, root, "programme", es_text_or_null(r->programme));
    es_json_text(json, root, "side", sides[r->side]);
    es_json_truth(json, root, "measuring", now->measuring);
    if (now->strange_id)
        es_json_count(json, root, "strange_id", now->strange_id);
    else
        es_json_null(json, root, "strange_id");
    es_json_part *list = es_json_array(json, root, "sections");
    for (size_t i = 0; i < r->section_count; i++)
        write_section(json, list, now, i);
}

static void write_around(es_json *json, es_json_part *root, const es_tape_listening *now)
{
    const es_session_standing *at = &now->standing;
    es_json_text(json, root, "device", es_text_or_null(at->device));
    es_json_text(json, root, "sentence", es_text_or_null(at->sentence));
    es_json_text(json, root, "level", es_text_or_null(at->level_words));
    es_json_text(json, root, "ending", es_text_or_null(es_tape_ending_words(now->ending)));
    es_json_count(json, root, "gaps", (int64_t)at->gaps);
    es_json_text(json, root, "recording", es_text_or_null(at->record_path));
    es_json_text(json, root, "recording_sentence", es_text_or_null(at->record_sentence));
}

static void write_kept(es_json *json, es_json_part *root, int64_t id, const char *deck)
{
    if (!id) {
        es_json_null(json, root, "kept");
        return;
    }
    es_json_part *to = es_json_object(json, root, "kept");
    es_json_count(json, to, "id", id);
    es_json_text(json, to, "deck", deck);
}

/* With the lock held. */
static void write_all(es_tape_bench *b, es_json *json, const es_tape_listening *now)
{
    es_json_part *root = es_json_root(json);
    es_json_text(json, root, "schema", ES_TAPE_LIVE_SCHEMA);
    es_json_count(json, root, "session", now ? b->number : 0);
    es_json_text(json, root, "phase", now ? es_phase_name(now->standing.phase) : "none");
    if (!now)
        return;
    es_json_text(json, root, "source", now->standing.source);
    es_json_text(json, root, "deck", es_text_or_null(b->visit.deck));
    es_json_text(json, root, "tape", es_text_or_null(b->visit.tape));
    write_kept(json, root, b->kept, b->kept_deck);
    write_around(json, root, now);
    write_place(json, root, now);
    if (now->standing.phase >= ES_SESSION_ENDED && !b->ended_at[0])
        es_ledger_now(b->ended_at);
}

/* now NULL: there is no session. */
static void publish(es_tape_bench *b, const es_tape_listening *now)
{
    es_json *json;
    char *text = NULL;
    if (es_json_create(&json) != ES_OK)
        return;
    pthread_mutex_lock(&b->lock);
    write_all(b, json, now);
    b->stale = 0;
    pthread_mutex_unlock(&b->lock);
    if (es_json_print(json, 0, &text) == ES_OK)
        es_feed_publish(b->feed, ES_FEED_TAPE, text);
    free(text);
    es_json_destroy(json);
}

/* --- follower ------------------------------------------------------------------------------ */

static void *follow(void *who)
{
    es_tape_bench *b = who;
    uint64_t news = 0;
    int got = 0;
    while (got >= 0 && !es_follower_is_done(&b->follower)) {
        got = es_tape_session_next(b->session, &news, ES_FOLLOWER_WAIT_S, &b->now);
        if (got != 0)
            publish(b, &b->now);
    }
    return NULL;
}

/* --- life ---------------------------------------------------------------------------------- */

es_status es_tape_bench_create(es_feed *feed, es_tape_bench **out)
{
    es_tape_bench *b = *out = calloc(1, sizeof *b);
    if (!b)
        return ES_ERR_NOMEM;
    b->feed = feed;
    es_follower_create(&b->follower);
    pthread_mutex_init(&b->lock, NULL);
    return ES_OK;
}

static void end_session(es_tape_bench *b)
{
    es_follower_end(&b->follower);
    es_tape_session_close(b->session);
    b->session = NULL;
}

void es_tape_bench_destroy(es_tape_bench *bench)
{
    if (!bench)
        return;
    end_session(bench);
    es_follower_destroy(&bench->follower);
    pthread_mutex_destroy(&bench->lock);
    free(bench);
}

/* --- hands --------------------------------------------------------------------------------- */

static void begin_anew(es_tape_bench *b)
{
    pthread_mutex_lock(&b->lock);
    b->number++;
    b->ended_at[0] = '\0';
    b->kept = b->being_kept = 0;
    pthread_mutex_unlock(&b->lock);
}

es_status es_tape_bench_start(es_tape_bench *b, const es_tape_session_config *config,
                              const es_visit *visit, es_error *error)
{
    end_session(b);
    b->visit = *visit;
    memcpy(b->source, config->source, sizeof b->source);
    memcpy(b->record_path, config->record_path, sizeof b->record_path);
    es_status status = es_tape_session_open(config, &b->session, error);
    if (status == ES_OK) {
        begin_anew(b);
        status = es_follower_start(&b->follower, follow, b, error);
    }
    if (status != ES_OK)
        es_tape_bench_clear(b);
    return status;
}

void es_tape_bench_stop(es_tape_bench *bench)
{
    es_tape_session_stop(bench->session); /* the follower hears of it and tells what is left */
}

void es_tape_bench_clear(es_tape_bench *bench)
{
    end_session(bench);
    publish(bench, NULL);
}

/* The session's phase is asked of itself: the follower's copy is its own. */
static es_session_phase phase_of(const es_tape_bench *b)
{
    es_tape_listening *now = malloc(sizeof *now); /* large */
    uint64_t news = 0;
    es_session_phase phase = ES_SESSION_RUNNING;
    if (now && es_tape_session_next(b->session, &news, 0.0, now) != 0)
        phase = now->standing.phase;
    free(now);
    return phase;
}

int es_tape_bench_listens(const es_tape_bench *bench)
{
    return bench->session && phase_of(bench) < ES_SESSION_ENDED;
}

/* A result is there once the session is over. */
static es_status check_over(const es_tape_bench *b, es_error *error)
{
    if (!b->session)
        return es_fail(error, ES_ERR_ARG, "no-session", "No test tape is being read.");
    if (phase_of(b) < ES_SESSION_ENDED)
        return es_fail(error, ES_ERR_ARG, "still-running",
                       "The tape still plays; what comes of it is known at the end.");
    return ES_OK;
}

es_status es_tape_bench_result(es_tape_bench *b, char **out, es_error *error)
{
    *out = NULL;
    es_status status = check_over(b, error);
    if (status != ES_OK)
        return status;
    es_tape_result *result = malloc(sizeof *result); /* large */
    if (!result)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    status = es_tape_session_result(b->session, result, error);
    if (status == ES_OK && es_tape_to_json(result, b->source, 0, out) != ES_OK)
        status = es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    free(result);
    return status;
}

/* --- for the records ----------------------------------------------------------------------- */

/* The follower has ended, or there is none. */
static void publish_again(es_tape_bench *b)
{
    es_tape_listening *now = malloc(sizeof *now); /* large */
    uint64_t news = 0;
    if (now && b->session)
        es_tape_session_next(b->session, &news, 0.0, now);
    if (now)
        publish(b, b->session ? now : NULL);
    free(now);
}

void es_tape_bench_freshen(es_tape_bench *bench)
{
    pthread_mutex_lock(&bench->lock);
    int stale = bench->stale;
    pthread_mutex_unlock(&bench->lock);
    if (stale)
        publish_again(bench);
}

static es_status claim(es_tape_bench *b, es_tape_reading *reading, es_error *error)
{
    pthread_mutex_lock(&b->lock);
    int taken = b->kept || b->being_kept;
    b->being_kept = 1;
    reading->session = b->number;
    memcpy(reading->taken_at, b->ended_at, sizeof reading->taken_at);
    pthread_mutex_unlock(&b->lock);
    return taken ? es_fail(error, ES_ERR_ARG, "kept-already",
                           "This reading is in the records already.")
                 : ES_OK;
}

es_status es_tape_bench_take(es_tape_bench *b, es_tape_reading **out, es_error *error)
{
    *out = NULL;
    es_status status = check_over(b, error);
    if (status != ES_OK)
        return status;
    es_tape_reading *reading = calloc(1, sizeof *reading); /* large */
    if (!reading)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    status = es_tape_session_result(b->session, &reading->result, error);
    if (status == ES_OK) {
        es_follower_end(
            &b->follower); /* from now on the hands tell, and it is known when it ended */
        publish_again(b);
        status = claim(b, reading, error);
    }
    reading->visit = b->visit;
    memcpy(reading->source, b->source, sizeof reading->source);
    memcpy(reading->capture, b->record_path, sizeof reading->capture);
    if (status == ES_OK)
        *out = reading;
    else
        free(reading);
    return status;
}

void es_tape_bench_kept(es_tape_bench *bench, const es_tape_reading *reading, int64_t id,
                        const char *deck)
{
    pthread_mutex_lock(&bench->lock);
    if (bench->number == reading->session) {
        es_text name = es_text_over(bench->kept_deck, sizeof bench->kept_deck);
        es_text_add(&name, "%s", deck);
        bench->kept = id;
        bench->being_kept = 0;
        bench->stale = 1;
    }
    pthread_mutex_unlock(&bench->lock);
}
