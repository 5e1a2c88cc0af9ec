/*
 * Quasi-peak detector of the flutter standards.
 *
 * A peak meter that reads every steady sine alike must know its amplitude although the next crest may be
 * seconds away. So the weighted deviation goes through two chains of all-pass sections that stay a quarter
 * turn apart from 0.2 to 200 Hz; the root of the sum of both squares is its envelope, and steady for a
 * sine. What charges the detector is the envelope or the magnitude at this moment, whichever is larger (the
 * chains delay slow parts). It is smoothed, stored by a stage that charges fast and leaks slowly, and
 * shown by a needle that rises with some inertia and falls with the store.
 *
 * The four times are our own fit, behind the weighting filter, to the pulse table of IEC 60386 / AES6 (10, 30, 60,
 * 100 ms pulses once a second read 21 +- 3, 62 +- 6, 90 +- 6, 100 +- 4 % of a 4 Hz sine of the same
 * peak-to-peak; fall to 36 .. 44 % between pulses; table from memory but for 90 and 40 %).
 */
#ifndef ES_SIGNAL_QUASI_PEAK_H
#define ES_SIGNAL_QUASI_PEAK_H

#define ES_QUADRATURE_SECTIONS 5 /* in each chain */

typedef struct es_quasi_peak {
    double turn[ES_QUADRATURE_SECTIONS][2];  /* all-pass coefficients of both chains */
    double smoothing, charge, leak, inertia; /* per sample                           */
    double held[ES_QUADRATURE_SECTIONS][2];  /* state                                */
    double smooth, stored, needle;
} es_quasi_peak;

es_quasi_peak es_quasi_peak_at(double rate_hz);
void es_quasi_peak_reset(es_quasi_peak *detector);
double es_quasi_peak_step(es_quasi_peak *detector, double weighted);
double es_quasi_peak_reading(const es_quasi_peak *detector);

#endif
