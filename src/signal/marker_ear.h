/*
 * The markers' ear: sound -> rows, one every 14 ms, that tell what share of the sound between 650 and
 * 3900 Hz stands near each frequency step; of two channels the one where the share is larger. Where the
 * sound has been one steady tone, or silence, for over half a second, no marker can be: such rows are all 0.
 */
#ifndef ES_SIGNAL_MARKER_EAR_H
#define ES_SIGNAL_MARKER_EAR_H

#include "signal/marker_code.h"
#include "signal/twin.h"

#include <stdint.h>

/* Speeds looked at: so many steps down and up, 0.858 .. 1.143. */
#define ES_MARKER_DOWN 16
#define ES_MARKER_UP 14
#define ES_MARKER_CELLS (ES_MARKER_DOWN + ES_MARKER_STEPS + ES_MARKER_UP + 1)

typedef struct es_marker_edge {
    size_t bin;  /* edges of a cell: so many whole bins ... */
    float share; /* ... and this share of the next          */
} es_marker_edge;

typedef struct es_marker_ear {
    double rate_hz;
    size_t every; /* input frames per decimated one                  */
    size_t taps;  /* of the filter before decimation; 0: none wanted */
    float *tap;
    float *past[2]; /* the last taps - 1 samples and a block after them */
    size_t at;      /* frames since the last decimated one              */
    es_twin twin;
    es_marker_edge low[ES_MARKER_CELLS], high[ES_MARKER_CELLS], band_low, band_high;
    float *sum[2]; /* running sums over the bins                       */
    float turn[2]; /* 2 cos of the tone's angle a sample, of the last hop */
    int calm;      /* rows for which nothing has changed               */
} es_marker_ear;

es_status es_marker_ear_start(es_marker_ear *ear, double rate_hz);
void es_marker_ear_stop(es_marker_ear *ear);
void es_marker_ear_reset(es_marker_ear *ear);

/* Time of row 0 and time between rows [s]. */
double es_marker_ear_first_s(const es_marker_ear *ear);
double es_marker_ear_row_s(const es_marker_ear *ear);

/* Takes frames until a row is due and returns how many it took; *due is 1 when `row` was filled. */
size_t es_marker_ear_push(es_marker_ear *ear, const float *left, const float *right, size_t stride,
                          size_t frames, float row[ES_MARKER_CELLS], int *due);

#endif
