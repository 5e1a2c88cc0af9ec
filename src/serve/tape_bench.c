#include "serve/tape_bench.h"

#include "evenspool/base/text.h"
#include "serve/facts_json.h"
#include "serve/follower.h"
#include "json/document.h"
#include "json/tape_json.h"

#include <stdlib.h>
#include <string.h>

struct es_tape_bench {
    es_feed *feed;
    es_tape_session *session; /* the hands' alone; the follower has it while it runs */
    es_follower follower;
    int number;
    char source[512], tape[ES_NAME_ROOM]; /* as they were asked for */
    es_tape_listening now;                /* the follower's */
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

/* now NULL: there is no session. */
static void publish(es_tape_bench *b, const es_tape_listening *now)
{
    es_json *json;
    char *text = NULL;
    if (es_json_create(&json) != ES_OK)
        return;
    es_json_part *root = es_json_root(json);
    es_json_text(json, root, "schema", ES_TAPE_LIVE_SCHEMA);
    es_json_count(json, root, "session", now ? b->number : 0);
    es_json_text(json, root, "phase", now ? es_phase_name(now->standing.phase) : "none");
    if (now) {
        es_json_text(json, root, "source", now->standing.source);
        es_json_text(json, root, "tape", es_text_or_null(b->tape));
        write_around(json, root, now);
        write_place(json, root, now);
    }
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
    free(bench);
}

/* --- hands --------------------------------------------------------------------------------- */

es_status es_tape_bench_start(es_tape_bench *b, const es_tape_session_config *config,
                              const char *tape, es_error *error)
{
    end_session(b);
    es_text name = es_text_over(b->tape, sizeof b->tape);
    es_text_add(&name, "%s", tape);
    memcpy(b->source, config->source, sizeof b->source);
    es_status status = es_tape_session_open(config, &b->session, error);
    if (status == ES_OK) {
        b->number++;
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

es_status es_tape_bench_result(es_tape_bench *b, char **out, es_error *error)
{
    *out = NULL;
    if (!b->session)
        return es_fail(error, ES_ERR_ARG, "no-session", "No test tape is being read.");
    if (phase_of(b) < ES_SESSION_ENDED)
        return es_fail(error, ES_ERR_ARG, "still-running",
                       "The tape still plays; what comes of it is known at the end.");
    es_tape_result *result = malloc(sizeof *result); /* large */
    if (!result)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    es_status status = es_tape_session_result(b->session, result, error);
    if (status == ES_OK && es_tape_to_json(result, b->source, 0, out) != ES_OK)
        status = es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    free(result);
    return status;
}
