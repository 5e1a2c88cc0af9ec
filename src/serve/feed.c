#include "serve/feed.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FRAME_ROOM 64 /* "event: snapshot\ndata: " and two line ends, or a whole `lost` event */

static const char *const kind_names[ES_FEED_KINDS] = {"facts", "snapshot", "tape", "beat"};
static const int kind_is_kept[ES_FEED_KINDS] = {1, 1, 1, 0};

typedef struct event { /* text that grows and is never shrunk */
    char *text;
    size_t room, length;
    uint64_t number; /* of a kept one */
} event;

struct es_feed {
    pthread_mutex_t lock; /* guards all that follows, and what the listeners hold */
    event events[ES_FEED_EVENTS];
    uint64_t published; /* event number n stands in events[n % ES_FEED_EVENTS] */
    event kept[ES_FEED_KINDS];
    es_listener *first;
    size_t listeners;
    uint64_t lost;
    int ended;
};

struct es_listener {
    es_feed *feed;
    es_listener *next;
    es_listener_calls calls;
    void *who;
    int asleep;
    uint64_t joined_at, at; /* the event it wanted first, and next   */
    event now;              /* the event it is being given                */
    size_t given;           /* bytes of it that were handed over          */
    int greeted;            /* kept events handed over so far             */
};

/* --- events -------------------------------------------------------------------------------- */

static int make_room(event *e, size_t room)
{
    if (room <= e->room)
        return 1;
    char *text = realloc(e->text, room);
    if (!text)
        return 0;
    e->text = text;
    e->room = room;
    return 1;
}

/* An event that can't be held is empty: listeners pass over it. */
static int write_event(event *e, const char *kind, const char *data)
{
    e->length = 0;
    if (!make_room(e, strlen(data) + FRAME_ROOM))
        return 0;
    int length = snprintf(e->text, e->room, "event: %s\ndata: %s\n\n", kind, data);
    e->length = (size_t)length;
    return 1;
}

static int copy_event(event *to, const event *from)
{
    to->length = 0;
    if (!make_room(to, from->length))
        return 0;
    if (from->length > 0) /* else there may be no text at all */
        memcpy(to->text, from->text, from->length);
    to->length = from->length;
    return 1;
}

/* --- life ---------------------------------------------------------------------------------- */

es_status es_feed_create(es_feed **out)
{
    *out = NULL;
    es_feed *feed = calloc(1, sizeof *feed);
    if (!feed)
        return ES_ERR_NOMEM;
    pthread_mutex_init(&feed->lock, NULL);
    *out = feed;
    return ES_OK;
}

void es_feed_destroy(es_feed *feed)
{
    if (!feed)
        return;
    for (size_t i = 0; i < ES_FEED_EVENTS; i++)
        free(feed->events[i].text);
    for (size_t i = 0; i < ES_FEED_KINDS; i++)
        free(feed->kept[i].text);
    pthread_mutex_destroy(&feed->lock);
    free(feed);
}

/* --- writer -------------------------------------------------------------------------------- */

static void wake_all(es_feed *feed)
{
    for (es_listener *l = feed->first; l; l = l->next) {
        if (l->asleep) {
            l->asleep = 0;
            l->calls.wake(l->who);
        }
    }
}

static void keep(event *kept, const event *e, uint64_t number)
{
    copy_event(kept, e);
    kept->number = number;
}

void es_feed_publish(es_feed *feed, es_feed_kind kind, const char *data)
{
    pthread_mutex_lock(&feed->lock);
    event *e = &feed->events[feed->published % ES_FEED_EVENTS];
    if (!write_event(e, kind_names[kind], data))
        feed->lost += feed->listeners;
    else if (kind_is_kept[kind])
        keep(&feed->kept[kind], e, feed->published);
    feed->published++;
    wake_all(feed);
    pthread_mutex_unlock(&feed->lock);
}

void es_feed_forget(es_feed *feed, es_feed_kind kind)
{
    pthread_mutex_lock(&feed->lock);
    feed->kept[kind].length = 0;
    pthread_mutex_unlock(&feed->lock);
}

void es_feed_end(es_feed *feed)
{
    pthread_mutex_lock(&feed->lock);
    feed->ended = 1;
    wake_all(feed);
    pthread_mutex_unlock(&feed->lock);
}

