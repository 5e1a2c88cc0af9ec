/* What the files network*.c share. Private to them. */
#ifndef ES_TRUST_NETWORK_INSIDE_H
#define ES_TRUST_NETWORK_INSIDE_H

#include "evenspool/trust/network.h"
#include "trust/least_squares.h"

#define ES_DAYS_PER_YEAR 365.25

/*
 * A node is an epoch on one day: the unknown of the least squares. An epoch that stands still
 * has one node. Rows of the least squares: first all observations in their order (a drift check
 * has an empty row), then the steps of the random walks, then one pin for each floating group.
 */
struct es_network {
    size_t epoch_count, observation_count, node_count, walk_count, pin_count, row_count;
    es_epoch *epochs;
    es_observation *observations;

    size_t *first;    /* epoch_count + 1: nodes of an epoch, by day                          */
    double *node_day; /* whole days                                                          */
    uint32_t *asked;  /* epoch -> node of its asked day                                      */
    uint32_t *minus;  /* row -> node that counts -1, ES_NO_NODE: none                        */
    uint32_t *plus;   /* row -> node that counts +1, ES_NO_NODE: empty row                   */
    uint32_t *group;  /* epoch -> group                                                      */
    char *group_tied; /* of group_count                                                      */
    size_t group_count;

    es_least_squares *ls;
    double *y, *stated; /* row: log value; stated weight 1 / u^2                             */
    double *weight;     /* row: weight in use                                                */
    double *x;          /* node                                                              */
    double *lanes;      /* node_count * ES_FACTOR_LANES                                      */
    double *one, *two;  /* node_count each: combined rows of Q                               */

    int finite_dof; /* 1: some observation has finite degrees of freedom */
    int solved;
    es_solve_options options;
    es_epoch_result *epoch_results;
    es_observation_result *observation_results;
    es_network_summary summary;
};

#define ES_NO_NODE UINT32_MAX

/* Node of an epoch on a day that is known to have one. */
uint32_t es_network_node(const es_network *n, size_t epoch, double day);

/* 1: a play on the epoch that recorded it, and no walk between the two days. */
int es_network_is_drift_check(const es_network *n, const es_observation *o);

/* Gives out[node] = sum over i of coefficient[i] Q(nodes[i], node); count <= ES_FACTOR_LANES. */
void es_network_combine(es_network *n, const uint32_t *nodes, const double *coefficient,
                        size_t count, double *out);

/* Row of Q of the epoch's log speed on a day: its covariance with every node. */
void es_network_row_on(es_network *n, size_t epoch, double day, double *out);

/* Sum over observations of contribution^4 / dof, for q as _combine gives it (or a lane of it). */
double es_network_spread(const es_network *n, const double *q);

/* The error that belongs to log speed x, its variance and the spread of its parts. */
es_estimate es_network_estimate(const es_network *n, double x, double variance, double spread);

#endif
