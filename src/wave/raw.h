/* Raw samples: a file or stream without a head, described by the user. */
#ifndef ES_WAVE_RAW_H
#define ES_WAVE_RAW_H

#include "evenspool/base/error.h"

typedef enum es_wave_coding {
    ES_CODING_NONE, /* not raw: the file says itself what it is */
    ES_CODING_S8,
    ES_CODING_U8,
    ES_CODING_S16LE,
    ES_CODING_S16BE,
    ES_CODING_S24LE,
    ES_CODING_S24BE,
    ES_CODING_S32LE,
    ES_CODING_S32BE,
    ES_CODING_F32LE,
    ES_CODING_F32BE,
    ES_CODING_F64LE,
    ES_CODING_F64BE,
    ES_CODING_ALAW,
    ES_CODING_ULAW,
    ES_CODING_COUNT
} es_wave_coding;

typedef struct es_wave_raw {
    es_wave_coding coding;
    int rate_hz, channels;
} es_wave_raw;

/*
 * Reads "CODING,RATE,CHANNELS", e.g. "s16le,48000,2".
 * ES_ERR_ARG ("raw"): the sentence says what is wrong; *out then has ES_CODING_NONE.
 */
es_status es_wave_raw_parse(const char *text, es_wave_raw *out, es_error *error);

int es_wave_coding_bits(es_wave_coding coding);
const char *es_wave_coding_name(es_wave_coding coding);

#endif
