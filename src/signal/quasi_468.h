/*
 * The meter of ITU-R BS.468-4: its weighting as a filter, and a quasi-peak rectifier behind it.
 *
 *   in       samples; out: what the needle shows; a steady 1 kHz sine of peak A shows A
 *   how      the network's poles carried over by the matched transform, and a short symmetric filter
 *            that takes back what this bends; two rectifying stages, each with a rise and a fall
 *            time, chosen so that the bursts of tables 2 and 3 read within their limits (test_noise)
 *   error    filter within 0.1 dB of the curve up to 16 kHz at 44.1 kHz and more; up to 0.36 of the
 *            rate below that
 *   rt       a plain value, never allocates
 */
#ifndef ES_SIGNAL_QUASI_468_H
#define ES_SIGNAL_QUASI_468_H

#include "signal/biquad.h"

#define ES_QUASI_468_TAPS 64

typedef struct es_quasi_468 {
    es_biquad pole[3];
    float tap[ES_QUASI_468_TAPS], past[2 * ES_QUASI_468_TAPS]; /* the last samples, twice over */
    size_t at;
    double rise[2], fall[2]; /* shares per sample */
    double needle[2], gain;
} es_quasi_468;

void es_quasi_468_start(es_quasi_468 *meter, double rate_hz);
void es_quasi_468_reset(es_quasi_468 *meter);

/* The filter alone. */
double es_quasi_468_weigh(es_quasi_468 *meter, double sample);
/* Filter and rectifier. */
double es_quasi_468_step(es_quasi_468 *meter, double sample);

#endif
