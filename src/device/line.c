#include "device/line.h"

#include "device/sound.h"

#include <string.h>

#define RATE_HZ 48000.0
#define SILENT_NS 1500000000 /* without a block: lost */
#define WATCH_MOST_NS 250000000
#define RETRY_NS 1000000000
#define LIST_NS 5000000000 /* between new lists that interrupt others */

/* --- on the sound system's thread ------------------------------------------------------- */

static int64_t count_block(es_line *l)
{
    const es_backend *b = &l->sound->backend;
    int64_t now = b->now_ns(b->self);
    atomic_store_explicit(&l->last_ns, now, memory_order_relaxed);
    atomic_fetch_add_explicit(&l->blocks, 1, memory_order_release);
    return now;
}

static void on_take(void *who, const float *frames, size_t count, int overflowed)
{
    es_line *l = who;
    l->take(l->who, frames, count, overflowed, count_block(l));
}

static void on_fill(void *who, float *frames, size_t count, int ran_dry)
{
    es_line *l = who;
    count_block(l);
    l->fill(l->who, frames, count, ran_dry);
}

static void on_ended(void *who)
{
    es_line *l = who;
    atomic_store_explicit(&l->ended, 1, memory_order_release);
}

/* --- opening ----------------------------------------------------------------------------- */

static es_status open_at(es_line *l, const es_place *place, double rate_hz, es_error *error)
{
    const es_backend *b = &l->sound->backend;
    es_stream_wish wish = {.place = es_sound_index(l->sound, place),
                           .channels = l->channels,
                           .rate_hz = rate_hz,
                           .latency_s = l->latency_s,
                           .who = l,
                           .take = l->take ? on_take : NULL,
                           .fill = l->fill ? on_fill : NULL,
                           .ended = on_ended};
    return b->open(b->self, &wish, &l->stream, error);
}

/* 48000 first; the rate that the list tells comes last, since it is often not the true one. */
static es_status open_at_some_rate(es_line *l, const es_place *place, es_error *error)
{
    const double rates[] = {RATE_HZ, 44100.0, 96000.0, place->listed_rate_hz};
    if (l->rate_hz > 0.0)
        return open_at(l, place, l->rate_hz, error);
    es_status status = ES_ERR_DEVICE;
    for (size_t i = 0; i < sizeof rates / sizeof *rates; i++) {
        es_error refusal = {0};
        status = open_at(l, place, rates[i], &refusal);
        if (status == ES_OK) {
            l->rate_hz = rates[i];
            return ES_OK;
        }
        if (strcmp(refusal.code, "device-rate") != 0)
            return es_fail(error, status, refusal.code, "%s", refusal.text);
    }
    return es_fail(error, status, "device-rate",
                   "%s can't be used at 48000, 44100 or 96000 samples a second; choose another "
                   "device, or set it to 48000 Hz in the computer's sound settings.",
                   place->name);
}

static es_status settle_channels(es_line *l, const es_place *place, es_error *error)
{
    int there = l->take ? place->inputs : place->outputs;
    if (l->channels == 0)
        l->channels = there < 2 ? there : 2;
    if (l->channels <= there)
        return ES_OK;
    return es_fail(error, ES_ERR_DEVICE, "device-channels",
                   "%s has %d channels where %d are asked for; choose another device or fewer "
                   "channels.",
                   place->name, there, l->channels);
}

static void enter(es_line *l)
{
    l->next = l->sound->lines;
    l->sound->lines = l;
}

static void leave(es_line *l)
{
    for (es_line **at = &l->sound->lines; *at; at = &(*at)->next)
        if (*at == l) {
            *at = l->next;
            return;
        }
}

es_status es_line_open(es_line *l, es_sound *sound, const char *name, es_error *error)
{
    const es_place *place;
    es_status status = es_sound_find(sound, name, l->take != NULL, &place, error);
    if (status != ES_OK)
        return status;
    l->sound = sound;
    memcpy(l->name, place->name, sizeof l->name);
    memcpy(l->system, place->system, sizeof l->system);
    status = settle_channels(l, place, error);
    if (status == ES_OK)
        status = open_at_some_rate(l, place, error);
    if (status == ES_OK)
        enter(l);
    else
        l->sound = NULL;
    return status;
}

static void close_stream(es_line *l)
{
    if (l->stream)
        l->sound->backend.close(l->sound->backend.self, l->stream);
    l->stream = NULL;
}

void es_line_close(es_line *l)
{
    if (!l->sound)
        return;
    close_stream(l);
    leave(l);
    l->sound = NULL;
}

/* --- running ------------------------------------------------------------------------------- */

static int64_t now_of(const es_line *l)
{
    return l->sound->backend.now_ns(l->sound->backend.self);
}

