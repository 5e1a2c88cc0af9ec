/*
 * A trimmer as the hand finds it: a stretch of play in which turning does nothing, stops at both
 * ends, and, for the speed, a motor that takes its time to follow. So are other screws.
 */
#ifndef ES_TAPE_TRIMMER_H
#define ES_TAPE_TRIMMER_H

#include "evenspool/tape/scenario.h"

typedef struct es_trimmer {
    double per_turn;  /* speed change per turn clockwise, signed [fraction]           */
    double slack;     /* half of the play [turns]                                     */
    double low, high; /* stops of the wiper, from where it stood at the start [turns] */
    double hand;      /* where the slot stands [turns]                                */
    double wiper;     /* where the wiper stands [turns]                               */
    double reached;   /* speed change that the motor has reached [fraction]           */
} es_trimmer;

/* The slot begins in the middle of its play. */
es_trimmer es_trimmer_as_found(const es_scenario_trimmer *settings);

/* A screw's: per_turn in its own unit, nothing has to follow. */
es_trimmer es_trimmer_of_screw(const es_scenario_screw *settings);

/* Turns the slot, + clockwise; the stops hold it. */
void es_trimmer_turn(es_trimmer *trimmer, double turns);

/* Speed change that the wiper asks for [fraction]. */
double es_trimmer_wanted(const es_trimmer *trimmer);

/* Lets the motor follow: `keep` of the way still to go is left afterwards. */
void es_trimmer_follow(es_trimmer *trimmer, double keep);

#endif
