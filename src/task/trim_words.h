/*
 * Words: shares of a turn that a hand can feel, and the coach's sentences.
 */
#ifndef ES_TASK_TRIM_WORDS_H
#define ES_TASK_TRIM_WORDS_H

#include "evenspool/base/text.h"
#include "evenspool/base/trim_snapshot.h"

/* The nearest share that has a name, sign kept; NaN stays NaN. */
double es_share_of_turn(double factor);

/* "a third of", "as much as", "twice"; factor as es_share_of_turn gave it. */
const char *es_share_words(double share);

typedef struct es_trim_scene { /* what the sentence is about, besides the snapshot itself */
    int meeting;               /* reading: the deck's flutter is being learned        */
    int making_sure;           /* reading: inside the tolerance, not yet sure         */
    int reversal_asked;        /* the turn that is asked for goes the other way       */
    int speeding;              /* turning: +1 getting faster, -1 slower, 0 not clear  */
    double other_hz;           /* listening: of a wrong or unusual tone               */
    double drift_per_min;      /* percent                                           */
    double hold_s;
    int right; /* level: the channel that is followed is the right one */
} es_trim_scene;

/* Fills snapshot->advice from the rest of it. */
void es_trim_say(es_trim_snapshot *snapshot, const es_trim_scene *scene);

#endif
