/*
 * Found lines of the lines module: what the tracks and the mean spectrum together say.
 *
 *   out     lines, each once, at mid-capture, families of harmonics marked; and the spectrum on a
 *           logarithmic axis
 *   rt      nothing allocates
 */
#ifndef ES_SIGNAL_LINES_FOUND_H
#define ES_SIGNAL_LINES_FOUND_H

#include "evenspool/base/check_result.h"
#include "signal/lines_track.h"

#define ES_LINES_FOUND 64

/* All windows' mean power, long ones weighing more. */
typedef struct es_lines_mean {
    const float *power;
    const es_lines_floor *floor;
    es_lines_band band; /* bins in which lines are looked for */
    double bin_hz, span_s;
    double length;    /* of the window to which a line's height belongs [samples] */
    double capture_s; /* all the stretches together */
} es_lines_mean;

typedef struct es_lines_line {
    double rate_hz, rate_u_hz;
    double slope_hz_s, slope_u; /* NaN, HUGE_VAL: not known           */
    double peak_squared, height;
    double low_hz, high_hz; /* range that the rate went through       */
    int harmonics;          /* lines that belong to this one          */
    size_t parent;          /* index + 1 of the line it belongs to; 0 */
} es_lines_line;

/* Joins the tracks, for good. Largest peak first. */
size_t es_lines_find(es_lines_tracks *tracks, const es_lines_mean *mean, es_lines_line *out);

/* Marks the families in lines[0 .. count), largest peak first. */
void es_lines_group(es_lines_line *lines, size_t count, double span_s);

/* Height of the local maximum at a bin of the mean spectrum, read between the bins, and its place.
 */
double es_lines_top(const es_lines_mean *mean, size_t bin, double *place);

void es_lines_draw(const es_lines_mean *mean, es_flutter_spectrum *out);

#endif
