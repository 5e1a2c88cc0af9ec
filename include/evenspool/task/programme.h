/*
 * Programmes: what is built in, what is in order, and what stands where (base/programme.h: the data).
 *
 *   markers  a marker's code carries the programme's id, the side (1, 2) and the section's index
 *   times    seconds of nominal speed from the beginning of the side
 *   thread   no shared state
 *   rt       nothing here allocates
 */
#ifndef ES_TASK_PROGRAMME_H
#define ES_TASK_PROGRAMME_H

#include "evenspool/base/error.h"
#include "evenspool/base/programme.h"
#include "evenspool/signal/marker.h"

#include <stddef.h>

/* Everything within its range and fitting together? ES_ERR_INPUT, code "programme", and a sentence
 * that names side, section and step; *spot (NULL: not wanted) is the place it speaks of. */
es_status es_programme_check(const es_programme *programme, es_programme_spot *spot,
                             es_error *error);

/* What the markers carry: made from all the content but `about`; a changed programme has another id. */
unsigned es_programme_id(const es_programme *programme);

/* --- built in -------------------------------------------------------------------------- */

size_t es_programme_builtin_count(void);
const char *es_programme_builtin_name(size_t index); /* "" beyond the count */
const char *es_programme_builtin_about(size_t index);
/* ES_ERR_ARG: no such programme; *out is then the first. */
es_status es_programme_builtin(size_t index, es_programme *out);
es_status es_programme_find(const char *name, es_programme *out);
/* The built-in programme a marker speaks of, by its id. ES_ERR_ARG: none. */
es_status es_programme_of_id(unsigned id, es_programme *out);

/* --- times ------------------------------------------------------------------------------ */

es_section_times es_programme_times(const es_programme *programme, size_t side, size_t section);
/* Where a step begins; it lasts step[].seconds. */
double es_programme_step_s(const es_programme *programme, size_t side, size_t section, size_t step);
double es_programme_side_s(const es_programme *programme, size_t side);

typedef enum es_programme_part {
    ES_PART_OF_MARKER,
    ES_PART_OF_GAP,
    ES_PART_OF_BODY,
    ES_PART_OF_NOTHING /* before the side or after its end */
} es_programme_part;

typedef struct es_programme_place {
    es_programme_part part;
    size_t section, step;
    double left_s; /* until that part is over */
} es_programme_place;

es_programme_place es_programme_at(const es_programme *programme, size_t side, double time_s);

#endif
