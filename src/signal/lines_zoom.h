/*
 * Zoom of the lines module: one line of a windowed spectrum, its rate to a fraction of a bin and
 * how the rate slides within the window.
 *
 *   in      spectrum of a window, place of a peak in it [bins of the transform]
 *   how     the bins around the peak -> POINTS instants of the line turned down to 0 Hz, still
 *           under the window's weights, its neighbours taken off; the turn d + s t that makes their sum largest (search on a
 *           grid, then Newton's method)
 *   units   window spans: rates in turns per span, slides in turns per span per span
 */
#ifndef ES_SIGNAL_LINES_ZOOM_H
#define ES_SIGNAL_LINES_ZOOM_H

#include "signal/lines_window.h"

#define ES_LINES_POINTS 32
#define ES_LINES_SLIDES 9 /* of the search grid */
#define ES_LINES_RATES 5

typedef struct es_lines_turn {
    double re, im;
} es_lines_turn;

typedef struct es_lines_zoom {
    double weights, squares;    /* sums of the window's weights at those instants, squared   */
    double at[ES_LINES_POINTS]; /* instants, -0.5 .. 0.5 of the span                    */
    double rate_spread;         /* standard error of rate x sqrt(power over floor)      */
    double slide_spread;        /* standard error of slide x sqrt(power over floor)     */
    es_lines_turn slide[ES_LINES_SLIDES][ES_LINES_POINTS]; /* what undoes a slide */
    es_lines_turn rate[ES_LINES_RATES][ES_LINES_POINTS];   /* what undoes a rate  */
} es_lines_zoom;

typedef struct es_lines_sight {
    double rate;        /* in the middle of the window [turns per span]     */
    double slide;       /* [turns per span^2]                               */
    double power;       /* as in es_lines_window, the slide undone          */
    int slides;         /* the slide stands out of the noise                */
    es_lines_turn size; /* amplitude and phase at the middle of the window */
} es_lines_sight;

void es_lines_zoom_init(es_lines_zoom *zoom);

/* floor: mean noise power there. others: lines seen already; that at `self` is the one looked at
 * (count: none is). */
es_lines_sight es_lines_zoom_on(const es_lines_zoom *zoom, const es_lines_window *window,
                                size_t bin, double floor, const es_lines_sight *others,
                                size_t count, size_t self);

#endif
