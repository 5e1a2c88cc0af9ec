/*
 * Writer of captures: WAV, W64, AIFF or FLAC by the ending of the name, 24 bit or float.
 *
 *   in      interleaved float frames; beyond +-1.0 is clipped in 24 bit, kept in float
 *   file    appears whole at _keep or not at all; another is replaced only when asked
 *   long    a 24 bit WAV file of more than 4 GiB becomes an RF64 file of the same name; one of float
 *           samples ends there
 *   same    the same frames give the same bytes: nothing in the file tells when it was made
 *   thread  one writer, one thread at a time
 */
#ifndef ES_WAVE_WRITER_H
#define ES_WAVE_WRITER_H

#include "evenspool/base/error.h"

#include <stddef.h>

typedef struct es_wave_writer es_wave_writer;

typedef struct es_wave_writer_settings {
    int rate_hz, channels;
    int as_float; /* 1: 32 bit float samples (not in FLAC) */
    int replace;  /* 1: a file of that name may be replaced */
} es_wave_writer_settings;

/*
 * *out is NULL on error. ES_ERR_ARG ("wave-kind"): an ending that is not known or can't hold what is
 * asked. ES_ERR_IO: as in wave/new_file.h. ES_ERR_NOMEM.
 */
es_status es_wave_writer_open(const char *path, const es_wave_writer_settings *settings,
                              es_wave_writer **out, es_error *error);

/* ES_ERR_IO: not all could be written ("disk-full", "write-failed", "too-long"). */
es_status es_wave_writer_write(es_wave_writer *writer, const float *frames, size_t count,
                               es_error *error);

/* Closes the file and lets it appear; the writer is gone whatever is returned. ES_ERR_IO. */
es_status es_wave_writer_keep(es_wave_writer *writer, es_error *error);

/* Throws away what was written. NULL is fine. */
void es_wave_writer_drop(es_wave_writer *writer);

#endif
