/*
 * The local web server: one page, its events and its commands, over one live session at a time.
 *
 *   where    127.0.0.1 only; with lan every network of this computer, behind a key of 128 random
 *            bits that the pairing link carries
 *   closed   to pages of other sites: Host and Origin must be this server's own
 *   events   every page gets all snapshots as they come; a page that is slow skips some and is told how
 *            many; the session never waits for a page
 *   records  are opened for each request that needs them and closed after it; what they make wait
 *            (the disk, another program) makes no event and no session wait
 *   thread   five of its own: one for the network, one for the hands (it alone opens and closes
 *            sessions and calls `inputs`), one for the records, one each that follows the session and
 *            the test tape. start and stop on one thread; the others of this header from any
 *   signals  its threads take none
 */
#ifndef ES_SERVE_SERVE_H
#define ES_SERVE_SERVE_H

#include "evenspool/base/error.h"
#include "live/session.h"

#include <stddef.h>

#define ES_SERVE_PORT 8417 /* what `bench` uses unless told otherwise */
#define ES_SERVE_INPUTS_MOST 64

typedef struct es_serve es_serve;

/* A live input that the page can offer. */
typedef struct es_serve_input {
    char name[256];  /* as in "device:NAME"                                */
    char about[160]; /* one line for a person: channels, rate; "" : nothing */
} es_serve_input;

typedef struct es_serve_config {
    int port;                  /* 0: any that is free; else 1 .. 65535                     */
    int lan;                   /* 1: serve the network, behind the key                     */
    es_session_config session; /* source "" : none runs until the page starts one          */
    const char *records;       /* the records' file; NULL: the usual place. Stays the caller's */
    void *who;                 /* handed to inputs                                         */
    /* Lists the live inputs, at most room; NULL: there are none to be had. Called anew each time
     * somebody looks at the list. */
    es_status (*inputs)(void *who, es_serve_input *list, size_t room, size_t *count,
                        es_error *error);
} es_serve_config;

/* ES_SERVE_PORT on 127.0.0.1, es_session_defaults(), the inputs of this computer. */
es_serve_config es_serve_defaults(void);

/*
 * Returns when the page can be opened. *out is NULL on error. ES_ERR_ARG "bad-port".
 * ES_ERR_IO "port-taken", "port-refused", "no-server" (the network refuses), "no-key" (no random
 * numbers to be had). ES_ERR_NOMEM. What es_session_open() says when the session can't be opened.
 */
es_status es_serve_start(const es_serve_config *config, es_serve **out, es_error *error);

/* Closes the session and all connections. NULL is fine. */
void es_serve_stop(es_serve *serve);

/* Where to open the page on this computer; with lan it carries the key. Valid until _stop. */
const char *es_serve_address(const es_serve *serve);

/* What a phone opens; "" without lan. It carries the key: show it to nobody else. */
const char *es_serve_pairing_address(const es_serve *serve);

/*
 * The pairing address as a QR code of block characters, in lines for a dark terminal; the caller's
 * to free. ES_ERR_ARG: no lan. ES_ERR_NOMEM; *out is NULL on error.
 */
es_status es_serve_pairing_text(const es_serve *serve, char **out);

#endif
