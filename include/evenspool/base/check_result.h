/*
 * Record of one measured capture: everything that `check` says, as plain data without pointers.
 * A figure that can't be known is NaN (JSON: null; on paper: a dash), never 0.
 * Percent is of nominal speed for speeds, of the mean speed heard for wow and flutter.
 * Definitions, formulas and sources: docs/methods.md.
 */
#ifndef ES_BASE_CHECK_RESULT_H
#define ES_BASE_CHECK_RESULT_H

#include "evenspool/base/notes.h"

#include <stddef.h>

#define ES_COMPONENTS_MOST 12
#define ES_BUDGET_MOST 6
#define ES_TRACE_MOST 1024
#define ES_SPECTRUM_POINTS 400

typedef struct es_capture_facts {
    int samplerate_hz;
    int channels;
    double duration_s;
    int bits;               /* of the file's samples; 0 when unknown                 */
    double clipped_percent; /* share of the used channel's samples at full scale     */
    int channel_used;       /* 1 = left or first; 0 = none                           */
    char channel_why[96];   /* why that one, a clause: "the louder of the two"       */
} es_capture_facts;

typedef enum es_nominal_source {
    ES_NOMINAL_NEAREST, /* the test tone nearest to what was heard */
    ES_NOMINAL_GIVEN,   /* named by the user                       */
    ES_NOMINAL_TAPE     /* named by the tape's record              */
} es_nominal_source;

typedef struct es_tone_facts {
    double nominal_hz;
    es_nominal_source nominal_source;
    double measured_hz;
    double snr_db;          /* tone power over all that is neither tone nor harmonic */
    double present_percent; /* share of the capture with a good, steady tone         */
    int dropouts;
} es_tone_facts;

typedef struct es_budget_line {
    char source[48];
    double u_percent; /* standard uncertainty [% of speed]; NaN: not known */
} es_budget_line;

typedef struct es_speed_facts {
    double error_percent; /* the deck's, tape and clock taken off                   */
    double u95_percent;   /* expanded, 95 %; without the lines whose u is not known */
    double cents;
    double heard_percent; /* as heard: 100 (measured / nominal - 1)                 */
    double drift_percent_per_min;
    double start_percent;      /* deck's error over the first stretch of the capture     */
    double end_percent;        /* and the last                                           */
    double tape_error_percent; /* NaN: not given */
    double clock_ppm;          /* NaN: not given */
    size_t budget_count;
    es_budget_line budget[ES_BUDGET_MOST];
} es_speed_facts;

typedef struct es_flutter_facts {
    double weighted_quasi_peak_percent;
    double weighted_two_sigma_percent;
    double weighted_rms_percent;
    double unweighted_peak_percent;
    double unweighted_rms_percent;
    double wow_rms_percent;     /* 0.1 .. 10 Hz           */
    double flutter_rms_percent; /* above 10 Hz to the band's end */
    double band_hz[2];          /* of the unweighted figures     */
    int reliable;
} es_flutter_facts;

typedef struct es_component {
    double rate_hz;               /* turning rate, of the fundamental when grouped  */
    double peak_percent;          /* amplitude [% of mean speed]                    */
    double rate_slope_hz_per_min; /* how the rate slides along the tape             */
    double share_percent;         /* of the unweighted modulation power             */
    int harmonics;                /* further members of its family that were found  */
    char suspect[32];             /* part that turns at this rate; "" when unknown  */
    double significance_db;       /* height above the local floor                   */
} es_component;

typedef struct es_stereo_facts {
    int known;                  /* 0: mono or one channel dead; the rest is NaN     */
    double delay_us;            /* + right later than left, within half a period    */
    double delay_period_us;     /* the delay is known only modulo this              */
    double level_difference_db; /* right minus left                                 */
    int opposed;                /* 1: polarity of one channel reversed              */
} es_stereo_facts;

typedef enum es_verdict { ES_VERDICT_LOOK_FIRST, ES_VERDICT_ADJUST, ES_VERDICT_LEAVE } es_verdict;

typedef struct es_gate_facts {
    es_verdict verdict;
    es_notes reasons;
} es_gate_facts;

/* Speed against time for pictures: equal steps, deck's error [%]; NaN where no good tone was. */
typedef struct es_speed_trace {
    size_t count;
    double step_s; /* length of one step; step i begins at i * step_s of the capture */
    float mean[ES_TRACE_MOST], low[ES_TRACE_MOST], high[ES_TRACE_MOST];
} es_speed_trace;

/* Modulation spectrum for pictures: largest peak amplitude within each logarithmic step of rate. */
typedef struct es_flutter_spectrum {
    size_t count; /* 0: not known */
    float rate_hz[ES_SPECTRUM_POINTS], peak_percent[ES_SPECTRUM_POINTS];
    float floor_percent[ES_SPECTRUM_POINTS]; /* local noise floor, same unit */
} es_flutter_spectrum;

typedef struct es_check_result {
    es_capture_facts capture;
    es_tone_facts tone;
    es_speed_facts speed;
    es_flutter_facts flutter;
    size_t component_count;
    es_component components[ES_COMPONENTS_MOST]; /* largest first */
    es_stereo_facts stereo;
    es_gate_facts gate;
    es_notes warnings;
    es_speed_trace trace;
    es_flutter_spectrum spectrum;
} es_check_result;

#endif
