/*
 * Reader of captures: audio files of every usual kind, and standard input.
 *
 *   in      a path (WAV, RF64, W64, AIFF, FLAC, Ogg and what else libsndfile knows), "-" for
 *           standard input (a WAV stream or raw samples through a pipe; any file by redirection), or
 *           raw samples that the caller describes
 *   out     interleaved float frames, full scale +-1.0; float files as they are, beyond 1.0 too
 *   range   8 .. 384 kHz, 1 .. 64 channels, 8 .. 64 bit
 *   broken  a capture that is cut short or whose head lacks the length is read as far as it goes,
 *           with a warning
 *   memory  about 90 kB, whatever the length
 *   thread  one reader, one thread at a time
 */
#ifndef ES_WAVE_READER_H
#define ES_WAVE_READER_H

#include "evenspool/base/error.h"
#include "evenspool/base/notes.h"
#include "wave/limits.h"
#include "wave/raw.h"

#include <stddef.h>
#include <stdint.h>

typedef struct es_wave_reader es_wave_reader;

typedef struct es_wave_facts {
    int rate_hz, channels;
    int bits;       /* per sample; 0: a lossy coding that has none    */
    int64_t frames; /* -1: not known before the end is reached        */
} es_wave_facts;

/*
 * raw: NULL or ES_CODING_NONE: the file says itself what it is. *out is NULL on error.
 * ES_ERR_INPUT: "directory", "empty", "not-audio", "bad-header", "coding", "sample-rate",
 * "too-many-channels", "pipe-format". ES_ERR_IO: "missing", "no-permission", "read-failed".
 * ES_ERR_NOMEM.
 */
es_status es_wave_reader_open(const char *path, const es_wave_raw *raw, es_wave_reader **out,
                              es_error *error);

/* The same of size bytes that stay the caller's and must outlive the reader. */
es_status es_wave_reader_open_memory(const void *bytes, size_t size, const es_wave_raw *raw,
                                     es_wave_reader **out, es_error *error);
void es_wave_reader_close(es_wave_reader *reader);

es_wave_facts es_wave_reader_facts(const es_wave_reader *reader);

/*
 * Reads up to room frames (room x channels samples); *count = 0: the end.
 * ES_ERR_INPUT "damaged": not one frame could be decoded. ES_ERR_IO "read-failed".
 */
es_status es_wave_reader_read(es_wave_reader *reader, float *frames, size_t room, size_t *count,
                              es_error *error);

/* What the user should know of how it was read: "cut-short", "not-closed". Complete at the end. */
const es_notes *es_wave_reader_warnings(const es_wave_reader *reader);

#endif
