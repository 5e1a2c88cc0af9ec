/* Test tones of the trade, and which of them a heard tone is likely to be. */
#ifndef ES_TASK_NOMINAL_H
#define ES_TASK_NOMINAL_H

#include "evenspool/base/notes.h"

/*
 * The test tone nearest to what is heard, within 15 %; NaN when there is none.
 * When others lie within 10 % of what is heard, the warning "nominal-ambiguous" names them with the speed
 * error that each would mean. warnings: NULL when nobody asks.
 */
double es_nearest_nominal(double heard_hz, es_notes *warnings);

/* Of the other test tones the one that would mean the smallest error; NaN when nothing is heard. */
double es_second_nominal(double heard_hz, double nominal_hz);

#endif
