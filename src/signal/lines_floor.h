/*
 * Local noise floor of a power spectrum, smooth on logarithmic axes.
 *
 *   in      power per bin, bins low .. high; bins per independent value (1 for a full window, more
 *           when it was zero-padded); how many independent spectra were averaged
 *   how     at knots along log rate a quantile of the bins around, lines masked, divided by the
 *           floor of the round before so that a slope of the noise does no harm; the quantile's
 *           bias against the mean of chi-square noise is taken off (Wilson and Hilferty 1931)
 *   out     mean noise power at any place, and how well it is known
 */
#ifndef ES_SIGNAL_LINES_FLOOR_H
#define ES_SIGNAL_LINES_FLOOR_H

#include <stddef.h>

#define ES_LINES_KNOTS 32

typedef struct es_lines_floor {
    size_t knots;                 /* 0: not known                                    */
    double place[ES_LINES_KNOTS]; /* ln bin, rising                                  */
    double level[ES_LINES_KNOTS]; /* ln power                                        */
    double worth[ES_LINES_KNOTS]; /* independent values of noise that tell the level */
    double low_slope;             /* d ln power / d ln bin below the first knot      */
} es_lines_floor;

typedef struct es_lines_band {
    size_t low, high; /* first and last bin                        */
    double apart;     /* bins per independent value, 1 or more     */
    double averages;  /* independent spectra in the mean, 1 or more */
} es_lines_band;

/* Few or no bins: not known. */
void es_lines_floor_fit(es_lines_floor *floor, const float *power, es_lines_band band);

/* bin > 0; HUGE_VAL when not known. */
double es_lines_floor_at(const es_lines_floor *floor, double bin);

/* Independent values of noise behind _at; 1 when not known. */
double es_lines_floor_worth(const es_lines_floor *floor, double bin);

#endif
