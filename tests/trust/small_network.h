/* Writing small networks in tests: percent, days, known uncertainties. */
#ifndef ES_TESTS_SMALL_NETWORK_H
#define ES_TESTS_SMALL_NETWORK_H

#include "evenspool/trust/network.h"

#include <math.h>

static inline es_observation anchor(size_t deck, double percent, double u_percent)
{
    return (es_observation){.kind = ES_ANCHOR,
                            .deck = deck,
                            .value = percent / 100.0,
                            .u = u_percent / 100.0,
                            .dof = (double)INFINITY};
}

static inline es_observation play(size_t recorded_on, size_t deck, double percent, double u_percent)
{
    return (es_observation){.kind = ES_PLAY,
                            .recorded_on = recorded_on,
                            .deck = deck,
                            .value = percent / 100.0,
                            .u = u_percent / 100.0,
                            .dof = (double)INFINITY};
}

static inline es_observation on_days(es_observation o, double recorded, double day)
{
    o.recorded_day = recorded;
    o.day = day;
    return o;
}

static inline es_observation with_dof(es_observation o, double dof)
{
    o.dof = dof;
    return o;
}

static inline es_network *solve_with(const es_epoch *epochs, size_t epoch_count,
                                     const es_observation *o, size_t count, es_robust robust)
{
    es_network *net = NULL;
    es_solve_options options = es_solve_defaults();
    options.robust = robust;
    assert_int_equal(es_network_create(epochs, epoch_count, o, count, &net, NULL), ES_OK);
    assert_int_equal(es_network_solve(net, &options), ES_OK);
    return net;
}

/* Decks that stand still. */
static inline es_network *solve_still(size_t decks, const es_observation *o, size_t count)
{
    static const es_epoch still[32];
    return solve_with(still, decks, o, count, ES_ROBUST_NONE);
}

/* Six decks, two anchors, ten plays; the errors are made up. */
static inline const es_observation *levelling(size_t *count)
{
    static es_observation o[12];
    o[0] = anchor(0, 0.12, 0.04);
    o[1] = anchor(3, -0.35, 0.10);
    o[2] = play(0, 1, 0.231, 0.010);
    o[3] = play(1, 2, -0.512, 0.012);
    o[4] = play(2, 3, -0.190, 0.010);
    o[5] = play(3, 0, 0.452, 0.020);
    o[6] = play(1, 4, 0.333, 0.015);
    o[7] = play(4, 2, -0.871, 0.011);
    o[8] = play(4, 5, 1.204, 0.030);
    o[9] = play(5, 0, -1.771, 0.025);
    o[10] = play(0, 2, -0.262, 0.009);
    o[11] = play(2, 5, 2.079, 0.018);
    *count = 12;
    return o;
}

#endif
