/*
 * Record of one session with the coach: as found, the nudges, the course, as left.
 * Plain data without pointers. NaN: not known, never 0. Percent of nominal speed; + fast; tape's
 * certificate and sound card's clock taken off. Other quantities: as in base/trim_snapshot.h.
 */
#ifndef ES_BASE_TRIM_SESSION_H
#define ES_BASE_TRIM_SESSION_H

#include "evenspool/base/trim_snapshot.h"

#define ES_TRACE_POINTS 2400 /* two minutes, 20 a second */
#define ES_TRACE_HZ 20.0
#define ES_COURSE_BLOCKS 1024

typedef struct es_trim_reading { /* a believed figure and when it was had */
    double time_s, error_percent, u95_percent, averaged_s;
} es_trim_reading;

typedef struct es_trim_session {
    es_adjust adjust;
    double duration_s;
    double nominal_hz; /* NaN: no tone was heard */
    double tape_error_percent, target_percent, tolerance_percent;
    size_t overruns;
    es_trim_reading as_found; /* the last before the first nudge; all NaN: none              */
    es_trim_reading as_left;  /* the last of all; the final reading where that stands        */
    int final;                /* 1: as_left is the final reading                             */
    size_t nudge_count;       /* all; the last ES_NUDGES_MOST are kept                       */
    es_nudge nudges[ES_NUDGES_MOST];

    /* the last two minutes: point i is at trace_from_s + i / ES_TRACE_HZ; NaN: no tone      */
    size_t trace_count;
    double trace_from_s;
    float trace_percent[ES_TRACE_POINTS];

    /* the whole session: lowest and highest within equal steps; NaN: no tone                */
    size_t course_count;
    double course_step_s;
    float course_low_percent[ES_COURSE_BLOCKS], course_high_percent[ES_COURSE_BLOCKS];
} es_trim_session;

#endif