/* --- listeners ----------------------------------------------------------------------------- */

es_status es_feed_join(es_feed *feed, size_t listeners_most, es_listener_calls calls, void *who,
                       es_listener **out)
{
    *out = NULL;
    es_listener *l = calloc(1, sizeof *l);
    if (!l)
        return ES_ERR_NOMEM;
    *l = (es_listener){.feed = feed, .calls = calls, .who = who};
    pthread_mutex_lock(&feed->lock);
    int full = feed->listeners >= listeners_most;
    if (!full) {
        l->at = l->joined_at = feed->published;
        l->next = feed->first;
        feed->first = l;
        feed->listeners++;
    }
    pthread_mutex_unlock(&feed->lock);
    if (full) {
        free(l);
        return ES_ERR_SPACE;
    }
    *out = l;
    return ES_OK;
}

void es_feed_leave(es_listener *listener)
{
    if (!listener)
        return;
    es_feed *feed = listener->feed;
    pthread_mutex_lock(&feed->lock);
    es_listener **place = &feed->first;
    while (*place != listener)
        place = &(*place)->next;
    *place = listener->next;
    feed->listeners--;
    pthread_mutex_unlock(&feed->lock);
    free(listener->now.text);
    free(listener);
}

/* What was overwritten before it could be given: says so, and goes on with the oldest there is. */
static int tell_loss(es_listener *l)
{
    es_feed *feed = l->feed;
    uint64_t behind = feed->published - l->at;
    if (behind <= ES_FEED_EVENTS)
        return 0;
    uint64_t missed = behind - ES_FEED_EVENTS;
    char data[FRAME_ROOM];
    l->at += missed;
    feed->lost += missed;
    snprintf(data, sizeof data, "{\"events\": %llu}", (unsigned long long)missed);
    return write_event(&l->now, "lost", data);
}

/* 1: l->now holds something that was not given yet. */
static int fetch(es_listener *l)
{
    es_feed *feed = l->feed;
    l->given = 0;
    l->now.length = 0;
    while (l->greeted < ES_FEED_KINDS) {
        const event *kept = &feed->kept[l->greeted++];
        if (kept->number >= l->joined_at) /* it comes with the others */
            continue;
        copy_event(&l->now, kept);
        if (l->now.length > 0)
            return 1;
    }
    if (tell_loss(l))
        return 1;
    while (l->at < feed->published) {
        copy_event(&l->now, &feed->events[l->at++ % ES_FEED_EVENTS]);
        if (l->now.length > 0)
            return 1;
    }
    return 0;
}

static size_t give(es_listener *l, char *out, size_t room)
{
    size_t left = l->now.length - l->given;
    size_t count = left < room ? left : room;
    memcpy(out, l->now.text + l->given, count);
    l->given += count;
    return count;
}

int es_feed_read(es_listener *listener, char *out, size_t room, size_t *count)
{
    es_feed *feed = listener->feed;
    *count = 0;
    pthread_mutex_lock(&feed->lock);
    int ended = feed->ended;
    if (!ended && (listener->given < listener->now.length || fetch(listener))) {
        *count = give(listener, out, room);
    } else if (!ended) {
        listener->asleep = 1;
        listener->calls.sleep(listener->who);
    }
    pthread_mutex_unlock(&feed->lock);
    return ended ? -1 : *count > 0;
}

/* --- looking on ---------------------------------------------------------------------------- */

es_feed_counts es_feed_counts_now(es_feed *feed)
{
    pthread_mutex_lock(&feed->lock);
    es_feed_counts counts = {feed->published, feed->lost, feed->listeners};
    pthread_mutex_unlock(&feed->lock);
    return counts;
}

char *es_feed_kept(es_feed *feed, es_feed_kind kind)
{
    char *data = NULL;
    pthread_mutex_lock(&feed->lock);
    const event *kept = &feed->kept[kind];
    size_t head = strlen("event: \ndata: ") + strlen(kind_names[kind]), tail = 2;
    if (kept->length > head + tail)
        data = strndup(kept->text + head, kept->length - head - tail);
    pthread_mutex_unlock(&feed->lock);
    return data;
}
