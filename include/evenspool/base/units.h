/*
 * Units of the trade. Speed error e is a fraction here (+ fast); percent only at the faces.
 * cents = 1200 log2(1 + e); level ratios in dB of amplitude.
 */
#ifndef ES_BASE_UNITS_H
#define ES_BASE_UNITS_H

#define ES_PI 3.141592653589793238462643383279502884
#define ES_TWO_PI 6.283185307179586476925286766559005768

/* Tape speeds, exact inch conversions [m/s] (1 7/8, 3 3/4 ... in/s; 1 in = 25.4 mm by definition).
 */
#define ES_SPEED_1_7_8 0.047625

double es_cents(double error);            /* error > -1; cents [cent]            */
double es_error_from_cents(double cents); /* fraction                            */
double es_db(double amplitude_ratio);     /* ratio > 0; -HUGE_VAL at 0 [dB]      */
double es_amplitude(double db);           /* amplitude ratio                     */

/*
 * The deck's own speed error [fraction] from what was heard: the ratio heard / nominal with the
 * error of the tape (its recording deck, + fast) and of the sound card's clock (+ samples fast)
 * taken off: (1 + heard)(1 + tape)(1 + clock) - 1.
 */
double es_true_error(double heard, double tape, double clock);

#endif
