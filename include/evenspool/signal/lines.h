/*
 * Lines: the sinusoidal components of a speed modulation, and its spectrum.
 *
 *   in      speed deviation [fraction of mean speed], evenly sampled at rate_hz, in stretches:
 *           es_lines_break() says that what follows does not join what came before. What is left of
 *           a mean or a slow drift does no harm. A sample that is not finite, or beyond 1e6, ends a
 *           stretch too.
 *   out     components (rate, peak, slope of the rate, height over the local floor), harmonics that
 *           belong together grouped under their fundamental; a spectrum on a logarithmic rate axis
 *   how     Hann windows of the whole stretch up to some 61 s (16 s when rate_hz and high_hz are
 *           both large), half overlapping; each peak's rate, slide and size between the bins, its
 *           neighbours taken off; peaks linked from window to window; the mean of the windows for
 *           what is too weak in one of them; floor: a quantile of the bins around (docs/methods.md#lines)
 *   range   rates from 3 turns per window, at least 0.1 Hz, to high_hz; slopes up to 8 turns per
 *           window and window (0.13 Hz/min with 61 s); two lines need 3 turns per window between
 *           them; stretches under 2.5 s, and those under half of the longest (at most a window),
 *           count for nothing. Time is that of the samples: a gap at a break takes none.
 *   error   T: window. Rate: 0.05 / T rms at 20 dB over the floor, 0.08 / T at 15 dB. Peak: bias
 *           under 1 %, and the scatter that the noise makes: 7 % at 20 dB, 2 % at 30 dB in a single
 *           window, less by the root of the windows in longer captures. Of a line 15 dB over the
 *           floor of a minute some 95 % are found; noise alone gives a component in at most one of
 *           twenty minutes. (benchmarks/bench_lines.c)
 *   memory  constant, some 1.3 MB at 1201 Hz, all taken in create; hours of input are nothing special
 *   same    the result does not depend on the block size, bit for bit
 *   thread  one object, one thread at a time
 *   rt      _push, _break and _reset never allocate; the sample that completes a window costs about
 *           a millisecond; _finish some milliseconds, no allocation
 */
#ifndef ES_SIGNAL_LINES_H
#define ES_SIGNAL_LINES_H

#include "evenspool/base/check_result.h"
#include "evenspool/base/status.h"

typedef struct es_lines es_lines;

typedef struct es_lines_config {
    double rate_hz; /* of the deviation samples [Hz], 500 .. 4000       */
    double high_hz; /* upper end of the band [Hz], 20 .. rate_hz / 4    */
} es_lines_config;

/* ES_ERR_ARG: a field is out of range or NaN. ES_ERR_NOMEM. *out is NULL on error. */
es_status es_lines_create(const es_lines_config *config, es_lines **out);

/* NULL is fine. */
void es_lines_destroy(es_lines *lines);

/* Back to the state just after create; settings are kept. */
void es_lines_reset(es_lines *lines);

void es_lines_push(es_lines *lines, const double *deviation, size_t count);
void es_lines_break(es_lines *lines);

/*
 * Components, largest peak first; returns their number (at most room). Call once; reset before what
 * comes next.
 *
 *   rate_hz                where the input is half through, or at the nearest instant at which the
 *                          line was seen
 *   peak_percent           of the fundamental
 *   rate_slope_hz_per_min  there; 0 when it does not stand out and is known to be small (3 standard
 *                          errors within 3 mHz/min or 1 % of the rate a minute); NaN when it is not
 *                          known that well
 *   share_percent          of the modulation power between the lowest rate and high_hz, harmonics
 *                          included
 *   harmonics              weaker lines at 2 .. 10 times the rate that are not listed themselves
 *   significance_db        mean height over the local floor of a window
 *   suspect                left empty
 *
 * *spectrum (may be NULL): mean of the windows from 0.1 Hz to high_hz, so that a sliding line is
 * spread; peak and floor are NaN below 3 turns per window. The floor is that of a window.
 * Too little input (no stretch of 2.5 s): returns 0 and spectrum->count = 0.
 */
size_t es_lines_finish(es_lines *lines, es_component *out, size_t room,
                       es_flutter_spectrum *spectrum);

#endif
