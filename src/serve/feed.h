/*
 * Feed: events from one writer to any number of listeners, as lines of an event stream.
 *
 *   events    `event: KIND`, `data: one line`, an empty line (HTML standard, section 9.2)
 *   slow      a listener that is more than ES_FEED_EVENTS behind skips to the oldest that is kept and
 *             gets `event: lost` with how many it missed; the writer never waits for it
 *   kept      the last event of each kept kind is what a new listener hears first
 *   thread    publish, join, read, leave, end from any thread
 *   memory    grows to the largest events seen, bounded by ES_FEED_EVENTS of them
 */
#ifndef ES_SERVE_FEED_H
#define ES_SERVE_FEED_H

#include "evenspool/base/status.h"

#include <stddef.h>
#include <stdint.h>

#define ES_FEED_EVENTS 64

typedef struct es_feed es_feed;
typedef struct es_listener es_listener;

typedef enum es_feed_kind {
    ES_FEED_FACTS,    /* kept */
    ES_FEED_SNAPSHOT, /* kept */
    ES_FEED_TAPE,     /* kept */
    ES_FEED_BEAT,     /* "there is nothing new, but I am here" */
    ES_FEED_KINDS
} es_feed_kind;

/* Called with the feed's lock held: sleep before read() returns with nothing, wake once when there
 * is something again. They must neither wait nor call the feed. */
typedef struct es_listener_calls {
    void (*sleep)(void *who);
    void (*wake)(void *who);
} es_listener_calls;

typedef struct es_feed_counts {
    uint64_t published;
    uint64_t lost; /* by all listeners together */
    size_t listeners;
} es_feed_counts;

/* ES_ERR_NOMEM; *out is NULL on error. */
es_status es_feed_create(es_feed **out);
/* All listeners must have left. NULL is fine. */
void es_feed_destroy(es_feed *feed);

/* data is one line. Without memory the event is lost to everybody, and counted. */
void es_feed_publish(es_feed *feed, es_feed_kind kind, const char *data);
/* Forgets the kept event of that kind. */
void es_feed_forget(es_feed *feed, es_feed_kind kind);

/* From now on read() says -1, and whoever sleeps is woken. */
void es_feed_end(es_feed *feed);

/* ES_ERR_NOMEM, or ES_ERR_SPACE when listeners_most listen already; *out is NULL on error. */
es_status es_feed_join(es_feed *feed, size_t listeners_most, es_listener_calls calls, void *who,
                       es_listener **out);
/* NULL is fine. */
void es_feed_leave(es_listener *listener);

/* Up to room bytes of the stream; 0: nothing now, sleep() was called; -1: the feed has ended. */
int es_feed_read(es_listener *listener, char *out, size_t room, size_t *count);

es_feed_counts es_feed_counts_now(es_feed *feed);

/* The data of the kept event of that kind, the caller's to free; NULL: none, or no memory. */
char *es_feed_kept(es_feed *feed, es_feed_kind kind);

#endif
