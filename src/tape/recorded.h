/*
 * Recorded: a recording on the rehearsal deck's tape, read at any place.
 *
 *   in       frames of es_recording, one after the other, at 96 kHz of nominal speed
 *   tape     saturates: y = x - c x^3, so that a sine at reference level gets the third harmonic that the
 *            scenario says, and keeps its level; nothing louder than where that bends down
 *   head     one symmetric filter as the frames come: azimuth sin(x) / x, spacing exp(-f dull), and nothing
 *            above half the capture's sample rate (24 kHz at most). Spacing within 0.05 dB from 30 Hz on, 0.01
 *            from 315 Hz on
 *   between  16 taps of a windowed sinc: images 90 dB down up to 24 kHz (four-term window, Harris 1978, Proc.
 *            IEEE 66: side lobes -92 dB)
 *   keeps    the last 60 ms of tape and more; what is farther back reads as what is oldest
 *   rt       only _create allocates; _head takes some milliseconds
 */
#ifndef ES_TAPE_RECORDED_H
#define ES_TAPE_RECORDED_H

#include "evenspool/tape/rehearsal.h"

typedef struct es_recorded es_recorded;

/* third: share at reference level, 0 .. 1. The recording is copied, what it points at is not.
 * ES_ERR_NOMEM; *out is NULL on error. */
es_status es_recorded_create(const es_recording *recording, double third, double rate_hz,
                             es_recorded **out);
void es_recorded_destroy(es_recorded *recorded);

/* Peak of a sine at reference level in the recording. */
double es_recorded_reference(const es_recorded *recorded);

/* What the head does to frames from now on: takes the mean over spread_s of tape, weakens a frequency by
 * exp(-hz x dull_s); both in seconds as recorded. */
void es_recorded_head(es_recorded *recorded, double spread_s, double dull_s);

/* The tape comes to that place, in seconds as recorded. */
void es_recorded_wind(es_recorded *recorded, double at_s);

/* What the head reads there; up to the place it was wound to. */
double es_recorded_at(const es_recorded *recorded, int channel, double at_s);

#endif
