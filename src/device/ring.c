#include "device/ring.h"

#include <assert.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#define GAPS 64u /* told and not yet read; a power of two */
#define APART                                                                                      \
    128 /* bytes between the two sides: two cache lines, since some are fetched in pairs */

struct es_ring {
    float *samples;
    es_gap *gaps; /* GAPS of them */
    size_t channels, room;

    char apart_from_settings[APART];
    /* the writer's */
    _Atomic uint64_t written;   /* frames, free-running     */
    _Atomic uint64_t gaps_told; /* gap records, free-running */
    _Atomic int64_t dropped;
    es_gap pending; /* missing before the next frame, not told yet */

    char apart_from_writer[APART];
    /* the reader's */
    _Atomic uint64_t read;
    _Atomic uint64_t gaps_read;
    char apart_from_others[APART];
};

_Static_assert(offsetof(struct es_ring, read) - offsetof(struct es_ring, pending) >= APART,
               "reader and writer share a cache line");

es_status es_ring_create(int channels, size_t frames, es_ring **out)
{
    *out = NULL;
    if (channels < 1 || channels > ES_RING_CHANNELS_MOST || frames < 1 ||
        frames > ES_RING_FRAMES_MOST)
        return ES_ERR_ARG;
    es_ring *r = calloc(1, sizeof *r);
    if (!r)
        return ES_ERR_NOMEM;
    r->channels = (size_t)channels;
    r->room = 1;
    while (r->room < frames)
        r->room *= 2;
    r->samples = calloc(r->room * r->channels, sizeof *r->samples);
    r->gaps = calloc(GAPS, sizeof *r->gaps);
    if (!r->samples || !r->gaps) {
        es_ring_destroy(r);
        return ES_ERR_NOMEM;
    }
    assert(atomic_is_lock_free(&r->written) && atomic_is_lock_free(&r->dropped));
    *out = r;
    return ES_OK;
}

void es_ring_destroy(es_ring *r)
{
    if (!r)
        return;
    free(r->samples);
    free(r->gaps);
    free(r);
}

size_t es_ring_room(const es_ring *r)
{
    return r->room;
}

/* --- writer -------------------------------------------------------------------------- */

static int64_t sum_of_losses(int64_t a, int64_t b)
{
    return a < 0 || b < 0 ? -1 : a + b;
}

void es_ring_gap(es_ring *r, es_gap gap)
{
    int64_t now = es_ring_written(r);
    int64_t since = gap.since_frame < 0 || gap.since_frame > now ? now : gap.since_frame;
    es_gap *p = &r->pending;
    p->lost = p->reasons ? sum_of_losses(p->lost, gap.lost) : gap.lost;
    p->since_frame = p->reasons && p->since_frame < since ? p->since_frame : since;
    p->reasons |= gap.reasons;
    p->frame = now;
}

/* 1: the reader will hear of the gap before any frame after it. */
static int tell_pending(es_ring *r)
{
    if (!r->pending.reasons)
        return 1;
    uint64_t told = atomic_load_explicit(&r->gaps_told, memory_order_relaxed);
    if (told - atomic_load_explicit(&r->gaps_read, memory_order_acquire) >= GAPS)
        return 0;
    r->gaps[told % GAPS] = r->pending;
    r->pending = (es_gap){0};
    atomic_store_explicit(&r->gaps_told, told + 1, memory_order_release);
    return 1;
}

static void drop(es_ring *r, size_t count)
{
    if (count == 0)
        return;
    es_ring_gap(r, (es_gap){.reasons = ES_GAP_FULL, .since_frame = -1, .lost = (int64_t)count});
    atomic_fetch_add_explicit(&r->dropped, (int64_t)count, memory_order_relaxed);
}

size_t es_ring_write(es_ring *r, const float *frames, size_t count)
{
    uint64_t at = atomic_load_explicit(&r->written, memory_order_relaxed);
    uint64_t held = at - atomic_load_explicit(&r->read, memory_order_acquire);
    size_t fits = r->room - (size_t)held;
    if (fits > count)
        fits = count;
    if (fits > 0 && !tell_pending(r))
        fits = 0;
    if (fits > 0) {
        size_t begin = (size_t)(at & (r->room - 1));
        size_t first = fits < r->room - begin ? fits : r->room - begin;
        memcpy(r->samples + begin * r->channels, frames, first * r->channels * sizeof *frames);
        memcpy(r->samples, frames + first * r->channels,
               (fits - first) * r->channels * sizeof *frames);
        atomic_store_explicit(&r->written, at + fits, memory_order_release);
    }
    drop(r, count - fits);
    return fits;
}

int64_t es_ring_written(const es_ring *r)
{
    return (int64_t)atomic_load_explicit(&r->written, memory_order_relaxed);
}

/* --- reader -------------------------------------------------------------------------- */

/* Takes the gap at frame `at`, if there is one, and returns how far one may read. */
static uint64_t look_for_gaps(es_ring *r, uint64_t at, uint64_t end, es_gap *gap)
{
    uint64_t told = atomic_load_explicit(&r->gaps_told, memory_order_acquire);
    uint64_t next = atomic_load_explicit(&r->gaps_read, memory_order_relaxed);
    if (next != told && (uint64_t)r->gaps[next % GAPS].frame == at) {
        *gap = r->gaps[next % GAPS];
        atomic_store_explicit(&r->gaps_read, ++next, memory_order_release);
    }
    if (next != told && (uint64_t)r->gaps[next % GAPS].frame < end)
        return (uint64_t)r->gaps[next % GAPS].frame;
    return end;
}

size_t es_ring_read(es_ring *r, float *frames, size_t room, es_gap *gap)
{
    *gap = (es_gap){0};
    uint64_t at = atomic_load_explicit(&r->read, memory_order_relaxed);
    uint64_t end = atomic_load_explicit(&r->written, memory_order_acquire);
    if (at == end || room == 0)
        return 0;
    end = look_for_gaps(r, at, end, gap);
    size_t count = (size_t)(end - at) < room ? (size_t)(end - at) : room;
    size_t begin = (size_t)(at & (r->room - 1));
    size_t first = count < r->room - begin ? count : r->room - begin;
    memcpy(frames, r->samples + begin * r->channels, first * r->channels * sizeof *frames);
    memcpy(frames + first * r->channels, r->samples,
           (count - first) * r->channels * sizeof *frames);
    atomic_store_explicit(&r->read, at + count, memory_order_release);
    return count;
}

int64_t es_ring_frame(const es_ring *r)
{
    return (int64_t)atomic_load_explicit(&r->read, memory_order_relaxed);
}

/* --- anybody ------------------------------------------------------------------------- */

size_t es_ring_waiting(const es_ring *r)
{
    uint64_t read = atomic_load_explicit(&r->read, memory_order_acquire);
    uint64_t waiting = atomic_load_explicit(&r->written, memory_order_acquire) - read;
    return waiting < r->room ? (size_t)waiting : r->room; /* more may have been read meanwhile */
}

int64_t es_ring_dropped(const es_ring *r)
{
    return atomic_load_explicit(&r->dropped, memory_order_relaxed);
}

int64_t es_ring_gaps(const es_ring *r)
{
    return (int64_t)atomic_load_explicit(&r->gaps_told, memory_order_relaxed);
}
