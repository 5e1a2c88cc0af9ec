/*
 * What comparing a sound device's sample clock with the computer's clock came to: a plain record between
 * live/, which watches both, and the faces.
 *
 *   ppm      millionths; + : the device samples faster than it says
 *   numbers  NaN: not known
 */
#ifndef ES_BASE_CLOCK_RESULT_H
#define ES_BASE_CLOCK_RESULT_H

#include "evenspool/base/notes.h"

#include <stdint.h>

/* The straight line through what came and when. */
typedef struct es_clock_figures {
    double error_ppm;
    double u_ppm,
        dof; /* standard uncertainty from the scatter of late blocks; its degrees of freedom */
    double
        resolution_ppm; /* limit +-: frames come whole                                          */
    double used_s;      /* length of the stretch without interruption that the figure is from    */
    double jitter_s;    /* standard deviation of how late blocks come                            */
    int64_t blocks;     /* pushed, all in all                                                    */
    int64_t
        interruptions; /* told by the device, and found as a jump                               */
} es_clock_figures;

/* The clock that it was compared with. */
typedef enum es_clock_discipline {
    ES_CLOCK_UNKNOWN, /* the system does not tell           */
    ES_CLOCK_FREE,    /* runs as its quartz does            */
    ES_CLOCK_DISCIPLINED
} es_clock_discipline;

typedef struct es_clock_reference {
    es_clock_discipline discipline;
    double limit_ppm;         /* +-: what its own rate may be off by                      */
    double correction_ppm;    /* of the rate, that the system applies to its quartz       */
    double in_force_ppm;      /* the same as found between both clocks while measuring    */
    double estimated_error_s; /* of the time of day, as the system tells                  */
} es_clock_reference;

typedef struct es_clock_result {
    char input[128];
    char system[32]; /* "ALSA" ...                                               */
    int direct;      /* 1: the device itself; 0: perhaps a sound server between  */
    double rate_hz;  /* nominal                                                  */
    double listened_s;
    double lost_s; /* of it, without the device                                */
    int stopped;   /* 1: ended before the time asked for                       */
    es_clock_figures figures;
    es_clock_reference reference;
    double line_u95_ppm; /* without what the reference may be off by                 */
    double u95_ppm;      /* with it                                                  */
    double clock_ppm;    /* to be told to the other verbs; NaN: not sure enough     */
    es_notes notes;
} es_clock_result;

/* What a correction may leave: check and trim reckon with +-5 ppm once a clock's error is given. */
#define ES_CLOCK_GOOD_PPM 5.0

#endif
