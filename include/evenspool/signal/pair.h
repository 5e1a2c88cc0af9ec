/*
 * Pair: what two channels have in common from moment to moment, a hundred times a second.
 *
 *   in       both channels [FS], broadband sound or a tone
 *   out      delay of the right channel near one that is expected, how well the phases agree on it,
 *            level of each channel
 *   how      cross spectrum of one frame of 43 to 64 ms; the delay at which its phases agree best,
 *            each frequency weighted with its strength (white noise: the most likely delay)
 *   turns    one frame can't tell whole turns of a tone: it stays within half of one of the delay
 *            expected, and follows from frame to frame. Where it stands es_delay must say
 *   tone     a frame that has four fifths of its power within 5 bins is a tone: the levels are then
 *            the tone's alone
 *   error    broadband, one frame: 0.02 us at 40 dB SNR, 0.2 us at 20 dB (tests)
 *   same     the readings do not depend on the block size, bit for bit
 *   thread   one object, one thread at a time
 *   rt       only _create allocates
 */
#ifndef ES_SIGNAL_PAIR_H
#define ES_SIGNAL_PAIR_H

#include "evenspool/base/status.h"

#include <stddef.h>

#define ES_PAIR_HZ 100.0 /* readings a second, to the nearest frame of the sample rate */

/* Agreement from which a delay can be believed: unrelated channels stay under 0.2, 0 dB SNR gives 0.5. */
#define ES_PAIR_AGREES 0.35

typedef struct es_pair es_pair;

typedef struct es_pair_reading {
    double delay_s;   /* + right later; NaN: nothing to compare                            */
    double agreement; /* of the phases on it, 0 (none) .. 1                                */
    double power[2];  /* mean square of left and right [FS^2], of the tone where there is one */
    double sum_share; /* power of left + right over what it would be without any delay, 0 .. 1 */
    double tone_hz;   /* NaN: no tone                                                      */
} es_pair_reading;

/* rate_hz 8000 .. 384000. ES_ERR_ARG, ES_ERR_NOMEM; *out is NULL on error. */
es_status es_pair_create(double rate_hz, es_pair **out);
void es_pair_destroy(es_pair *pair);

/* Forgets the frame being collected and follows on from what is expected. */
void es_pair_reset(es_pair *pair);

/* Where the delay is now supposed to be, and whether the right channel's polarity is reversed. */
void es_pair_expect(es_pair *pair, double delay_s, int opposed);

/* Takes frames until the next reading is due and returns how many; *ready 1: it is there. */
size_t es_pair_push(es_pair *pair, const float *left, const float *right, size_t stride,
                    size_t frames, es_pair_reading *out, int *ready);

#endif
