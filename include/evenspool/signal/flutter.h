/*
 * Flutter meter: wow and flutter figures of a speed deviation, by the standards.
 *
 *   in      deviation [fraction of mean speed] at ES_READINGS_HZ: lead-in that only settles the
 *           filters, then samples that count or don't
 *   out     weighted quasi-peak, two-sigma and rms; unweighted peak and rms; wow and flutter parts
 *   early   filters remember where a stretch began; what counts in its first 6 s is used only when
 *           there is not as much from later on
 *   how     weighting curve of IEC 60386 / AES6 (within 0.04 dB of the table at each of its
 *           points); quasi-peak detector on the envelope, within the same standard's pulse limits; two-sigma =
 *           the level that |weighted deviation| exceeds for 5 % of the time (AES6-2008); docs/methods.md#flutter
 *   range   rates 0.1 .. 200 Hz; deviations 1e-8 .. 1
 *   error   the weighted figures of sinusoids from 0.2 to 200 Hz within 1 % or 0.001 %
 *   thread  one meter, one thread at a time
 *   rt      no call but _create allocates
 */
#ifndef ES_SIGNAL_FLUTTER_H
#define ES_SIGNAL_FLUTTER_H

#include "evenspool/base/status.h"

#include <stddef.h>

typedef struct es_flutter es_flutter;

typedef struct es_flutter_figures {
    double counted_s; /* time that counts; the figures are NaN below 1 s */
    double weighted_quasi_peak, weighted_two_sigma, weighted_rms; /* fractions */
    double unweighted_peak, unweighted_rms;
    double wow_rms, flutter_rms; /* parted at 10 Hz */
} es_flutter_figures;

/* ES_ERR_NOMEM; *out is NULL on error. */
es_status es_flutter_create(es_flutter **out);
void es_flutter_destroy(es_flutter *flutter);
void es_flutter_reset(es_flutter *flutter);

/* Empties the filters and the detector for a new stretch; what was counted stays. */
void es_flutter_break(es_flutter *flutter);

/* One sample; counts: whether its outputs enter the figures. Returns the weighted deviation. */
double es_flutter_push(es_flutter *flutter, double deviation, int counts);

/* The quasi-peak detector's reading now, as a needle would show it [fraction]. */
double es_flutter_needle(const es_flutter *flutter);

es_flutter_figures es_flutter_figures_of(const es_flutter *flutter);

/* Gain of the weighting filter at rate_hz [dB], as realised. */
double es_weighting_db(double rate_hz);

#endif
