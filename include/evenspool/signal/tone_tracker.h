/*
 * Tone tracker: follows one tone and reports how its frequency moves.
 *
 *   in      mono samples [FS] (one channel of interleaved frames), fixed sample rate
 *   out     ES_READINGS_HZ readings per second: frequency, amplitude, good or not
 *   how     baseband (baseband.h), phase steps between phasors, then a windowed-sinc kernel that
 *           is flat over the modulation band, evaluated at the readings' own instants
 *           (docs/methods.md#tone). Sharp: closed at 1.6 times the band's end, for measuring;
 *           a reading comes out 30 ms after its instant. Quick: closed at twice the band, 20 ms.
 *   range   centre +-15 % (reach), as far as harmonics allow for tones under 600 Hz: band_hz says
 *           up to which rate the modulation is flat
 *   dropout a level 12 dB under its recent self, or a frequency that leaves the band, is bridged
 *           with the recent mean frequency and marked not good
 *   error   |hz - true| < 1e-5 Hz mean for a steady 3150 Hz tone at 48 kHz; modulation amplitude
 *           within 0.1 % to 200 Hz (pinned by tests/signal/test_tone_tracker.c)
 *   thread  one tracker, one thread at a time
 *   rt      _tune, _process and _reset never allocate, lock or call the system
 */
#ifndef ES_SIGNAL_TONE_TRACKER_H
#define ES_SIGNAL_TONE_TRACKER_H

#include "evenspool/base/status.h"
#include "evenspool/signal/baseband.h"

#include <stddef.h>

/* A prime number: no modulation rate met in practice stands still against it, so peaks and
 * percentiles of the readings are those of the curve between them. */
#define ES_READINGS_HZ 1201.0

typedef struct es_tone_tracker es_tone_tracker;

typedef struct es_tone_reading {
    double time_s;       /* the instant it speaks of, from the first frame after tune or reset */
    double hz;           /* tone frequency; the bridge while !good                             */
    double amplitude_fs; /* tone peak amplitude [FS]                                           */
    int good;
} es_tone_reading;

typedef enum es_tracker_kind { ES_TRACKER_SHARP, ES_TRACKER_QUICK } es_tracker_kind;

/* rate_hz 8000 .. 384000. ES_ERR_ARG, ES_ERR_NOMEM; *out is NULL on error. Untuned. */
es_status es_tone_tracker_create(double rate_hz, es_tracker_kind kind, es_tone_tracker **out);
void es_tone_tracker_destroy(es_tone_tracker *tracker);

/*
 * Sets the tone to follow, as the finder found it, and resets.
 * amplitude_fs: its peak amplitude. ES_ERR_ARG: see es_baseband_tune(), or amplitude <= 0.
 */
es_status es_tone_tracker_tune(es_tone_tracker *tracker, double centre_hz, double amplitude_fs);
void es_tone_tracker_reset(es_tone_tracker *tracker);

/* Modulation rates up to this are flat [Hz]: 200, less for low tones; 0: never tuned. */
double es_tone_tracker_band_hz(const es_tone_tracker *tracker);

/* Seconds of tone missing up to now without a break; 0 while the tone is good. */
double es_tone_tracker_missing_s(const es_tone_tracker *tracker);

size_t es_tone_tracker_yield(const es_tone_tracker *tracker, size_t frames);

/*
 * Consumes in[0], in[stride] ... (frames of them, at most ES_TRACKER_BLOCK) and writes readings.
 * Any block size gives the same readings, bit for bit.
 * ES_ERR_SPACE: room < es_tone_tracker_yield(); nothing was consumed. ES_ERR_ARG: never tuned, or
 * too large a block.
 */
#define ES_TRACKER_BLOCK 8192
es_status es_tone_tracker_process(es_tone_tracker *tracker, const float *in, size_t stride,
                                  size_t frames, es_tone_reading *out, size_t room, size_t *count);

/* Phasors of the last _process, for comparing channels; valid until the next. */
const es_phasor *es_tone_tracker_phasors(const es_tone_tracker *tracker, size_t *count);
es_baseband_plan es_tone_tracker_plan(const es_tone_tracker *tracker);

#endif
