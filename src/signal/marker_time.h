/*
 * When exactly a marker began and ended: a straight line through the moments at which its symbols were
 * heard, bent at either end to its neighbours, for slow wow makes the way crooked.
 */
#ifndef ES_SIGNAL_MARKER_TIME_H
#define ES_SIGNAL_MARKER_TIME_H

#include "signal/marker_ear.h"

#include <stdint.h>

#define ES_MARKER_ROWS 256 /* kept; the slowest burst takes 184 and a little */

typedef struct es_marker_rows {
    int64_t count; /* so far; rows before the first are empty */
    float row[ES_MARKER_ROWS][ES_MARKER_CELLS];
} es_marker_rows;

/* Row `at`, one of the last ES_MARKER_ROWS or before the first. */
static inline const float *es_marker_row(const es_marker_rows *rows, int64_t at)
{
    return rows->row[(size_t)(at + ES_MARKER_ROWS) % ES_MARKER_ROWS];
}

typedef struct es_marker_fit {
    double start_row, end_row, speed;
} es_marker_fit;

/* start_row, speed: roughly. The same again when there are too few symbols to tell better. */
es_marker_fit es_marker_time(const es_marker_rows *rows, es_marker_code code, double start_row,
                             double speed, double row_s);

#endif
