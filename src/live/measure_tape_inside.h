/* What those share that measure: a tone or a test tape, from a file or while it plays. */
#ifndef ES_LIVE_MEASURE_TAPE_INSIDE_H
#define ES_LIVE_MEASURE_TAPE_INSIDE_H

#include "evenspool/task/tape_read.h"
#include "live/measure_tape.h"

/* What the reader is asked for; its pointers are those of the settings. */
es_tape_read_config es_measure_tape_config(const es_measure_tape_settings *settings, double rate_hz,
                                           int channels);

/* The speed error of a tape's recording deck and its standard uncertainty, as fractions, by what the
 * settings say or, where they say nothing (NaN), by its certificate (NULL: there is none). */
void es_measure_tape_error(const es_tape_record *tape, double percent, double u95_percent,
                           double *error, double *u);

#endif
