/*
 * The insides of reading a test tape, shared by tape_read.c (life and flow), tape_course.c (where the tape
 * stands), tape_listen.c (measuring one step), tape_report.c (figures) and tape_verdict.c (what to do).
 */
#ifndef ES_TASK_TAPE_INSIDE_H
#define ES_TASK_TAPE_INSIDE_H

#include "evenspool/signal/delay.h"
#include "evenspool/signal/level.h"
#include "evenspool/signal/noise.h"
#include "evenspool/tape/equalisation.h"
#include "evenspool/task/check.h"
#include "evenspool/task/programme.h"
#include "evenspool/task/tape_read.h"
#include "task/tape_dropouts.h"
#include "task/tape_phase.h"

#include <stdint.h>

#define ES_TAPE_CHUNK 1024 /* markers come in only at multiples of this many frames */

/* What one channel had of one step. */
typedef struct es_tape_tone {
    int known;
    double amplitude_fs, u_db, floor_fs;
    double third, third_floor; /* harmonic against the fundamental */
} es_tape_tone;

typedef struct es_tape_step {
    int heard;
    double hz; /* as heard, by the speed of the moment */
    es_tape_tone tone[ES_TAPE_CHANNELS];
    es_tape_phase_figures phase;
} es_tape_step;

/* What was heard of a section. */
typedef struct es_tape_part {
    int marker;
    size_t steps_heard, steps_tried;
    double start_s, end_s; /* of the capture; NaN: it never came */
    double speed;          /* of a section for it, played / nominal; 0: not known */
    es_tape_step step[ES_PROGRAMME_STEPS];
    es_delay_figures delay;
    es_noise_figures noise[ES_TAPE_CHANNELS];
} es_tape_part;

/* Where the tape stands, and when what comes next must begin. */
typedef struct es_tape_course {
    int adopted; /* a marker said which programme and side */
    es_programme programme;
    unsigned id;
    size_t side;

    double anchor_tape_s, anchor_s; /* the same instant on the tape [nominal s], in the capture */
    size_t anchor_section;
    double speed; /* played / nominal, of the moment         */
    int paired;   /* 1: from two markers or a long tone, not from one marker alone */
    double first_tape_s, first_s; /* the first anchor since the last jump         */
    double run_tape_s, run_s;     /* of tape and capture that ran through without a jump */

    size_t section, step; /* the next to be measured, or being measured; section_count: over */
    uint64_t from, to;    /* its frames                                                     */
    int running;
} es_tape_course;

struct es_tape_read {
    es_tape_read_config config;
    es_programme given;
    char label[ES_PROGRAMME_NAME];
    es_tape_limits limits;
    es_geometry geometry;
    es_tape_result recorded;
    es_notes warnings;

    uint64_t listened; /* the listening half's only */
    es_marker_finder *finder;

    uint64_t frames; /* measured */
    es_tape_course course;
    es_tape_part part[ES_PROGRAMME_SECTIONS];
    unsigned strange_id; /* of a marker whose programme is not known */
    int strange, foreign, other_side, jumps;
    uint64_t gaps, lost; /* input that was missing; frames, as far as is known */

    size_t channels; /* 1 or 2: of what is measured */
    float *pair;     /* a chunk of it when it can't be taken as it is */
    float peak;
    uint64_t full_scale[ES_TAPE_CHANNELS];

    es_check *check;
    double check_hz; /* its tone; 0: none of the programme can be followed */
    uint64_t check_frames;
    double speed_sum; /* of the speeds heard in this section, played / nominal */
    size_t speed_count;
    es_level *level;
    es_delay *delay;
    es_noise *noise;
    es_tape_phase *phase;
    es_tape_dropouts_meter dropouts;
};

/* --- course --------------------------------------------------------------------------- */

/* 1: what was heard of it is the programme's, and not something else in its place. */
int es_tape_part_is_sound(const es_tape_part *part);

const es_programme_section *es_tape_section_of(const es_tape_read *r, size_t section);

/* A marker was found: which programme, where on the tape, how fast. */
void es_tape_course_mark(es_tape_read *r, const es_marker_find *find);

/* Sets course.from and .to of the step in turn from what is known of the speed now. */
void es_tape_course_plan(es_tape_read *r);

/* The step in turn is over, or has been missed: the next one. */
void es_tape_course_next(es_tape_read *r);

/* Another speed [played / nominal] for the time from the last marker on. */
void es_tape_course_refine(es_tape_read *r, double speed);

/* Instant of the capture [s] at which that place of the tape [nominal s] passes. */
double es_tape_course_time(const es_tape_course *course, double tape_s);

/* --- measuring a step -------------------------------------------------------------------- */

/* stereo: as r->channels says. */
void es_tape_step_begin(es_tape_read *r);
void es_tape_step_push(es_tape_read *r, const float *stereo, size_t count);
/* cut: 1: it was broken off and may hold something else. */
void es_tape_step_end(es_tape_read *r, int cut);
/* Now and then on the way: what the tone says of the speed. */
void es_tape_listen_on(es_tape_read *r);

/* Of the deck [fraction], from played / nominal: the tape's own and the clock's taken off. */
double es_tape_error_of(const es_tape_read *r, double speed);

/* --- at the end ------------------------------------------------------------------------------ */

void es_tape_report(es_tape_read *r, es_tape_result *result);
void es_tape_judge(const es_tape_limits *limits, es_tape_result *result);

#endif
