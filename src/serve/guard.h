/*
 * Guard: may this request come in? Decides, answers nothing.
 *
 *   host     must be a name of this computer with the server's port: a foreign page can make a browser
 *            call us under a name of its own, never under ours
 *   origin   when a browser says where a request comes from, it must be a page of ours
 *   key      with lan every request carries it (cookie, Authorization: Bearer, or the pairing link);
 *            compared in constant time
 *   failures an address that shows too many wrong keys is refused for a while, even with the right
 *            one; others are not hindered
 *   thread   one guard, one thread at a time
 */
#ifndef ES_SERVE_GUARD_H
#define ES_SERVE_GUARD_H

#include "evenspool/base/error.h"

#include <stddef.h>

#define ES_KEY_LENGTH 32 /* hexadecimal digits of 128 bits */
#define ES_GUARD_NAMES 4
#define ES_GUARD_STRANGERS 64
#define ES_GUARD_WRONG_MOST 10  /* wrong keys before an address is refused ...       */
#define ES_GUARD_FORGIVE_S 12.0 /* ... and the time after which one of them is forgotten */

typedef enum es_guard_verdict {
    ES_GUARD_PASS,
    ES_GUARD_FOREIGN_HOST,
    ES_GUARD_FOREIGN_ORIGIN,
    ES_GUARD_NO_KEY,
    ES_GUARD_WRONG_KEY,
    ES_GUARD_TOO_MANY
} es_guard_verdict;

typedef struct es_stranger { /* somebody who showed a wrong key */
    char address[48];
    double wrong; /* how many, forgetting taken off */
    double seen_s;
} es_stranger;

typedef struct es_guard {
    int lan;
    int port;
    char key[ES_KEY_LENGTH + 1];
    char names[ES_GUARD_NAMES][80]; /* host names of this computer, "" : none */
    es_stranger strangers[ES_GUARD_STRANGERS];
} es_guard;

/* One request as far as it matters here; what the client did not send is NULL. */
typedef struct es_guard_request {
    const char *host, *origin, *fetch_site; /* headers Host, Origin, Sec-Fetch-Site */
    const char *key;                        /* from wherever it came                */
    const char *local;                      /* this end's address, "192.0.2.1"      */
    const char *peer;                       /* the other end's                      */
    int navigation; /* 1: a page is opened, not fetched by another: may come from anywhere */
    double now_s;   /* any clock that runs on                                           */
} es_guard_request;

/* A new key when lan. ES_ERR_IO "no-key". hostname: of this computer, NULL: it has none. */
es_status es_guard_init(es_guard *guard, int lan, int port, const char *hostname, es_error *error);

es_guard_verdict es_guard_judge(es_guard *guard, const es_guard_request *request);

/* 1: the texts are equal; takes the same time wherever they differ. */
int es_guard_same_key(const char *shown, const char *key);

/* 1: an address of this computer's own loop, "127.0.0.1" or "::1". */
int es_guard_is_here(const char *address);

#endif
