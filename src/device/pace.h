/*
 * Pace: finds out that a sound system lost input without saying so, by counting the frames that
 * came against the clock.
 *
 *   in      each block: its frames, and when it came [ns of a steady clock]
 *   out     how many frames are missing, once it is certain
 *   how     frames due less frames come is the lag. Blocks come late and in bursts, never early:
 *           the least lag of a while is steady as long as nothing is lost. When the least lag of
 *           a whole second lies ES_PACE_LEAST_S above what it was, that much is lost.
 *   finds   losses of ES_PACE_LEAST_S and more, 0.5 to 1.5 s after sound flows again. Smaller
 *           ones are left to the sound system's own flags: late blocks look the same.
 *   clocks  the sound card may run ES_PACE_DRIFT slower than the clock for ever; a card that is
 *           faster shows nothing
 *   rt      no call to anything; fit for a device callback
 */
#ifndef ES_DEVICE_PACE_H
#define ES_DEVICE_PACE_H

#include <stdint.h>

#define ES_PACE_LEAST_S 0.1
#define ES_PACE_DRIFT 0.001

typedef struct es_pace {
    double rate_hz;
    int64_t begin_ns;   /* when the first block came                            */
    int64_t frames;     /* come since begin_ns, the first block not counted     */
    int64_t window_ns;  /* when the window in hand began                        */
    double least, last; /* least lag of the window in hand, and of the one before */
    double floor;       /* what the least lag was [frames]                      */
    int64_t good;       /* frames when the lag was last near the floor          */
    int64_t windows;    /* finished                                             */
    int begun;
} es_pace;

/* Forgets everything: a stream begins. */
void es_pace_begin(es_pace *pace, double rate_hz);

/*
 * A block of `frames` came. Returns the frames found missing, mostly 0; *back then says how many
 * of the frames that came, this block's among them, may lie after the loss already.
 */
int64_t es_pace_block(es_pace *pace, int64_t frames, int64_t now_ns, int64_t *back);

#endif
