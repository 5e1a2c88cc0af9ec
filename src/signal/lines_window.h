/*
 * Window of the lines module: one stretch of samples -> its spectrum.
 *
 *   in      up to `most` samples; a straight line is taken out first (Hann-weighted least squares)
 *   out     fourier.bin: transform of the Hann-windowed samples, zero-padded to `most`;
 *           power: |fourier.bin|^2 / sum of squared weights, so that white noise of variance s^2 has
 *           the mean s^2 in every bin, and a line of peak a on a bin has a^2 length / 6
 *   rt      _take allocates nothing
 */
#ifndef ES_SIGNAL_LINES_WINDOW_H
#define ES_SIGNAL_LINES_WINDOW_H

#include "signal/fourier.h"

#include <stddef.h>

typedef struct es_lines_window {
    double rate_hz;          /* of the samples                                   */
    size_t most;             /* length of the transform, even, of small factors */
    size_t bins;             /* of power                                         */
    size_t length;           /* samples in the last window taken; 0: none        */
    size_t shaped;           /* length that shape was made for                   */
    double squares;          /* sum of the squared weights                       */
    es_fourier_real fourier; /* of the windowed samples                        */
    float *shape;            /* first half of the Hann weights                   */
    float *power;            /* bins values                                      */
} es_lines_window;

/* 0 when there is no memory; _free is then still due. */
int es_lines_window_init(es_lines_window *window, double rate_hz, double high_hz, size_t most);
void es_lines_window_free(es_lines_window *window);

/* length: 2 .. most. */
void es_lines_window_take(es_lines_window *window, const float *samples, size_t length);

/* Peak^2 of a line that stands `power` high in a window of that (perhaps mean) length. */
double es_lines_peak_squared(double power, double length);

#endif