/* Time without sound that the owner has not been told of yet; -1: there was none before. */
static int64_t away(const es_line *l, int64_t now)
{
    if (atomic_load_explicit(&l->blocks, memory_order_acquire) == 0)
        return -1;
    int64_t last = atomic_load_explicit(&l->last_ns, memory_order_relaxed);
    return now - (last > l->begun_ns ? last : l->begun_ns);
}

/* The place again, by its whole name, after a stop, a loss or a new list. */
static es_status open_again(es_line *l, es_error *error)
{
    const es_place *place = es_sound_same_place(l->sound, l);
    if (place)
        return open_at(l, place, l->rate_hz, error);
    return es_fail(error, ES_ERR_DEVICE, "device-gone",
                   "%s is not there any more; connect it again.", l->name);
}

es_status es_line_start(es_line *l, es_error *error)
{
    if (l->state != ES_LINE_STOPPED)
        return ES_OK;
    es_status status = l->stream ? ES_OK : open_again(l, error);
    if (status != ES_OK)
        return status;
    int64_t now = now_of(l);
    l->begin(l->who, away(l, now));
    l->begun_ns = now;
    atomic_store(&l->ended, 0);
    l->watched_ns = now;
    l->silent_ns = 0;
    l->blocks_seen = atomic_load_explicit(&l->blocks, memory_order_acquire);
    status = l->sound->backend.start(l->sound->backend.self, l->stream, error);
    if (status == ES_OK)
        l->state = ES_LINE_RUNNING;
    else
        close_stream(l);
    return status;
}

void es_line_stop(es_line *l)
{
    close_stream(l);
    l->state = ES_LINE_STOPPED;
}

/* --- watching ------------------------------------------------------------------------------ */

/* Ended without having been asked, or no block for a while. Time in which nobody watched does not
 * count: a program that was halted finds its blocks waiting. */
static int has_vanished(es_line *l, int64_t now)
{
    int64_t blocks = atomic_load_explicit(&l->blocks, memory_order_acquire);
    int64_t passed = now - l->watched_ns;
    l->watched_ns = now;
    l->silent_ns += passed < WATCH_MOST_NS ? passed : WATCH_MOST_NS;
    if (blocks != l->blocks_seen)
        l->silent_ns = 0;
    l->blocks_seen = blocks;
    return atomic_load_explicit(&l->ended, memory_order_acquire) || l->silent_ns >= SILENT_NS;
}

void es_line_suspend(es_line *l)
{
    close_stream(l);
    int64_t now = now_of(l);
    if (l->state == ES_LINE_RUNNING)
        l->lost_ns = now;
    if (l->state != ES_LINE_STOPPED)
        l->state = ES_LINE_LOST;
    l->tried_ns = now;
}

int es_line_resume(es_line *l)
{
    if (l->state != ES_LINE_LOST)
        return 1;
    l->tried_ns = now_of(l);
    l->state = ES_LINE_STOPPED;
    int runs = es_line_start(l, NULL) == ES_OK;
    l->state = ES_LINE_LOST; /* until a block comes */
    return runs;
}

static int others_run(const es_line *l)
{
    for (const es_line *other = l->sound->lines; other; other = other->next)
        if (other != l && other->state == ES_LINE_RUNNING)
            return 1;
    return 0;
}

/* First on the list as it is; a new list costs time and interrupts the others. */
static void seek(es_line *l, int64_t now)
{
    if (now - l->tried_ns < RETRY_NS || es_line_resume(l))
        return;
    if (now - l->sound->listed_ns >= (others_run(l) ? LIST_NS : RETRY_NS))
        es_sound_look_again(l->sound, NULL);
}

/* Opened again: is it back, or does it only look so? */
static void try_out(es_line *l, int64_t now)
{
    int64_t seen = l->blocks_seen;
    if (has_vanished(l, now))
        es_line_suspend(l);
    else if (l->blocks_seen != seen)
        l->state = ES_LINE_RUNNING;
}

es_line_state es_line_watch(es_line *l)
{
    int64_t now = now_of(l);
    if (l->state == ES_LINE_RUNNING && has_vanished(l, now)) {
        es_line_suspend(l);
        l->losses++;
    } else if (l->state == ES_LINE_LOST && l->stream) {
        try_out(l, now);
    } else if (l->state == ES_LINE_LOST) {
        seek(l, now);
    }
    return l->state;
}

es_line_facts es_line_facts_of(const es_line *l)
{
    es_line_facts facts = {.rate_hz = l->rate_hz, .channels = l->channels, .losses = l->losses};
    memcpy(facts.name, l->name, sizeof facts.name);
    if (l->state == ES_LINE_LOST)
        facts.lost_s = (double)(now_of(l) - l->lost_ns) * 1e-9;
    return facts;
}
