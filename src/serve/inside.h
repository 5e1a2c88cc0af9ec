/* Private: the server and its requests, shared by serve.c, request.c, stream.c and routes.c. */
#ifndef ES_SERVE_INSIDE_H
#define ES_SERVE_INSIDE_H

#include "serve/bench.h"
#include "serve/feed.h"
#include "serve/guard.h"
#include "serve/hands.h"
#include "serve/serve.h"
#include "serve/tape_bench.h"

#include "json/form.h"

#include <microhttpd.h>

#define ES_BODY_MOST 16384 /* bytes of a request's body */
#define ES_STREAMS_MOST 40 /* pages that listen at once; the rest of the connections do the rest */

struct es_serve {
    es_serve_config config;
    es_guard guard; /* the network thread's alone once it runs */
    es_feed *feed;
    es_bench *bench;     /* the hands' */
    es_tape_bench *tape; /* the hands', too */
    es_hands *hands;
    es_hands *clerk; /* does what needs the records: it may wait for the disk or for a lock */
    struct MHD_Daemon *daemon;
    int socket; /* until the daemon has it, else -1 */
    char address[160], pairing_address[160];
};

typedef struct es_request es_request;

/* What an address of the server does: at once, or by the hands or the clerk after its form was
 * read. */
typedef struct es_route {
    const char *method, *path;
    enum MHD_Result (*answer)(es_request *request);          /* at once; or NULL and:      */
    const char *query[2];                                    /* what a GET may ask with    */
    es_status (*read)(es_request *request, es_error *error); /* the form; may be NULL      */
    es_status (*run)(es_request *request, es_error *error);  /* on the hands' thread, then */
    es_status (*keep)(es_request *request, es_error *error); /* on the clerk's; either may
                                                                be NULL                    */
    enum MHD_Result (*finish)(es_request *request);          /* after it; NULL: {}         */
} es_route;

typedef struct es_routes {
    const es_route *at;
    size_t count;
} es_routes;

extern const es_routes es_routes_of_records; /* looking at the records            */
extern const es_routes es_routes_of_changes; /* changing decks and tapes          */
extern const es_routes es_routes_of_entries; /* entering plays, anchors and jobs  */
extern const es_routes es_routes_of_tape;    /* the test tape, while it plays     */

struct es_request {
    es_errand errand; /* the first: the hands hand it back */
    es_serve *serve;
    struct MHD_Connection *connection;
    const es_route *route;
    int seen;      /* 1: its headers were judged               */
    int given;     /* 1: it is, or was, with the hands         */
    int from_here; /* 1: the other end is this computer    */
    size_t length;
    char body[ES_BODY_MOST + 1]; /* length beyond the most: it was too long */
    es_status status;
    es_error error;

    /* as the routes need it */
    es_session_config session;
    es_visit visit;
    es_form *form;               /* read before, asked for while it runs       */
    char query[2][ES_NAME_ROOM]; /* values of route->query; "": not asked with */
    es_bench_job *job;
    es_tape_reading *reading;
    double turns, level_db;
    int sound;
    char output[256];
    char *text;
    size_t size; /* of text, where that is no text */
};

/* What a route that has text answers with. */
enum MHD_Result es_request_finish_text(es_request *request);
/* Parses the body into request->form. */
es_status es_request_read_form(es_request *request, es_error *error);
/* An empty form: what can't be called wrongly from another site, even without a key. */
es_status es_request_read_nothing(es_request *request, es_error *error);

/* NULL: there is no such address; *allowed: the method it does take, NULL: the path is unknown. */
const es_route *es_route_find(const char *method, const char *path, const char **allowed);

/* The event stream. */
enum MHD_Result es_stream_answer(es_request *request);

/* libmicrohttpd's calls; `who` is the server. */
enum MHD_Result es_request_take(void *who, struct MHD_Connection *connection, const char *path,
                                const char *method, const char *version, const char *data,
                                size_t *size, void **request);
void es_request_over(void *who, struct MHD_Connection *connection, void **request,
                     enum MHD_RequestTerminationCode why);

#endif
