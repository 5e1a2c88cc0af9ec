/*
 * Plateau: the time since the speed last changed, told from flutter, and the mean over it.
 *
 *   left   by a step that stands out of the scatter (trim_change.h), for good when the last two
 *          turns are alike again; the rest of a motor's approach is left out
 *   mean   efficient, over whole turns; its uncertainty from the scatter, and from what its halves
 *          differ by if that is more
 */
#ifndef ES_TASK_TRIM_PLATEAU_H
#define ES_TASK_TRIM_PLATEAU_H

#include "task/trim_curve.h"
#include "task/trim_scatter.h"

#define ES_PLATEAU_MOST_S 20.0 /* the mean never reaches farther back */
#define ES_STEADY_TURNS 3      /* at least, for a figure               */
#define ES_LEARNED_TURNS 30    /* after which the scatter is known     */

static inline int64_t es_later(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

typedef enum es_pace {
    ES_PACE_MOVING,
    ES_PACE_CALM, /* not changing, too short to tell anything */
    ES_PACE_STEADY
} es_pace;

typedef struct es_mean {
    double value; /* as heard [fraction]; NaN: not known          */
    double u;     /* standard uncertainty from flutter; NaN: not known */
    double dof;
    int64_t ticks; /* averaged */
} es_mean;

#define ES_PAST_PLATEAUS 8

typedef struct es_span { /* of ticks; to == 0: none */
    int64_t from, to;
} es_span;

typedef struct es_plateau {
    es_curve *curve; /* only _find_swings changes it */
    es_scatter scatter;
    int64_t turn;    /* ticks of one turn of the capstan                   */
    int64_t floor;   /* nothing before this tick may be used: a break      */
    int64_t start;   /* of the plateau                                     */
    int64_t moved;   /* where the last change began                        */
    int64_t left;    /* where the speed was last left that had been steady */
    int64_t learned; /* scatter is learned up to here                    */
    es_scatter kept; /* the scatter as it was at tick kept_at, to go back to */
    int64_t kept_at;
    int unlearned;                  /* 1: the scatter is still that of this plateau alone */
    es_span past[ES_PAST_PLATEAUS]; /* ring */
    int past_next;
    es_pace pace;
    int had_one;         /* a plateau was steady since the last break          */
    double approach;     /* time constant of the motor, in ticks              */
    es_mean before;      /* the mean before the last change                   */
    double drift_last;   /* slope when it was last seen                     */
    double drift_per_s;  /* of a drift; 0: none                           */
    int drifts;          /* times in a row that it was seen, + up, - down  */
    int64_t next_drift;  /* tick at which it is looked for again          */
    int64_t drift_until; /* tick at which it is forgotten                 */
} es_plateau;

void es_plateau_start(es_plateau *plateau, es_curve *curve, int64_t turn);

/* Nothing before the next tick counts any more. */
void es_plateau_break(es_plateau *plateau);

/* Looks at the curve as it is now; every few ticks. 1: a change was just seen to begin. */
int es_plateau_look(es_plateau *plateau);

/* The mean over the plateau so far, at most over the last ES_PLATEAU_MOST_S, whole turns. */
es_mean es_plateau_mean(const es_plateau *plateau);

/* The same from a later tick on. */
es_mean es_plateau_mean_from(const es_plateau *plateau, int64_t from);

/* The capstan's turn, or the swings that are taken off, are others than before: what was learned is
 * learned anew. */
void es_plateau_set_turn(es_plateau *plateau, int64_t turn);

/* Variance of a mean over so many ticks, as es_scatter_guess() has it. */
double es_plateau_guess(const es_plateau *plateau, int64_t ticks);

/* What was taken for a change was none: the scatter is wider than was thought. */
void es_plateau_mistrust(es_plateau *plateau);

/* These changes are no hand's: the last seconds are the deck as it is, and what they scatter by. */
void es_plateau_accept(es_plateau *plateau);

/* Looks for the swings in the last seconds of steady speed and takes them off the curve. */
void es_plateau_find_swings(es_plateau *plateau, es_swing_point *room);

#endif
