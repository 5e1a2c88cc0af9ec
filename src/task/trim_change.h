/*
 * Change: a step of the speed told from flutter, and told from a drift.
 *
 *   step   the mean over the last 1 .. 32 turns of the capstan against all before, in units of
 *          the scatter of such means (generalised likelihood ratio for one step)
 *   drift  a straight line explains the whole span better than any single step
 */
#ifndef ES_TASK_TRIM_CHANGE_H
#define ES_TASK_TRIM_CHANGE_H

#include "task/trim_plateau.h"

#define ES_SUSPECT 0.6 /* from here on a step may be beginning to show */

/* How near the speed is to being taken for changed: 0 .. 1; above 1 it is. */
double es_change_suspicion(const es_plateau *plateau);

/* 1: the speed is no longer what it was at the beginning of the plateau. */
int es_change_is_seen(const es_plateau *plateau);

/* The tick at which it began: the split that tells the two sides apart best. */
int64_t es_change_begin(const es_plateau *plateau);

/* 1: what looks like a step at `split` is a drift; it is noted in the plateau. */
int es_change_is_drift(es_plateau *plateau, int64_t split);

/* Looks for a drift too slow to look like a step, and notes it. */
void es_drift_look(es_plateau *plateau);

/* Forgets a drift that was last seen long ago. */
void es_drift_fade(es_plateau *plateau);

#endif
