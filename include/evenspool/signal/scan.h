/* One quick look over samples before anything is computed with them. */
#ifndef ES_SIGNAL_SCAN_H
#define ES_SIGNAL_SCAN_H

#include <stddef.h>

/* Largest magnitude in at[0 .. count); +Inf when any of them is infinite or not a number. */
float es_scan_peak(const float *at, size_t count);

#endif
