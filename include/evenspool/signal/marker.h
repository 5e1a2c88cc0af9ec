/*
 * Markers: coded bursts that tell programme, side and section, found anywhere in a capture.
 *
 *   burst    46 symbols of 48 ms, one of 16 tones each (800 .. 3342 Hz, 10 % apart), phase
 *            continuous; twice: 10 symbols whose pattern fits itself only when neither shifted nor
 *            stretched (Costas array), then 13 symbols of code with a 24-bit check sum. The second
 *            time high and low tones are swapped (docs/methods.md#marker)
 *   in       one or two channels [FS], 8 .. 384 kHz
 *   out      what the burst says, when it began and ended in the capture, how fast it was played
 *   how      share of each tone in the sound against time, the better channel; compared with the
 *            pattern at all speeds from -14 to +14 %
 *   limits   found at -12 .. +12 % speed, 1 % flutter, 15 dB SNR, 300 Hz - 5 kHz, one channel dead,
 *            reversed polarity, dropouts; either half of it alone is enough (bench_marker)
 *   error    start and end 1 ms rms, 7 ms at worst, speed 0.07 % rms, 0.4 % at worst at these limits
 *   late     a marker comes out up to 0.3 s after its end
 *   thread   one finder, one thread at a time
 *   rt       _push, _take, _finish and _reset never allocate, lock or call the system
 */
#ifndef ES_SIGNAL_MARKER_H
#define ES_SIGNAL_MARKER_H

#include "evenspool/base/status.h"

#include <stddef.h>
#include <stdint.h>

#define ES_MARKER_SYMBOLS 46
#define ES_MARKER_SYMBOL_S 0.048
#define ES_MARKER_S (ES_MARKER_SYMBOLS * ES_MARKER_SYMBOL_S) /* 2.208 s at nominal speed */

typedef struct es_marker_code {
    unsigned programme; /* 0 .. 65535 */
    unsigned side;      /* 0 .. 3     */
    unsigned section;   /* 0 .. 255   */
} es_marker_code;

/* --- making ----------------------------------------------------------------------- */

typedef struct es_marker_burst {
    double hz[ES_MARKER_SYMBOLS];    /* tone of each symbol                     */
    double turns[ES_MARKER_SYMBOLS]; /* its phase where the symbol begins [cycles] */
} es_marker_burst;

/* ES_ERR_ARG: a field of the code is out of range; *burst is then all zeros. */
es_status es_marker_burst_make(es_marker_code code, es_marker_burst *burst);

/* The burst at time_s after its beginning, peak 1, edges of 5 ms inside it; 0 before and after. */
double es_marker_burst_at(const es_marker_burst *burst, double time_s);

/* --- finding ---------------------------------------------------------------------- */

typedef struct es_marker_finder es_marker_finder;

typedef struct es_marker_find {
    es_marker_code code;
    double start_s, end_s; /* of the burst, in the capture; start may lie before 0               */
    double speed;          /* played / nominal, mean over the burst                              */
    double clarity;        /* mean share of the sound that the right tones had, 0 .. 1           */
    int halves; /* 1: the first half bears the code by itself; 2: the second; 3: both; 0: only together */
} es_marker_find;

/* rate_hz 8000 .. 384000. ES_ERR_ARG, ES_ERR_NOMEM; *out is NULL on error. */
es_status es_marker_finder_create(double rate_hz, es_marker_finder **out);
void es_marker_finder_destroy(es_marker_finder *finder);
void es_marker_finder_reset(es_marker_finder *finder);

/*
 * Consumes left[0], left[stride] ... and the same of right (NULL: one channel). The same markers
 * whatever the block size. Samples that are not finite count as 0.
 */
void es_marker_finder_push(es_marker_finder *finder, const float *left, const float *right,
                           size_t stride, size_t frames);

/* No more frames will come: what is still on the way is looked at. Then only _take and _reset. */
void es_marker_finder_finish(es_marker_finder *finder);

/* Hands over markers found and not yet taken, in order of time; up to 64 wait, further ones are
 * dropped. Returns how many were written to out[0 .. room). */
size_t es_marker_finder_take(es_marker_finder *finder, es_marker_find *out, size_t room);

#endif
