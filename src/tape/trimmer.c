#include "tape/trimmer.h"

#include <math.h>

es_trimmer es_trimmer_as_found(const es_scenario_trimmer *s)
{
    double per_turn = s->anticlockwise_is_faster ? -s->per_turn : s->per_turn;
    return (es_trimmer){.per_turn = per_turn,
                        .slack = 0.5 * s->backlash_deg / 360.0,
                        .low = -s->start * s->range_turns,
                        .high = (1.0 - s->start) * s->range_turns};
}

es_trimmer es_trimmer_of_screw(const es_scenario_screw *s)
{
    es_scenario_trimmer as_trimmer = {s->per_turn, s->anticlockwise_is_more, s->backlash_deg,
                                      s->range_turns, s->start};
    return es_trimmer_as_found(&as_trimmer);
}

void es_trimmer_turn(es_trimmer *t, double turns)
{
    /* The slot goes on by the play beyond the wiper's stop, no further. */
    t->hand = fmin(fmax(t->hand + turns, t->low - t->slack), t->high + t->slack);
    t->wiper = fmin(fmax(t->wiper, t->hand - t->slack), t->hand + t->slack);
}

double es_trimmer_wanted(const es_trimmer *t)
{
    return t->per_turn * t->wiper;
}

void es_trimmer_follow(es_trimmer *t, double keep)
{
    double wanted = es_trimmer_wanted(t);
    t->reached = wanted + (t->reached - wanted) * keep;
}
