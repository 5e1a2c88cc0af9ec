/*
 * Thinner of the lines module: low pass and decimation of the deviation before the transforms.
 *
 *   in      samples at rate_hz; out: floats at rate_hz / factor, flat to 0.01 % up to high_hz;
 *           what folds back lands above high_hz, or is 80 dB down
 *   start   the first output needs a full filter length of input; nothing is made up
 *   rt      nothing allocates after init
 */
#ifndef ES_SIGNAL_LINES_THIN_H
#define ES_SIGNAL_LINES_THIN_H

#include <stddef.h>

#define ES_LINES_BLOCK 512 /* samples taken at a time */

typedef struct es_lines_thin {
    size_t factor, taps; /* 1, 2, 4 ..; taps = 1 when nothing is filtered */
    float *filter, *line;
    size_t fill, next; /* samples in line; where the next output's filter begins */
} es_lines_thin;

/* 0 when there is no memory; _free is then still due. */
int es_lines_thin_init(es_lines_thin *thin, double rate_hz, double high_hz);
void es_lines_thin_free(es_lines_thin *thin);
void es_lines_thin_reset(es_lines_thin *thin);

/* count at most ES_LINES_BLOCK; out has room for as many. Returns how many were written. */
size_t es_lines_thin_push(es_lines_thin *thin, const double *in, size_t count, float *out);

#endif
