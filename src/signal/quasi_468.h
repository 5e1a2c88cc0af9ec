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
#define ES_QUASI_468_RUN 256 /* samples at once, at most */

typedef struct es_quasi_468 {
    es_biquad pole[3];
    float tap[ES_QUASI_468_TAPS];
    float past[ES_QUASI_468_TAPS - 1 +
               ES_QUASI_468_RUN]; /* behind the poles: last run's end, a run */
    double rise[2], fall[2];      /* shares per sample */
    double needle[2], gain;
} es_quasi_468;

void es_quasi_468_start(es_quasi_468 *meter, double rate_hz);
void es_quasi_468_reset(es_quasi_468 *meter);

/* The filter alone. Of a run, out[0 .. count-1]; what is not finite counts as 0. */
void es_quasi_468_weigh(es_quasi_468 *meter, const float *in, size_t stride, size_t count,
                        double *out);
/* Filter and rectifier. */
void es_quasi_468_read(es_quasi_468 *meter, const float *in, size_t stride, size_t count,
                       double *out);

#endif
