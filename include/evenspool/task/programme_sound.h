/*
 * Programme sound: renders one side of a programme.
 *
 *   in       a sound programme, a side, a whole sample rate
 *   out      stereo frames, left first; boundaries at round(time x rate); edges of 5 ms, raised cosine
 *   levels   reference level = reference_dbfs, the peak of a sine
 *   same     the same frames on every machine whose sin() rounds alike, whatever the block size; the broadband
 *            sound is a sum of sines of known frequency and phase (es_broadband_*), the same at any rate
 *   thread   one object, one thread at a time
 *   rt       _render, _seek never allocate, lock or call the system
 */
#ifndef ES_TASK_PROGRAMME_SOUND_H
#define ES_TASK_PROGRAMME_SOUND_H

#include "evenspool/task/programme.h"

#include <stddef.h>
#include <stdint.h>

#define ES_PROGRAMME_REFERENCE_DBFS (-12.0)

typedef struct es_programme_sound es_programme_sound;

typedef struct es_programme_sound_config {
    double rate_hz; /* whole, 32000 .. 192000, more than 2.05 times the highest tone           */
    size_t side;    /* 0 ..                                                                   */
    double reference_dbfs; /* -40 .. 0; the loudest step must stay at or below 0 dBFS         */
} es_programme_sound_config;

/* 48 kHz, side 0, -12 dBFS. */
es_programme_sound_config es_programme_sound_defaults(void);

/* ES_ERR_INPUT: the programme (es_programme_check); ES_ERR_ARG: a setting; error says which.
 * ES_ERR_NOMEM. *out is NULL on error. The programme is copied. */
es_status es_programme_sound_create(const es_programme *programme,
                                    const es_programme_sound_config *config,
                                    es_programme_sound **out, es_error *error);
void es_programme_sound_destroy(es_programme_sound *sound);

int64_t es_programme_sound_length(const es_programme_sound *sound); /* frames */

/* Writes 2 x count samples; silence after the end. */
void es_programme_sound_render(es_programme_sound *sound, float *stereo, size_t count);

/* The next frame rendered; any from 0 on. */
void es_programme_sound_seek(es_programme_sound *sound, int64_t frame);
int64_t es_programme_sound_tell(const es_programme_sound *sound);

/* --- the broadband sound ------------------------------------------------------------------ */

/* Sines about 20 Hz apart from low to high, power falling 3 dB per octave, phases without order, together of
 * rms 1. Whole frequencies: it repeats every second. */
typedef struct es_broadband_sine {
    double hz;        /* whole      */
    double amplitude; /* peak       */
    double turns;     /* phase at time 0 of its section's body [cycles], of a sine */
} es_broadband_sine;

size_t es_broadband_count(double low_hz, double high_hz);
es_broadband_sine es_broadband_at(double low_hz, double high_hz, size_t index);

#endif
