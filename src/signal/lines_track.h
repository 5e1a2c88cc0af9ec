/*
 * Tracks of the lines module: peaks linked from window to window, and the rate's course fitted.
 *
 *   in      the peaks of each window with its time; overlapping windows count by what is fresh
 *   how     each track foretells its next rate from rate and slope; peak and track that are
 *           nearest to each other are linked; a track that misses too often rests
 *   memory  constant: when a track's list of marks is full, neighbours are joined
 *   rt      nothing allocates
 */
#ifndef ES_SIGNAL_LINES_TRACK_H
#define ES_SIGNAL_LINES_TRACK_H

#include "signal/lines_peaks.h"

#define ES_LINES_TRACKS 48
#define ES_LINES_MARKS 64

typedef struct es_lines_mark {
    double time_s, rate_hz, rate_u_hz, slide_hz_s, slide_u;
} es_lines_mark;

typedef struct es_lines_track {
    int state;           /* 0 free, 1 followed, 2 at rest                          */
    int misses;          /* windows without it in a row                            */
    double seen, asked;  /* fresh windows with it, and all since its first         */
    double score;        /* surprise of all, less the freedom there was in linking */
    double peak_squared; /* sums over the fresh windows with it                    */
    double height;
    double last_s, last_hz, last_height, slope_hz_s;
    double low_hz, high_hz; /* range of its rates */
    size_t hits, marks;
    es_lines_mark mark[ES_LINES_MARKS];
} es_lines_track;

typedef struct es_lines_tracks {
    double windows; /* fresh windows in all */
    es_lines_track track[ES_LINES_TRACKS];
} es_lines_tracks;

/* A straight course through the rates near one instant. */
typedef struct es_lines_course {
    double rate_hz, rate_u_hz;  /* at that instant                     */
    double slope_hz_s, slope_u; /* there; NaN, HUGE_VAL when not known */
} es_lines_course;

void es_lines_tracks_reset(es_lines_tracks *tracks);

/* fresh: 1 for a window that overlaps the last one by at most half, less for more. */
void es_lines_tracks_add(es_lines_tracks *tracks, double time_s, double span_s, double fresh,
                         const es_lines_peak *peaks, size_t count);

/* Makes one of tracks that follow each other in time and go on where the other ended. */
void es_lines_tracks_join(es_lines_tracks *tracks, double span_s);

/* At time_s, or the nearest instant at which the track was seen; length_s: of the capture. */
es_lines_course es_lines_track_course(const es_lines_track *track, double time_s, double length_s);

#endif
