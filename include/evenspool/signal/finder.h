/*
 * Finder: is there one steady tone in this capture, and where?
 *
 *   in      mono samples [FS], one channel, frame by frame of about 85 ms
 *   out     per frame: the strongest tone, its power against everything else, what kind of sound it is
 *   how     windowed spectrum; a tone's harmonics belong to it, so a distorted tone is one tone;
 *           what is neither tone nor harmonic is noise, and its density under the tone is taken
 *           from beside it (docs/methods.md#finder)
 *   range   tones 300 Hz .. 0.4 rate
 *   error   frequency within 0.1 bin (about 1 Hz) at 15 dB SNR; SNR within 1 dB from 5 to 80 dB
 *   thread  one finder, one thread at a time
 *   rt      _look never allocates
 */
#ifndef ES_SIGNAL_FINDER_H
#define ES_SIGNAL_FINDER_H

#include "evenspool/base/status.h"

#include <stddef.h>

typedef struct es_finder es_finder;

typedef enum es_sound {
    ES_SOUND_SILENCE, /* below -80 dBFS rms                                   */
    ES_SOUND_TONE,    /* one tone, with or without harmonics                  */
    ES_SOUND_TONES,   /* two or more tones of like strength                   */
    ES_SOUND_OTHER    /* noise, speech, music                                 */
} es_sound;

typedef struct es_finding {
    es_sound sound;
    double hz;           /* strongest tone; NaN when silent                   */
    double amplitude_fs; /* its peak amplitude [FS]                           */
    double snr_db;       /* its power over the noise in 20 Hz .. rate / 2     */
    double rms_fs;       /* of everything but DC                              */
} es_finding;

/* rate_hz 8000 .. 384000. ES_ERR_ARG, ES_ERR_NOMEM; *out is NULL on error. */
es_status es_finder_create(double rate_hz, es_finder **out);
void es_finder_destroy(es_finder *finder);

/* Samples in a frame. */
size_t es_finder_frame(const es_finder *finder);

/*
 * Looks at in[0], in[stride] ... (one frame). Only tones between low_hz and high_hz count as the
 * tone; 0 and HUGE_VAL: any. Finite samples only.
 */
es_finding es_finder_look(es_finder *finder, const float *in, size_t stride, double low_hz,
                          double high_hz);

#endif
