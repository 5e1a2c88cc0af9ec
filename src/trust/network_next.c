#include "trust/network_inside.h"

#include <math.h>

/*
 * A measurement more changes the covariance by a product of two vectors, so what it would bring
 * can be told exactly beforehand: with a its row, g = Q a, s2 = u2 + a g,
 *   Q_after = Q - g g' / s2.
 */

static int sound(const es_network *n, const es_candidate *c)
{
    return (c->kind == ES_PLAY || c->kind == ES_ANCHOR) && c->deck < n->epoch_count &&
           (c->kind == ES_ANCHOR || c->recorded_on < n->epoch_count) && c->u >= 1e-8 &&
           c->u <= 1.0 && c->dof >= 1.0;
}

static int tied(const es_network *n, size_t epoch)
{
    return n->group_tied[n->group[epoch]];
}

/* Log speed to expect: as solved, or nominal speed where nothing is known. */
static double expected(const es_network *n, size_t epoch)
{
    return tied(n, epoch) ? n->x[n->asked[epoch]] : 0.0;
}

/* Variance of ln(1 + value) of the candidate, for the value that is expected of it. */
static double log_variance(const es_network *n, const es_candidate *c)
{
    double x = expected(n, c->deck);
    if (c->kind == ES_PLAY && n->group[c->deck] == n->group[c->recorded_on])
        x = n->x[n->asked[c->deck]] - n->x[n->asked[c->recorded_on]];
    else if (c->kind == ES_PLAY)
        x -= expected(n, c->recorded_on);
    double u = c->u * exp(-x);
    return u * u;
}

/* x: log speed that the epoch is expected to have. */
static es_estimate outcome(const es_network *n, size_t epoch, double x, double variance,
                           double spread)
{
    es_estimate e = es_network_estimate(n, x, variance, spread);
    if (!tied(n, epoch))
        e.value = (double)NAN;
    return e;
}

/* The epoch is tied already. n->one holds its row of Q; n->two is scratch. */
static es_estimate sharpened(es_network *n, size_t epoch, const es_candidate *c)
{
    size_t count = c->kind == ES_PLAY ? 2 : 1;
    uint32_t own = n->asked[epoch];
    uint32_t ends[] = {n->asked[c->deck], n->asked[count == 2 ? c->recorded_on : c->deck]};
    if (!tied(n, c->deck) || (count == 2 && (!tied(n, c->recorded_on) || ends[0] == ends[1])))
        return n->epoch_results[epoch].estimate; /* it says nothing about this epoch */
    es_network_combine(n, ends, (const double[]){1.0, -1.0}, count, n->two);
    double variance = log_variance(n, c);
    double sum = variance + n->two[ends[0]] - (count == 2 ? n->two[ends[1]] : 0.0);
    double gain = n->two[own] / sum;
    double after = n->one[own] - gain * n->two[own];
    for (size_t i = 0; i < n->node_count; i++)
        n->two[i] = n->one[i] - gain * n->two[i];
    double part = gain * gain * variance;
    return outcome(n, epoch, n->x[own], after, es_network_spread(n, n->two) + part * part / c->dof);
}

/* The epoch floats: an anchor within its group, or a play between its group and a tied one. */
static es_estimate newly_tied(es_network *n, size_t epoch, const es_candidate *c)
{
    size_t group = n->group[epoch], near = c->deck, far = ES_NONE;
    if (c->kind == ES_PLAY) {
        near = n->group[c->deck] == group ? c->deck : c->recorded_on;
        far = near == c->deck ? c->recorded_on : c->deck;
    }
    if (n->group[near] != group || (far != ES_NONE && !tied(n, far)))
        return es_estimate_unknown();
    uint32_t nodes[] = {n->asked[epoch], n->asked[near], far == ES_NONE ? 0 : n->asked[far]};
    double part = log_variance(n, c), variance = part;
    es_network_combine(n, nodes, (const double[]){1.0, -1.0, 1.0}, far == ES_NONE ? 2 : 3, n->two);
    variance += n->two[nodes[0]] - n->two[nodes[1]];
    if (far != ES_NONE)
        variance += n->two[nodes[2]];
    double x = n->x[nodes[0]] - n->x[nodes[1]]; /* as if `near` ran at nominal speed */
    return outcome(n, epoch, x, variance, es_network_spread(n, n->two) + part * part / c->dof);
}

es_status es_network_next(es_network *n, size_t epoch, const es_candidate *candidates, size_t count,
                          es_estimate *predicted, size_t *best)
{
    if (best)
        *best = ES_NONE;
    for (size_t i = 0; i < count; i++)
        predicted[i] = es_estimate_unknown();
    if (!n->solved || epoch >= n->epoch_count)
        return ES_ERR_ARG;
    for (size_t i = 0; i < count; i++)
        if (!sound(n, &candidates[i]))
            return ES_ERR_ARG;
    if (tied(n, epoch))
        es_network_combine(n, &n->asked[epoch], (const double[]){1.0}, 1, n->one);
    double now = n->epoch_results[epoch].estimate.u95;
    double least = isnan(now) ? (double)INFINITY : now * (1.0 - 1e-9);
    for (size_t i = 0; i < count; i++) {
        predicted[i] = tied(n, epoch) ? sharpened(n, epoch, &candidates[i])
                                      : newly_tied(n, epoch, &candidates[i]);
        if (predicted[i].u95 < least) {
            least = predicted[i].u95;
            if (best)
                *best = i;
        }
    }
    return ES_OK;
}
