/*
 * Hand: what the nudges so far teach about a trimmer whose scale nobody can read. The unit is the
 * first turn the hand made. Every later turn is taken to be the share of the last one that was
 * asked for, unless its effect says plainly that it was not.
 *
 *   effect = gain x turn, less the play when it goes the other way, + what the hand trembles
 */
#ifndef ES_TASK_TRIM_HAND_H
#define ES_TASK_TRIM_HAND_H

typedef struct es_hand {
    int turns;        /* made so far                                               */
    double last;      /* the last turn, in first turns, + the way of the first     */
    double last_size; /* its effect [fraction]                                     */
    int strange;      /* 1: the last turn was not what was asked for               */
    /* sums for the least squares of effect = gain x turn - play x sign; sign: of a turn the other
     * way than the one before, 0 for others; s size, t turn, g sign */
    double st, tt, tg, gg, sg;
    double tremble_squares; /* of what could not be foreseen                     */
    int trembles;
    int short_turns; /* in a row that did far less than they should have, same way */
} es_hand;

typedef struct es_hand_turn { /* what was made of one nudge */
    int reversal;
    int followed; /* the effect fits what was asked for */
} es_hand_turn;

/* A nudge changed the speed by `size`; `asked` is the share of the last turn that was asked for,
 * NaN: nothing was. short_share: see es_trim_limits. */
es_hand_turn es_hand_take(es_hand *hand, double size, double asked, double short_share);

typedef struct es_hand_advice {
    double factor; /* share of the last turn, - : the other way than it; NaN: nothing known yet */
    int of_first;  /* 1: share of the first turn; the sign still speaks of the last            */
} es_hand_advice;

/* The turn that should change the speed by `need`. */
es_hand_advice es_hand_advise(const es_hand *hand, double need);

/* The same turn in shares of the last one. */
double es_hand_of_last(const es_hand *hand, es_hand_advice advice);

/* Speed lost to play by a turn the other way [fraction]; NaN: none seen yet. */
double es_hand_backlash(const es_hand *hand);

#endif
