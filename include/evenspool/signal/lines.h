/*
 * Lines: the sinusoidal components of a speed modulation, and its spectrum.
 *
 *   in      speed deviation [fraction of mean speed], evenly sampled at rate_hz, in stretches:
 *           es_lines_break() says that what follows does not join what came before
 *   out     components (rate, peak, slope of the rate, height over the local floor), harmonics that
 * belong together grouped under their fundamental; a spectrum on a logarithmic rate axis how
 * docs/methods.md#lines range   rates from 3 cycles per longest stretch (at least 0.1 Hz) to
 * high_hz error   rate within 0.1/T Hz, peak within 3 % for a steady line 20 dB over the local
 * floor memory  constant, all taken in create; hours of input are nothing special thread  one
 * object, one thread at a time rt      _push, _break and _reset never allocate; _finish may take
 * some milliseconds, no allocation
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

/* ES_ERR_ARG, ES_ERR_NOMEM; *out is NULL on error. */
es_status es_lines_create(const es_lines_config *config, es_lines **out);
void es_lines_destroy(es_lines *lines);
void es_lines_reset(es_lines *lines);

void es_lines_push(es_lines *lines, const double *deviation, size_t count);
void es_lines_break(es_lines *lines);

/*
 * Components, largest peak first, suspect left empty, share_percent of the total modulation power
 * between 0.1 Hz and high_hz; returns their number (at most room). *spectrum may be NULL.
 * Too little input: returns 0 and spectrum->count = 0.
 */
size_t es_lines_finish(es_lines *lines, es_component *out, size_t room,
                       es_flutter_spectrum *spectrum);

#endif
