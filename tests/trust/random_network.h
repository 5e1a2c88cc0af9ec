/*
 * Imaginary trust networks with known truth, the same for the same seed.
 * Decks drift as random walks if asked to; stated uncertainties are either the true ones or
 * estimated from few readings (then with their degrees of freedom), as a person would have them.
 */
#ifndef ES_TESTS_RANDOM_NETWORK_H
#define ES_TESTS_RANDOM_NETWORK_H

#include "evenspool/trust/network.h"

#define RANDOM_DECKS_MOST 16
#define RANDOM_OBSERVATIONS_MOST 256
#define RANDOM_DAYS 720

typedef struct random_source {
    uint64_t state;
} random_source;

double random_uniform(random_source *r, double low, double high);
size_t random_below(random_source *r, size_t count);
double random_normal(random_source *r);

typedef struct random_plan {
    size_t decks_least, decks_most;
    size_t plays_per_deck;
    size_t anchors_least, anchors_most;
    double least_dof; /* INFINITY: all uncertainties are known; else half of them are estimated
                         with this many degrees of freedom up to ten times as many */
    double walk;      /* largest drift rate [fraction per root year]; 0: none */
} random_plan;

typedef struct random_network {
    size_t decks, observations;
    es_epoch epoch[RANDOM_DECKS_MOST];
    es_observation observation[RANDOM_OBSERVATIONS_MOST];
    double true_u[RANDOM_OBSERVATIONS_MOST];
    double truth[RANDOM_DECKS_MOST];                 /* error on the asked day [fraction] */
    double path[RANDOM_DECKS_MOST][RANDOM_DAYS + 1]; /* log speed on each day             */
} random_network;

void random_network_make(random_network *out, const random_plan *plan, uint64_t seed);

#endif
