/*
 * Peaks of the lines module: the sinusoidal lines of one window.
 *
 *   out     largest first; nothing in the skirt of a stronger line; what noise alone makes once in
 *           some hundred bins may still be among them, with its surprise
 */
#ifndef ES_SIGNAL_LINES_PEAKS_H
#define ES_SIGNAL_LINES_PEAKS_H

#include "signal/lines_floor.h"
#include "signal/lines_window.h"
#include "signal/lines_zoom.h"

#define ES_LINES_PEAKS 32 /* kept of a window */

typedef struct es_lines_peak {
    double rate_hz, rate_u_hz;  /* in the middle of the window, standard error               */
    double slide_hz_s, slide_u; /* slope of the rate [Hz/s], standard error; NaN: not known  */
    int slides;                 /* the slope stands out of the noise                         */
    double peak_squared;        /* peak amplitude squared, noise taken off [fraction^2]      */
    double height;              /* power over local floor                                    */
    double surprise;            /* -ln probability that noise alone is so high in one place  */
} es_lines_peak;

/* Skirt of a line at that distance from its rate [turns per span], power over its peak: Hann's side
 * lobes, and near it what the restlessness of real lines spreads. */
double es_lines_skirt(double rate, double distance);

/* -ln probability that the mean of `averages` spectra stands `height` floors high by chance, where
 * the floor is known from `worth` values of noise. */
double es_lines_surprise(double height, double averages, double worth);

size_t es_lines_peaks_of(const es_lines_window *window, const es_lines_floor *floor,
                         const es_lines_zoom *zoom, es_lines_band band, es_lines_peak *out);

#endif
