/*
 * Recorder: keeps a capture while it is being made: WAV (32 bit float, as it came) or FLAC (24 bit)
 * by the ending of the name.
 *
 *   in      interleaved float frames; beyond +-1.0 is clipped in FLAC, kept in WAV
 *   file    has its name and can be opened from the first moment on. When the program ends in the
 *           middle (kill -9), all up to the last flush is there: of WAV exactly that much, of
 *           FLAC all but the 4096 frames that its coder gathers (0.09 s at 48 kHz). A FLAC file
 *           that was cut short does not tell its length; it reads as far as it goes
 *   flush   at least once a second of sound, by itself; what was flushed is on the disk
 *   long    a WAV file of more than 4 GiB turns into an RF64 file of the same name
 *   full    the first failure is told once and ends the recording; what came before stays readable
 *   thread  one recorder, one thread at a time
 *   rt      never: waits for the disk
 */
#ifndef ES_WAVE_RECORDER_H
#define ES_WAVE_RECORDER_H

#include "evenspool/base/error.h"

#include <stddef.h>
#include <stdint.h>

typedef struct es_recorder es_recorder;

typedef struct es_recorder_settings {
    int rate_hz, channels;
    int replace; /* 1: a file of that name may be replaced; it is gone as soon as this begins */
} es_recorder_settings;

/*
 * *out is NULL on error. ES_ERR_ARG "wave-kind": an ending that is not .wav or .flac, or a kind
 * that can't hold what is asked. ES_ERR_IO: as in wave/new_file.h. ES_ERR_NOMEM.
 */
es_status es_recorder_open(const char *path, const es_recorder_settings *settings,
                           es_recorder **out, es_error *error);

/*
 * ES_ERR_IO, once: not all could be written ("disk-full", "write-failed"). From then on both do
 * nothing and return ES_OK, so that a session can go on without them.
 */
es_status es_recorder_write(es_recorder *recorder, const float *frames, size_t count,
                            es_error *error);
es_status es_recorder_flush(es_recorder *recorder, es_error *error);

/* Frames handed to the file so far, and whether it goes on (1) or has failed (0). */
int64_t es_recorder_frames(const es_recorder *recorder);
int es_recorder_goes_on(const es_recorder *recorder);

/* Ends the file; the recorder is gone whatever is returned. ES_ERR_IO as _write. NULL is fine. */
es_status es_recorder_close(es_recorder *recorder, es_error *error);

#endif
