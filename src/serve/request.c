/* One request from its first line to its end: judged, read, answered at once or by the hands. */
#include "serve/answer.h"
#include "serve/inside.h"

#include "serve/listen.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

#define BODY_HOPELESS (1024 * 1024) /* bytes: not even read to its end before it is refused */
#define PAIR_PATH "/pair/"

static const char *header(const es_request *r, const char *name)
{
    return MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, name);
}

static enum MHD_Result refuse(es_request *r, unsigned code, const char *word, const char *sentence)
{
    es_error error = {0};
    es_fail(&error, ES_ERR_INPUT, word, "%s", sentence);
    return es_answer_error(r->connection, code, &error);
}

/* --- who is it ----------------------------------------------------------------------------- */

static const char *shown_key(const es_request *r, const char *path)
{
    const char *bearer = header(r, "Authorization");
    if (strncmp(path, PAIR_PATH, strlen(PAIR_PATH)) == 0)
        return path + strlen(PAIR_PATH);
    if (bearer && strncmp(bearer, "Bearer ", 7) == 0)
        return bearer + 7;
    return MHD_lookup_connection_value(r->connection, MHD_COOKIE_KIND, ES_KEY_COOKIE);
}

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static es_guard_verdict judge(es_request *r, const char *path)
{
    char local[64] = "", peer[64] = "";
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(r->connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    if (info) {
        es_listen_end_of(info->connect_fd, 1, local, sizeof local);
        es_listen_end_of(info->connect_fd, 0, peer, sizeof peer);
    }
    r->from_here = es_guard_is_here(peer);
    es_guard_request asked = {.host = header(r, "Host"),
                              .origin = header(r, "Origin"),
                              .fetch_site = header(r, "Sec-Fetch-Site"),
                              .key = shown_key(r, path),
                              .local = local,
                              .peer = peer,
                              .navigation = strncmp(path, "/api/", 5) != 0,
                              .now_s = now_s()};
    return es_guard_judge(&r->serve->guard, &asked);
}

static enum MHD_Result turn_away(es_request *r, es_guard_verdict verdict)
{
    struct MHD_Connection *to = r->connection;
    switch (verdict) {
    case ES_GUARD_FOREIGN_HOST:
        return es_answer_sentence(to, MHD_HTTP_FORBIDDEN,
                                  "This is not a name of this bench; open the address that it "
                                  "printed.\n",
                                  NULL, NULL);
    case ES_GUARD_FOREIGN_ORIGIN:
        return es_answer_sentence(to, MHD_HTTP_FORBIDDEN,
                                  "Pages from elsewhere can't use this bench.\n", NULL, NULL);
    case ES_GUARD_TOO_MANY:
        return es_answer_sentence(
            to, MHD_HTTP_TOO_MANY_REQUESTS,
            "Too many wrong keys came from here; wait some seconds, then scan "
            "the code again.\n",
            "Retry-After", "15");
    default:
        return es_answer_sentence(
            to, MHD_HTTP_UNAUTHORIZED,
            verdict == ES_GUARD_NO_KEY
                ? "This bench wants to be paired first: scan the code in its "
                  "terminal, or open the whole address printed there.\n"
                : "That key is not, or no longer, the right one: scan the code "
                  "in the bench's terminal again.\n",
            "WWW-Authenticate", "Bearer");
    }
}

/* --- what does it want --------------------------------------------------------------------- */

static enum MHD_Result no_route(es_request *r, const char *allowed)
{
    if (!allowed)
        return es_answer_sentence(r->connection, MHD_HTTP_NOT_FOUND, "There is nothing here.\n",
                                  NULL, NULL);
    return es_answer_sentence(r->connection, MHD_HTTP_METHOD_NOT_ALLOWED,
                              "That can't be done to this address.\n", "Allow", allowed);
}

static const es_page_file *page_file(const char *method, const char *path)
{
    if (strcmp(method, "GET") != 0 && strcmp(method, "HEAD") != 0)
        return NULL;
    for (size_t i = 0; i < es_page_file_count; i++)
        if (strcmp(path, es_page_files[i].path) == 0)
            return &es_page_files[i];
    return NULL;
}

static int body_is_hopeless(const es_request *r)
{
    const char *length = header(r, "Content-Length");
    return length && strtoull(length, NULL, 10) > BODY_HOPELESS;
}

static int body_is_json(const es_request *r)
{
    const char *type = header(r, "Content-Type");
    size_t plain = strlen("application/json");
    return type && strncasecmp(type, "application/json", plain) == 0 &&
           (type[plain] == '\0' || type[plain] == ';' || type[plain] == ' ');
}

/* What comes with the address: only what the route knows, and only what fits. */
typedef struct query_reader {
    es_request *request;
    int refused;
} query_reader;

static enum MHD_Result read_query_part(void *who, enum MHD_ValueKind kind, const char *key,
                                       const char *value)
{
    (void)kind;
    query_reader *reader = who;
    es_request *r = reader->request;
    for (size_t i = 0; i < sizeof r->query / sizeof *r->query; i++) {
        const char *known = r->route->query[i];
        if (!known || strcmp(known, key) != 0 || !value || strlen(value) >= sizeof r->query[i])
            continue;
        memcpy(r->query[i], value, strlen(value) + 1);
        return MHD_YES;
    }
    reader->refused = 1;
    return MHD_NO;
}

static int read_query(es_request *r)
{
    query_reader reader = {.request = r};
    if (strcmp(r->route->method, "GET") == 0)
        MHD_get_connection_values(r->connection, MHD_GET_ARGUMENT_KIND, read_query_part, &reader);
    return !reader.refused;
}

/* The first look, before any body. MHD_YES without an answer: go on and read it. */
static enum MHD_Result first_look(es_request *r, const char *method, const char *path)
{
    r->seen = 1;
    es_guard_verdict verdict = judge(r, path);
    if (verdict != ES_GUARD_PASS)
        return turn_away(r, verdict);
    if (body_is_hopeless(r))
        return refuse(r, MHD_HTTP_CONTENT_TOO_LARGE, "too-large", "That is far too much.");
    if (strcmp(method, "GET") == 0 && strncmp(path, PAIR_PATH, strlen(PAIR_PATH)) == 0 &&
        r->serve->guard.lan)
        return es_answer_paired(r->connection, r->serve->guard.key);
    const es_page_file *file = page_file(method, path);
    if (file)
        return es_answer_file(r->connection, file);
    const char *allowed;
    r->route = es_route_find(method, path, &allowed);
    if (!r->route)
        return no_route(r, allowed);
    if (!read_query(r))
        return refuse(r, MHD_HTTP_UNPROCESSABLE_CONTENT, "unknown-key",
                      "That can't be asked with this address.");
    if (r->route->read && !body_is_json(r))
        return refuse(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE, "not-json",
                      "What is sent must be JSON and be called so (application/json).");
    return MHD_YES;
}

static void take_body(es_request *r, const char *data, size_t size)
{
    if (r->length + size <= ES_BODY_MOST)
        memcpy(r->body + r->length, data, size);
    r->length = r->length + size <= ES_BODY_MOST ? r->length + size : ES_BODY_MOST + 1;
}

es_status es_request_read_form(es_request *r, es_error *error)
{
    return es_form_read(r->body, r->length, &r->form, error);
}

es_status es_request_read_nothing(es_request *r, es_error *error)
{
    if (es_request_read_form(r, error) == ES_OK)
        es_form_end(r->form, error);
    return error->status;
}

/* --- the hands and the clerk ---------------------------------------------------------------- */

static void run_errand(es_errand *errand)
{
    es_request *r = (es_request *)errand;
    r->status = r->route->run(r, &r->error);
}

static void run_keeping(es_errand *errand)
{
    es_request *r = (es_request *)errand;
    r->status = r->route->keep(r, &r->error);
}

static void hold_request(es_errand *errand)
{
    MHD_suspend_connection(((es_request *)errand)->connection);
}

static void resume_request(es_errand *errand)
{
    MHD_resume_connection(((es_request *)errand)->connection);
}

static es_status closing(es_error *error)
{
    return es_fail(error, ES_ERR_IO, "closing", "The bench is being closed.");
}

/* From the hands to the clerk, never back: each calls this under its own lock. */
static void pass_on(es_errand *errand)
{
    es_request *r = (es_request *)errand;
    r->errand.run = run_keeping;
    r->errand.hold = NULL;
    r->errand.done = resume_request;
    if (r->status == ES_OK && es_hands_take(r->serve->clerk, errand))
        return;
    if (r->status == ES_OK)
        r->status = closing(&r->error);
    resume_request(errand);
}

static int give(es_request *r)
{
    const es_route *route = r->route;
    r->given = 1;
    r->errand = (es_errand){.run = route->run ? run_errand : run_keeping,
                            .hold = hold_request,
                            .done = route->run && route->keep ? pass_on : resume_request};
    return es_hands_take(route->run ? r->serve->hands : r->serve->clerk, &r->errand);
}

static enum MHD_Result give_to_hands(es_request *r)
{
    if (r->route->read && r->route->read(r, &r->error) != ES_OK)
        return es_answer_error(r->connection, 0, &r->error);
    if (give(r))
        return MHD_YES;
    closing(&r->error);
    return es_answer_error(r->connection, 0, &r->error);
}

static enum MHD_Result finish(es_request *r)
{
    if (r->status != ES_OK)
        return es_answer_error(r->connection, 0, &r->error);
    return r->route->finish ? r->route->finish(r)
                            : es_answer_json(r->connection, MHD_HTTP_OK, strdup("{}"));
}

static enum MHD_Result answer(es_request *r)
{
    if (r->given)
        return finish(r);
    if (r->length > ES_BODY_MOST)
        return refuse(r, MHD_HTTP_CONTENT_TOO_LARGE, "too-large",
                      "That is more than is needed here.");
    return r->route->answer ? r->route->answer(r) : give_to_hands(r);
}

/* --- libmicrohttpd's calls ----------------------------------------------------------------- */

static es_request *new_request(es_serve *serve, struct MHD_Connection *connection)
{
    es_request *r = calloc(1, sizeof *r);
    if (r) {
        r->serve = serve;
        r->connection = connection;
    }
    return r;
}

enum MHD_Result es_request_take(void *who, struct MHD_Connection *connection, const char *path,
                                const char *method, const char *version, const char *data,
                                size_t *size, void **request)
{
    (void)version;
    es_request *r = *request;
    if (!r) {
        *request = r = new_request(who, connection);
        return r ? first_look(r, method, path) : MHD_NO;
    }
    if (*size > 0) {
        take_body(r, data, *size);
        *size = 0;
        return r->length > ES_BODY_MOST && !header(r, "Content-Length") ? MHD_NO : MHD_YES;
    }
    return answer(r);
}

void es_request_over(void *who, struct MHD_Connection *connection, void **request,
                     enum MHD_RequestTerminationCode why)
{
    (void)who;
    (void)connection;
    (void)why;
    es_request *r = *request;
    if (!r)
        return;
    free(r->text);
    free(r->job);
    free(r->reading);
    es_form_destroy(r->form);
    free(r);
    *request = NULL;
}
