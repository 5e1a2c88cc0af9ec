/*
 * Quasi-peak detector of the flutter standards: each polarity has two stages that charge and leak; the
 * reading is half the peak-to-peak, as the dial of such meters shows it.
 *
 * The four time constants and the two weights are our own fit, behind the weighting filter, to the pulse
 * table of IEC 60386 / AES6 (10, 30, 60, 100 ms pulses once a second read 21 +- 3, 62 +- 6,
 * 90 +- 6, 100 +- 4 % of a 4 Hz sine of the same peak-to-peak; fall to 36 .. 44 % between pulses;
 * table from memory but for 90 and 40 %) and to flat readings of steady sines.
 */
#ifndef ES_SIGNAL_QUASI_PEAK_H
#define ES_SIGNAL_QUASI_PEAK_H

typedef struct es_quasi_peak {
    double charge[2], leak[2]; /* per sample, stage 1 and 2 */
    double up[2], down[2];     /* state, both polarities    */
} es_quasi_peak;

es_quasi_peak es_quasi_peak_at(double rate_hz);
void es_quasi_peak_reset(es_quasi_peak *detector);
double es_quasi_peak_step(es_quasi_peak *detector, double weighted);
double es_quasi_peak_reading(const es_quasi_peak *detector);

#endif
