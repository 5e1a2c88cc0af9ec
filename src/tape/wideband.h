/*
 * Wideband: what a tape carries that was recorded with sound of all frequencies alike in both
 * tracks: lines of random phase from 100 Hz to 16 kHz, falling by 3 dB an octave, over and over.
 *
 *   head     its gap takes the mean of the tape along its width; a gap that leans spreads over
 *            width x tan(angle) of tape: the mean is the difference of two values of the integral,
 *            so the azimuth loss at every frequency is exact
 *   between  cubic, through integral and value at every step of 1/192000 s: -57 dB at 16 kHz
 *   rt       only _create allocates
 */
#ifndef ES_TAPE_WIDEBAND_H
#define ES_TAPE_WIDEBAND_H

#include "evenspool/tape/scenario.h"

typedef struct es_wideband es_wideband;

/* rms 1; nothing above 0.45 of the sample rate. ES_ERR_NOMEM; *out is NULL on error. */
es_status es_wideband_create(const es_scenario *scenario, double rate_hz, es_wideband **out);
void es_wideband_destroy(es_wideband *broadband);

/* Mean of the tape from at_s - spread_s / 2 to at_s + spread_s / 2, in seconds as recorded. */
double es_wideband_at(const es_wideband *broadband, double at_s, double spread_s);

#endif
