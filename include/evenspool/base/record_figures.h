/*
 * Figures of jobs in the unit of what was adjusted. Readings and nudges have a field for each unit; one of
 * them is filled in.
 *
 *   out     the field itself, to be read or written, as long as the record lasts; NaN in it: not known
 *   units   of base/adjust.h: speed [%], azimuth [us], level and balance [dB]
 *   thread  no state
 */
#ifndef ES_BASE_RECORD_FIGURES_H
#define ES_BASE_RECORD_FIGURES_H

#include "evenspool/base/adjust.h"
#include "evenspool/base/records.h"

double *es_reading_error(es_reading_record *reading, es_adjust adjust);
double *es_reading_u95(es_reading_record *reading, es_adjust adjust);
double *es_nudge_size(es_nudge_record *nudge, es_adjust adjust);

/* What the job adjusts; a word that is none: the speed. */
es_adjust es_job_adjust(const es_job_record *job);

/* By the figure that is there: us the azimuth, dB the level (or the balance: its job tells), else the speed. */
es_adjust es_reading_adjust(const es_reading_record *reading);

#endif
