#include "serve/serve.h"

#include "serve/inputs.h"
#include "serve/inside.h"
#include "serve/listen.h"
#include "serve/pairing.h"

#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define REST_S 3600.0 /* the clerk has nothing to do unasked */
#define BEAT_S 3.0    /* a page that hears nothing for longer knows that we are gone  */
#define CONNECTIONS_MOST 128u
#define CONNECTIONS_MOST_OF_ONE 96u /* address: one that hoards them must not shut out the rest */
#define CONNECTION_TIMEOUT_S 20u
#define CONNECTION_MEMORY (32u * 1024u)

es_serve_config es_serve_defaults(void)
{
    return (es_serve_config){
        .port = ES_SERVE_PORT, .session = es_session_defaults(), .inputs = es_serve_list_inputs};
}

static void beat(void *who)
{
    es_bench_freshen(((es_serve *)who)->bench);
    es_tape_bench_freshen(((es_serve *)who)->tape);
    es_feed_publish(((es_serve *)who)->feed, ES_FEED_BEAT, "{}");
}

static void rest(void *who)
{
    (void)who;
}

/* --- start --------------------------------------------------------------------------------- */

static void write_addresses(es_serve *s, int port)
{
    char network[64] = "127.0.0.1";
    const char *way = s->guard.lan ? "pair/" : "";
    snprintf(s->address, sizeof s->address, "http://127.0.0.1:%d/%s%s", port, way, s->guard.key);
    if (!s->guard.lan)
        return;
    es_listen_network_address(network, sizeof network);
    snprintf(s->pairing_address, sizeof s->pairing_address, "http://%s:%d/%s%s", network, port, way,
             s->guard.key);
}

static es_status open_door(es_serve *s, es_error *error)
{
    char hostname[65] = "";
    int port;
    es_status status = es_listen(s->config.port, s->config.lan, &s->socket, &port, error);
    if (status != ES_OK)
        return status;
    gethostname(hostname, sizeof hostname - 1);
    status = es_guard_init(&s->guard, s->config.lan, port, hostname, error);
    write_addresses(s, port);
    return status;
}

static es_status start_daemon(es_serve *s, es_error *error)
{
    s->daemon = MHD_start_daemon(
        MHD_USE_AUTO_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME, 0, NULL, NULL, es_request_take, s,
        MHD_OPTION_LISTEN_SOCKET, s->socket, MHD_OPTION_NOTIFY_COMPLETED, es_request_over, s,
        MHD_OPTION_CONNECTION_LIMIT, CONNECTIONS_MOST, MHD_OPTION_PER_IP_CONNECTION_LIMIT,
        CONNECTIONS_MOST_OF_ONE, MHD_OPTION_CONNECTION_TIMEOUT, CONNECTION_TIMEOUT_S,
        MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)CONNECTION_MEMORY, MHD_OPTION_END);
    if (!s->daemon)
        return es_fail(error, ES_ERR_IO, "no-server",
                       "The web server can't be started here; is the computer short of memory?");
    s->socket = -1; /* the daemon closes it */
    return ES_OK;
}

/* The first session, by the hands like every other. */
typedef struct first_session {
    es_errand errand;
    es_serve *serve;
    es_status status;
    es_error error;
} first_session;

static void open_first(es_errand *errand)
{
    first_session *first = (first_session *)errand;
    es_serve *s = first->serve;
    const es_visit nobody = {0};
    if (s->config.session.source[0])
        first->status = es_bench_start(s->bench, &s->config.session, &nobody, &first->error);
    else
        es_bench_publish_facts(s->bench);
}

static void nobody_waits(es_errand *errand)
{
    (void)errand;
}

static es_status open_session(es_serve *s, es_error *error)
{
    first_session first = {.errand = {.run = open_first, .done = nobody_waits}, .serve = s};
    es_hands_take(s->hands, &first.errand);
    es_hands_wait(s->hands);
    if (first.status != ES_OK)
        es_fail(error, first.status, first.error.code, "%s", first.error.text);
    return first.status;
}

static es_status start_all(es_serve *s, es_error *error)
{
    es_status status = open_door(s, error);
    if (status == ES_OK && (es_feed_create(&s->feed) != ES_OK ||
                            es_bench_create(&s->config.session, s->feed, &s->bench) != ES_OK ||
                            es_tape_bench_create(s->feed, &s->tape) != ES_OK))
        status = es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    if (status == ES_OK)
        status = es_hands_start(BEAT_S, beat, s, &s->hands, error);
    if (status == ES_OK)
        status = es_hands_start(REST_S, rest, s, &s->clerk, error);
    if (status == ES_OK)
        status = open_session(s, error);
    if (status == ES_OK)
        status = start_daemon(s, error);
    return status;
}

es_status es_serve_start(const es_serve_config *config, es_serve **out, es_error *error)
{
    *out = NULL;
    es_serve *s = calloc(1, sizeof *s);
    if (!s)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    s->config = *config;
    s->socket = -1;

    sigset_t all, before; /* our threads inherit it: signals are the caller's */
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    es_status status = start_all(s, error);
    pthread_sigmask(SIG_SETMASK, &before, NULL);

    if (status != ES_OK) {
        es_serve_stop(s);
        return status;
    }
    *out = s;
    return ES_OK;
}

/* --- stop ---------------------------------------------------------------------------------- */

static void close_session(es_errand *errand)
{
    es_serve *s = ((first_session *)errand)->serve;
    es_bench_clear(s->bench);
    es_tape_bench_clear(s->tape);
}

void es_serve_stop(es_serve *serve)
{
    if (!serve)
        return;
    if (serve->hands) {
        first_session last = {.errand = {.run = close_session, .done = nobody_waits},
                              .serve = serve};
        es_hands_take(serve->hands, &last.errand);
        es_hands_end(serve->hands); /* whoever waits for an errand is resumed, or with the clerk */
    }
    if (serve->clerk)
        es_hands_end(serve->clerk);
    if (serve->feed)
        es_feed_end(serve->feed); /* so are the listeners, and none sleeps again */
    if (serve->daemon)
        MHD_stop_daemon(serve->daemon);
    if (serve->socket >= 0)
        close(serve->socket);
    es_hands_destroy(serve->hands);
    es_hands_destroy(serve->clerk);
    es_bench_destroy(serve->bench);
    es_tape_bench_destroy(serve->tape);
    es_feed_destroy(serve->feed);
    free(serve);
}

/* --- addresses ----------------------------------------------------------------------------- */

const char *es_serve_address(const es_serve *serve)
{
    return serve->address;
}

const char *es_serve_pairing_address(const es_serve *serve)
{
    return serve->pairing_address;
}

es_status es_serve_pairing_text(const es_serve *serve, char **out)
{
    *out = NULL;
    return serve->guard.lan ? es_pairing_text(serve->pairing_address, out) : ES_ERR_ARG;
}
