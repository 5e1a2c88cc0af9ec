/*
 * Ring: carries float frames from one thread to another without a lock, and says where frames are
 * missing.
 *
 *   in      interleaved float frames, and gaps, from one writing thread
 *   out     the frames in order, to one reading thread; a read never runs across a gap
 *   time    the number of a frame counts the frames that went through since the ring was created;
 *           a gap carries the number of the first frame after it
 *   full    frames that find no room are dropped, counted, and become a gap: never bridged
 *   thread  one writer and one reader at a time. Each may change to another thread, as long as the
 *           two threads order themselves (a thread that was joined, say)
 *   rt      write, gap and read never allocate, lock, log or call the system
 */
#ifndef ES_DEVICE_RING_H
#define ES_DEVICE_RING_H

#include "evenspool/base/status.h"

#include <stddef.h>
#include <stdint.h>

#define ES_RING_CHANNELS_MOST 64
#define ES_RING_FRAMES_MOST (1u << 26)

/* Why frames are missing; several can meet in one gap. */
enum {
    ES_GAP_OVERFLOW = 1, /* the sound system said that it lost input                   */
    ES_GAP_FULL = 2,     /* the reader was too slow: there was no room in the ring     */
    ES_GAP_SILENT = 4,   /* fewer frames came than time went by, and nobody said so    */
    ES_GAP_AWAY = 8      /* the device was gone, or its stream was opened anew         */
};

typedef struct es_gap {
    unsigned reasons;    /* ES_GAP_...; 0: no gap                                      */
    int64_t frame;       /* number of the first frame after the gap                    */
    int64_t since_frame; /* the earliest frame that may lie after it already: from     */
                         /* there to `frame` nothing is certain; mostly equal to frame */
    int64_t lost;        /* frames missing, as far as is known; -1: not known          */
} es_gap;

typedef struct es_ring es_ring;

/*
 * channels 1 .. ES_RING_CHANNELS_MOST; frames, the room, 1 .. ES_RING_FRAMES_MOST, is rounded up
 * to a power of two. ES_ERR_ARG, ES_ERR_NOMEM; *out is NULL on error.
 */
es_status es_ring_create(int channels, size_t frames, es_ring **out);
/* NULL is fine. */
void es_ring_destroy(es_ring *ring);

size_t es_ring_room(const es_ring *ring); /* frames it can hold */

/* --- the writer's --- */

/* Returns how many of the frames went in; the others are dropped and make a gap. */
size_t es_ring_write(es_ring *ring, const float *frames, size_t count);
/* Frames are missing before the next one written. The frame in `gap` is filled in here;
 * since_frame < 0: the same. */
void es_ring_gap(es_ring *ring, es_gap gap);
/* Frames that went in so far: the number of the next one. */
int64_t es_ring_written(const es_ring *ring);

/* --- the reader's --- */

/*
 * Takes up to room frames and returns how many. When a gap lies just before the first of them,
 * *gap tells it, once; else gap->reasons is 0.
 */
size_t es_ring_read(es_ring *ring, float *frames, size_t room, es_gap *gap);
/* The number of the next frame to be read. */
int64_t es_ring_frame(const es_ring *ring);

/* --- anybody's --- */

size_t es_ring_waiting(const es_ring *ring);  /* frames written and not yet read    */
int64_t es_ring_dropped(const es_ring *ring); /* frames dropped for want of room    */
int64_t es_ring_gaps(const es_ring *ring);    /* gaps among the frames written      */

#endif
