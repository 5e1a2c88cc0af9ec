/* The insides of the coach, shared by trim.c (frames in, snapshots out), trim_speed.c and trim_pair.c
 * (what it listens with), trim_move.c (figures and nudges) and trim_coach.c (states and advice).
 * The coach itself knows values only: 0.001 is the usual tolerance of every quantity. */
#ifndef ES_TASK_TRIM_INSIDE_H
#define ES_TASK_TRIM_INSIDE_H

#include "evenspool/base/notes.h"
#include "evenspool/task/trim.h"
#include "task/trim_curve.h"
#include "task/trim_hand.h"
#include "task/trim_plateau.h"
#include "task/trim_record.h"
#include "task/trim_words.h"

#include <stdint.h>

#define ES_TRIM_LOOK_TICKS 5 /* the coach looks at the curve every so many ticks */

typedef struct es_trim_move { /* a change of speed that is not over yet */
    int open, seen;           /* seen: a step was seen, not only supposed (after a gap) */
    double time_s;
    es_mean before;
    double asked;     /* advice that stood before it, in last turns */
    int again;        /* the last nudge goes on: its figure had come too early */
    double low, high; /* extremes of the turn's mean on the way, as heard */
} es_trim_move;

typedef struct es_coach {
    es_plateau plateau;
    es_trim_move move;
    es_hand hand, hand_before; /* with and without the last nudge          */
    int last_open;             /* the last nudge's size is still being refined */
    es_mean last_before;
    double last_asked;
    int64_t last_closed; /* tick */

    es_trim_state state;
    const char *reason;
    double error, u95, averaged_s; /* fraction, deck's; NaN: none to show      */
    es_hand_advice asked;          /* the turn on show; factor NaN: none      */
    int64_t asked_since;           /* tick; -1: nothing is asked for          */
    int unseen, making_sure, meeting;
    int odd_changes;     /* that came sooner than a hand could, or led nowhere */
    int met;             /* this deck's flutter is known */
    int64_t there_since; /* tick; -1: not there */
    int final;
    double final_error, final_u95;
    double period_hz; /* strongest swing when last looked for; NaN */
    int64_t next_swing;
    int nudges_at_stop; /* nudges that no longer count for "no progress" */
} es_coach;

typedef struct es_trim_doubt { /* of a mean, besides what it scatters by */
    double noise, normal;      /* standard uncertainties              */
    double limit;              /* of what lies anywhere within +-this */
} es_trim_doubt;

/* What the coach listens with. All of it runs on the caller's thread; only create allocates. */
typedef struct es_trim_sense {
    es_status (*judge)(const es_trim_config *config, es_error *error);
    es_status (*create)(es_trim *trim);
    void (*destroy)(es_trim *trim); /* whatever create got to */
    /* Frames within one chunk; trim->frames still counts those before. */
    void (*take)(es_trim *trim, const float *frames, size_t count);
    void (*decide)(es_trim *trim); /* at whole chunks, so that block sizes don't matter */
    void (*gap)(es_trim *trim);    /* input was lost                                    */
    double (*error)(const es_trim *trim, double heard); /* what the heard value means */
    es_trim_doubt (*doubt)(const es_trim *trim, const es_mean *mean);
    double (*nominal_hz)(const es_trim *trim);
    const char *(*reason)(const es_trim *trim); /* to look first, NULL: none; may be left out */
    /* Its part of the snapshot and of the sentence's scene. */
    void (*report)(const es_trim *trim, es_trim_snapshot *out, es_trim_scene *scene);
} es_trim_sense;

extern const es_trim_sense es_trim_speed, es_trim_pair;

struct es_trim {
    es_trim_config config; /* target and tolerance as values of the coach */
    const es_trim_sense *sense;
    double scale; /* so many of the quantity's unit are 1 */
    void *ear;    /* the sense's own */
    es_curve curve;
    es_coach coach;
    es_trim_record record;
    es_notes notes;
    int following;                          /* ticks come in                      */
    uint64_t frames, heard_from, snapshots; /* heard_from: of what is followed now */

    float peak; /* since the last snapshot */
    float *clean;
    es_swing_point *points;
    es_trim_snapshot *queue;
    size_t queue_first, queue_count;
};

int es_trim_within(double value, double low, double high);
double es_trim_seconds(const es_trim *trim, uint64_t frames);

/* The last 50 ms as heard; NaN: no sound. */
double es_trim_live(const es_trim *trim);

/* --- trim_move.c: figures and nudges ---------------------------------------------------- */

/* The quantity itself from what was heard of it. */
double es_coach_error(const es_trim *trim, double heard);

/* Expanded uncertainty of a mean: its scatter and what the sense doubts (docs/methods.md#trim). */
double es_coach_u95(const es_trim *trim, const es_mean *mean);

/* The speed was left, or may have been (not seen): a nudge begins, or the last one goes on. */
void es_move_open(es_trim *trim, const es_mean *before, double time_s, int seen);

/* Follows its extremes. */
void es_move_watch(es_trim *trim);

/* The speed is steady again: was it a nudge? If so, it is written down. */
void es_move_close(es_trim *trim, const es_mean *after);

/* The last nudge again, with its size as it is known by now. */
void es_move_refine(es_trim *trim, const es_mean *after);

/* --- trim_coach.c: states and advice ---------------------------------------------------- */

void es_coach_start(es_trim *trim);

/* The curve has been broken: lost input (may_have_moved: the hand was not
 * watched), or a new tone. */
void es_coach_break(es_trim *trim, int may_have_moved);

/* The tone has been away for long: a move in progress is given up. */
void es_coach_forget_move(es_trim *trim);

/* Ticks have come in. */
void es_coach_look(es_trim *trim);

/* No tone is being followed. */
void es_coach_lose(es_trim *trim, const char *reason);

/* All of the snapshot that is the coach's. */
void es_coach_report(const es_trim *trim, es_trim_snapshot *out);

#endif
