/*
 * The head of a WAV file (RIFF and RF64), read forward only: for pipes, and for files whose
 * recorder never wrote the length. Everything else is the audio library's.
 *
 *   in      bytes from their beginning
 *   out     format and place of the samples, as far as they could be found
 *   source  IBM and Microsoft, "Multimedia Programming Interface and Data Specifications 1.0",
 *           1991 (RIFF WAVE); EBU Tech 3306 (RF64)
 */
#ifndef ES_WAVE_RIFF_H
#define ES_WAVE_RIFF_H

#include "wave/bytes.h"

enum { ES_RIFF_PCM = 1, ES_RIFF_FLOAT = 3, ES_RIFF_ALAW = 6, ES_RIFF_ULAW = 7 };

typedef struct es_riff {
    int wave;           /* 1: begins as a WAV file does                             */
    int64_t riff_bytes; /* what the file says of its own size, 8 less than the whole */
    int format_seen, data_seen;
    int tag;            /* ES_RIFF_...; an extensible format's sub-format           */
    int channels, bits; /* bits of a sample's container                             */
    int64_t rate_hz;
    int64_t data_at;    /* place of the first sample                                */
    int64_t data_bytes; /* as the head says                                         */
    int endless;        /* 1: the length is a marker of a recorder that did not know it */
} es_riff;

es_riff es_riff_read(es_wave_bytes *bytes);

#endif
