#include "trust/network_inside.h"

#include <math.h>

#define LANES ES_FACTOR_LANES

void es_network_combine(es_network *n, const uint32_t *nodes, const double *coefficient,
                        size_t count, double *out)
{
    es_least_squares_covariances(n->ls, nodes, count, n->lanes);
    for (size_t i = 0; i < n->node_count; i++) {
        out[i] = 0.0;
        for (size_t k = 0; k < count; k++)
            out[i] += coefficient[k] * n->lanes[i * LANES + k];
    }
}

/* Variance that a row brings into the combination whose row of Q is q. */
static double part_of_row(const es_network *n, size_t row, const double *q)
{
    if (n->plus[row] == ES_NO_NODE)
        return 0.0;
    double d = q[n->plus[row]] - (n->minus[row] == ES_NO_NODE ? 0.0 : q[n->minus[row]]);
    return n->weight[row] * d * d;
}

double es_network_spread(const es_network *n, const double *q)
{
    double sum = 0.0;
    for (size_t i = 0; i < n->observation_count && n->finite_dof; i++) {
        double part = part_of_row(n, i, q);
        sum += part * part / n->observations[i].dof;
    }
    return sum;
}

es_estimate es_network_estimate(const es_network *n, double x, double variance, double spread)
{
    double dof = spread > 0.0 ? variance * variance / spread : (double)INFINITY;
    return es_estimate_of(expm1(x), exp(x) * sqrt(fmax(0.0, variance)), dof, n->options.level);
}

es_status es_network_difference(es_network *n, size_t a, size_t b, es_estimate *out)
{
    *out = es_estimate_unknown();
    if (!n->solved || a >= n->epoch_count || b >= n->epoch_count)
        return ES_ERR_ARG;
    int known =
        n->group[a] == n->group[b] || (n->group_tied[n->group[a]] && n->group_tied[n->group[b]]);
    if (a == b)
        *out = (es_estimate){.value = 0.0,
                             .u = 0.0,
                             .dof = (double)INFINITY,
                             .u95 = 0.0,
                             .k = es_coverage_factor(n->options.level, (double)INFINITY)};
    else if (known) {
        uint32_t nodes[] = {n->asked[b], n->asked[a]};
        es_network_combine(n, nodes, (const double[]){1.0, -1.0}, 2, n->one);
        *out =
            es_network_estimate(n, n->x[nodes[0]] - n->x[nodes[1]],
                                n->one[nodes[0]] - n->one[nodes[1]], es_network_spread(n, n->one));
    }
    return ES_OK;
}

/*
 * x on a day is a mixture of the nodes before and after plus what a random walk tied at both
 * may do in between (a Brownian bridge); beyond the last node it walks freely.
 */
typedef struct spot {
    uint32_t node[2];
    double share[2];
    double variance; /* of the walk */
} spot;

static spot find_spot(const es_network *n, size_t epoch, double day)
{
    size_t first = n->first[epoch], last = n->first[epoch + 1] - 1;
    double walk = n->epochs[epoch].walk * n->epochs[epoch].walk / ES_DAYS_PER_YEAR;
    uint32_t after = es_network_node(n, epoch, day);
    spot s = {{after, after}, {1.0, 0.0}, 0.0};
    if (walk == 0.0)
        return s;
    day = floor(day);
    if (day <= n->node_day[first] || day >= n->node_day[last]) {
        s.variance = walk * fabs(day - n->node_day[after]);
    } else {
        double before = day - n->node_day[after - 1], left = n->node_day[after] - day;
        s.node[1] = after - 1;
        s.share[0] = before / (before + left);
        s.share[1] = left / (before + left);
        s.variance = walk * before * left / (before + left);
    }
    return s;
}

static void combine_spot(es_network *n, const spot *s, double *out)
{
    es_network_combine(n, s->node, s->share, s->share[1] > 0.0 ? 2 : 1, out);
}

void es_network_row_on(es_network *n, size_t epoch, double day, double *out)
{
    spot s = find_spot(n, epoch, day);
    combine_spot(n, &s, out);
}

es_status es_network_at(es_network *n, size_t epoch, double day, es_estimate *out)
{
    *out = es_estimate_unknown();
    if (!n->solved || epoch >= n->epoch_count || !(fabs(day) <= 1e7))
        return ES_ERR_ARG;
    if (!n->group_tied[n->group[epoch]])
        return ES_OK;
    spot s = find_spot(n, epoch, day);
    combine_spot(n, &s, n->one);
    double x = 0.0, variance = s.variance;
    for (size_t i = 0; i < 2; i++) {
        x += s.share[i] * n->x[s.node[i]];
        variance += s.share[i] * n->one[s.node[i]];
    }
    *out = es_network_estimate(n, x, variance, es_network_spread(n, n->one));
    return ES_OK;
}

es_status es_network_correlation(es_network *n, size_t a, size_t b, double *out)
{
    *out = (double)NAN;
    if (!n->solved || a >= n->epoch_count || b >= n->epoch_count)
        return ES_ERR_ARG;
    if (!n->group_tied[n->group[a]] || !n->group_tied[n->group[b]])
        return ES_OK;
    uint32_t from = n->asked[a], to = n->asked[b];
    es_network_combine(n, &from, (const double[]){1.0}, 1, n->one);
    *out = n->one[to] / sqrt(n->one[from] * es_least_squares_variance(n->ls, to));
    return ES_OK;
}

es_status es_network_shares(es_network *n, size_t epoch, double *share, double *walk_share)
{
    *walk_share = (double)NAN;
    for (size_t i = 0; i < n->observation_count; i++)
        share[i] = (double)NAN;
    if (!n->solved || epoch >= n->epoch_count)
        return ES_ERR_ARG;
    if (!n->group_tied[n->group[epoch]])
        return ES_OK;
    uint32_t node = n->asked[epoch];
    es_network_combine(n, &node, (const double[]){1.0}, 1, n->one);
    *walk_share = 0.0;
    for (size_t r = 0; r < n->observation_count; r++)
        share[r] = part_of_row(n, r, n->one) / n->one[node];
    for (size_t r = 0; r < n->walk_count; r++)
        *walk_share += part_of_row(n, n->observation_count + r, n->one) / n->one[node];
    return ES_OK;
}
