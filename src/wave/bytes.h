/*
 * Bytes of a capture: a file, a pipe or memory behind one face, with a window that slides.
 *
 *   in      a path, "-" for standard input, or memory of the caller's
 *   out     bytes at a place that is counted from `base`
 *   range   a pipe goes forward only: places before the window are gone
 *   error   a failed read ends the bytes; its errno stays in `fault`
 *   thread  one at a time
 */
#ifndef ES_WAVE_BYTES_H
#define ES_WAVE_BYTES_H

#include "evenspool/base/error.h"

#include <stddef.h>
#include <stdint.h>

#define ES_WAVE_WINDOW 65536               /* a file is read in pieces of this size [bytes] */
#define ES_WAVE_ENDLESS (INT64_C(1) << 60) /* size of what has no known end           */

typedef struct es_wave_bytes {
    int fd;                      /* -1: memory                                     */
    int ours;                    /* 1: fd is closed by _close                      */
    int piped;                   /* 1: forward only, size not known                */
    const unsigned char *memory; /* whole input, NULL for a fd                     */
    int64_t base, size;          /* what counts as the beginning; bytes from there */
    int64_t at;                  /* for a reader that goes step by step, from base */
    int fault;
    int64_t window_at; /* not from base but of the whole input */
    size_t window_count;
    unsigned char window[ES_WAVE_WINDOW];
} es_wave_bytes;

/* ES_ERR_IO ("missing", "no-permission", "read-failed"), ES_ERR_INPUT ("directory"). */
es_status es_wave_bytes_open(es_wave_bytes *bytes, const char *path, es_error *error);
void es_wave_bytes_of_memory(es_wave_bytes *bytes, const void *memory, size_t size);
void es_wave_bytes_close(es_wave_bytes *bytes);

/* Moves the beginning to `base` (counted from the old one) and the end to size bytes after it. */
void es_wave_bytes_frame(es_wave_bytes *bytes, int64_t base, int64_t size);

/* Copies up to count bytes from place `at`; fewer only at the end or after a fault. */
size_t es_wave_bytes_read(es_wave_bytes *bytes, int64_t at, void *out, size_t count);

#endif
