/*
 * Frequency of a tone over a window, as well as noise allows.
 *
 * The mean of instantaneous frequency weighted with a parabola is the least-squares slope of the phase:
 * maximum likelihood for a steady tone in white noise at SNR above threshold (Kay 1989, IEEE Trans.
 * ASSP-37; weights from memory, checked against the bound below in benchmarks/bench_tone.c).
 */
#ifndef ES_SIGNAL_TONE_FIT_H
#define ES_SIGNAL_TONE_FIT_H

#include <stddef.h>

/* Weight of reading i of count: positive, symmetric, sums to 1. */
double es_tone_fit_weight(size_t i, size_t count);

/*
 * Running sums from which the estimate over any number of readings follows; zeroed by {0}.
 * Push frequencies less a rough value so that no digits are lost.
 */
typedef struct es_tone_fit {
    double sum, sum_i, sum_ii; /* of value, i value, i^2 value */
    size_t count;
} es_tone_fit;

void es_tone_fit_push(es_tone_fit *fit, double value);
double es_tone_fit_value(const es_tone_fit *fit); /* NaN when empty */

/*
 * Cramer-Rao bound: least standard deviation [Hz] of any unbiased estimate of the frequency of a
 * real tone in white noise. snr: A^2 / (2 sigma^2), sigma the noise per sample; N = rate_hz * window_s
 * samples; sqrt(12 rate^2 / ((2 pi)^2 snr N (N^2 - 1))) (Rife and Boorstyn 1974, IEEE Trans. IT-20).
 */
double es_frequency_bound_hz(double rate_hz, double window_s, double snr);

#endif
