/*
 * Baseband: one tone out of a wide-band capture, mixed to 0 Hz, filtered and decimated.
 *
 *   in      mono samples [FS] (one channel of interleaved frames), fixed sample rate
 *   out     complex phasors, one per hop; |phasor| = half the tone's peak amplitude
 *   how     two linear-phase Kaiser filters, 84 dB; the first is a complex band pass that is only
 *           evaluated at every few samples, so mixing costs nothing. The mixing frequency is a whole
 *           number of steps of a table, hence exact for ever.
 *   range   tone 300 Hz .. 0.4 rate; pass band +-pass_hz round the centre (see es_baseband_plan)
 *   delay   a phasor carries its own instant: frame of phasor n = delay_frames + n * hop_frames
 *   thread  one object, one thread at a time
 *   rt      _tune, _process and _reset never allocate, lock or call the system
 */
#ifndef ES_SIGNAL_BASEBAND_H
#define ES_SIGNAL_BASEBAND_H

#include "evenspool/base/status.h"

#include <stddef.h>
#include <stdint.h>

typedef struct es_baseband es_baseband;

typedef struct es_phasor {
    float re, im;
} es_phasor;

typedef struct es_baseband_plan {
    double centre_hz;    /* mixing frequency actually used, within 1.2 Hz or 0.06 %            */
    double pass_hz;      /* +-: flat within 0.001 dB                                          */
    double hop_hz;       /* phasors per second                                                */
    size_t hop_frames;   /* input frames per phasor                                           */
    double delay_frames; /* instant of phasor 0                                               */
} es_baseband_plan;

/* rate_hz 8000 .. 384000. ES_ERR_ARG, ES_ERR_NOMEM; *out is NULL on error. Untuned. */
es_status es_baseband_create(double rate_hz, es_baseband **out);
void es_baseband_destroy(es_baseband *baseband);

/*
 * Sets the tone to be taken out and how far from the centre it may stray [fraction], and resets.
 * The pass band is reach * centre + 230 Hz unless harmonics or the image stand too near.
 * ES_ERR_ARG: centre outside 300 Hz .. 0.4 rate, reach outside 0 .. 0.3.
 */
es_status es_baseband_tune(es_baseband *baseband, double centre_hz, double reach);
es_baseband_plan es_baseband_plan_of(const es_baseband *baseband);

/* Forgets all samples; the next one is frame 0. */
void es_baseband_reset(es_baseband *baseband);

/*
 * After a reset: leaves out the first frames, a multiple of hop_frames; the next frame pushed is
 * that one, and phasors go on as if the frames before had been seen.
 */
void es_baseband_skip(es_baseband *baseband, uint64_t frames);

/* Most phasors that `frames` more frames can yield. */
size_t es_baseband_yield(const es_baseband *baseband, size_t frames);

/*
 * Consumes in[0], in[stride] ... (frames of them) and writes *count phasors.
 * ES_ERR_SPACE: room < es_baseband_yield(); nothing was consumed. ES_ERR_ARG: never tuned.
 */
es_status es_baseband_process(es_baseband *baseband, const float *in, size_t stride, size_t frames,
                              es_phasor *out, size_t room, size_t *count);

#endif
