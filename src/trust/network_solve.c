#include "trust/network_inside.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

#define LANES ES_FACTOR_LANES

/* A redundancy below this is rounding: nothing checks the observation. */
#define LEAST_REDUNDANCY 1e-6

/* Huber's limit for 95 % efficiency under normal errors (Huber 1981, from memory). */
#define SOFTEN_LIMIT 1.345
#define SOFTEN_ROUNDS 50

es_solve_options es_solve_defaults(void)
{
    return (es_solve_options){
        .level = ES_LEVEL_95, .chance = 0.05, .robust = ES_ROBUST_NONE, .removals_most = 10};
}

/* --- one solution ---------------------------------------------------------------------------- */

static es_status solve_once(es_network *n)
{
    es_status status = es_least_squares_weigh(n->ls, n->weight);
    if (status == ES_OK)
        es_least_squares_solve(n->ls, n->y, n->x);
    return status;
}

static double residual(const es_network *n, size_t row)
{
    double value = n->y[row];
    if (n->plus[row] != ES_NO_NODE)
        value -= n->x[n->plus[row]];
    if (n->minus[row] != ES_NO_NODE)
        value += n->x[n->minus[row]];
    return value;
}

/* --- observations ---------------------------------------------------------------------------- */

/* A drift check should read zero; a walk within its day is not counted. */
static void judge_drift_check(const es_network *n, size_t i, es_observation_result *r)
{
    r->role = ES_ROLE_DRIFT_CHECK;
    r->residual = n->y[i];
    r->normalised = n->y[i] * sqrt(n->stated[i]);
    r->redundancy = 1.0;
    r->gross_error = n->y[i];
}

static void judge_used(const es_network *n, size_t i, es_observation_result *r)
{
    double fitted = es_least_squares_row_variance(n->ls, i);
    r->role = ES_ROLE_USED;
    r->weight = n->weight[i] / n->stated[i];
    r->residual = residual(n, i);
    r->redundancy = fmax(0.0, 1.0 - n->weight[i] * fitted);
    r->normalised = r->gross_error = (double)NAN;
    if (r->redundancy > LEAST_REDUNDANCY) {
        r->normalised = r->residual * sqrt(n->weight[i] / r->redundancy);
        r->gross_error = r->residual / r->redundancy;
    }
}

/* All the others say what a removed observation should have read. */
static void judge_removed(const es_network *n, size_t i, es_observation_result *r)
{
    double variance = 1.0 / n->stated[i] + es_least_squares_row_variance(n->ls, i);
    r->weight = 0.0;
    r->residual = r->gross_error = residual(n, i);
    r->normalised = r->residual / sqrt(variance);
    r->redundancy = 1.0;
}

static void judge_observations(es_network *n)
{
    for (size_t i = 0; i < n->observation_count; i++) {
        es_observation_result *r = &n->observation_results[i];
        if (r->role == ES_ROLE_REMOVED)
            judge_removed(n, i, r);
        else if (n->plus[i] == ES_NO_NODE)
            judge_drift_check(n, i, r);
        else
            judge_used(n, i, r);
        r->suspect = 0;
    }
}

/* --- the whole ------------------------------------------------------------------------------- */

static void judge_consistency(es_network *n)
{
    es_network_summary *s = &n->summary;
    size_t used = n->walk_count, unknowns = n->node_count - n->pin_count;
    s->chi_square = 0.0;
    for (size_t r = 0; r < n->observation_count + n->walk_count; r++) {
        if (n->weight[r] > 0.0) {
            double v = residual(n, r);
            s->chi_square += v * v * n->weight[r];
            used += r < n->observation_count;
        }
    }
    s->degrees_of_freedom = used > unknowns ? used - unknowns : 0;
    s->p = (double)NAN;
    s->consistency = ES_UNTESTED;
    if (s->degrees_of_freedom > 0) {
        s->p = gsl_cdf_chisq_Q(s->chi_square, (double)s->degrees_of_freedom);
        s->consistency = s->p >= n->options.chance ? ES_CONSISTENT : ES_CONTRADICTORY;
    }
}

/* |normalised| that the largest of `count` exceeds with the probability `chance` (Sidak). */
static double critical_value(double chance, size_t count)
{
    if (count == 0)
        return (double)NAN;
    double each = -expm1(log1p(-chance) / (double)count);
    return gsl_cdf_ugaussian_Qinv(each / 2.0);
}

static void find_suspects(es_network *n)
{
    es_network_summary *s = &n->summary;
    size_t checked = 0;
    double largest = 0.0;
    s->worst = ES_NONE;
    s->suspects = 0;
    for (size_t i = 0; i < n->observation_count; i++) {
        const es_observation_result *r = &n->observation_results[i];
        if (r->role != ES_ROLE_USED || isnan(r->normalised))
            continue;
        checked++;
        if (fabs(r->normalised) > largest) {
            largest = fabs(r->normalised);
            s->worst = i;
        }
    }
    s->critical = critical_value(n->options.chance, checked);
    for (size_t i = 0; i < n->observation_count && largest > s->critical; i++) {
        es_observation_result *r = &n->observation_results[i];
        /* observations that only check each other share one figure: none can be singled out */
        r->suspect = r->role == ES_ROLE_USED && fabs(r->normalised) > largest * (1.0 - 1e-6);
        s->suspects += (size_t)r->suspect;
    }
}

static es_status judge(es_network *n)
{
    es_status status = solve_once(n);
    if (status != ES_OK)
        return status;
    es_least_squares_invert(n->ls);
    judge_observations(n);
    judge_consistency(n);
    find_suspects(n);
    return ES_OK;
}

/* --- robust ---------------------------------------------------------------------------------- */

/* Takes out one suspect after the other; stops where one can't be told from another. */
static es_status remove_blunders(es_network *n)
{
    es_status status = judge(n);
    while (status == ES_OK && n->summary.suspects == 1 &&
           n->summary.removed < n->options.removals_most) {
        n->observation_results[n->summary.worst].role = ES_ROLE_REMOVED;
        n->weight[n->summary.worst] = 0.0;
        n->summary.removed++;
        status = judge(n);
    }
    return status;
}

/* New weights from the residuals; returns the largest change of a weight's share. */
static double soften(es_network *n, const es_observation_result *plain)
{
    double change = 0.0;
    for (size_t i = 0; i < n->observation_count; i++) {
        if (!(plain[i].redundancy > LEAST_REDUNDANCY) || plain[i].role != ES_ROLE_USED)
            continue;
        double off = fabs(residual(n, i)) * sqrt(n->stated[i] / plain[i].redundancy);
        double share = off > SOFTEN_LIMIT ? SOFTEN_LIMIT / off : 1.0;
        change = fmax(change, fabs(share - n->weight[i] / n->stated[i]));
        n->weight[i] = share * n->stated[i];
    }
    return change;
}

/* The tests speak of the plain solution: after softening they would find everything in order. */
static es_status soften_disagreement(es_network *n)
{
    es_status status = judge(n);
    for (int round = 0; round < SOFTEN_ROUNDS && status == ES_OK; round++) {
        double change = soften(n, n->observation_results);
        status = solve_once(n);
        if (change < 1e-6)
            break;
    }
    if (status != ES_OK)
        return status;
    es_least_squares_invert(n->ls);
    for (size_t i = 0; i < n->observation_count; i++)
        if (n->observation_results[i].role == ES_ROLE_USED)
            n->observation_results[i].weight = n->weight[i] / n->stated[i];
    return ES_OK;
}

/* --- epochs ---------------------------------------------------------------------------------- */

/* Contributions to the fourth power over their degrees of freedom, for all lanes at once. */
static void spread_lanes(const es_network *n, const double *q, double *spread)
{
    for (size_t r = 0; r < n->observation_count; r++) {
        if (isinf(n->observations[r].dof) || !(n->weight[r] > 0.0) || n->plus[r] == ES_NO_NODE)
            continue;
        const double *plus = q + n->plus[r] * LANES;
        const double *minus = n->minus[r] == ES_NO_NODE ? NULL : q + n->minus[r] * LANES;
        double over_dof = 1.0 / n->observations[r].dof;
        for (size_t i = 0; i < LANES; i++) {
            double d = plus[i] - (minus ? minus[i] : 0.0);
            double part = n->weight[r] * d * d;
            spread[i] += part * part * over_dof;
        }
    }
}

static void estimate_epochs(es_network *n)
{
    for (size_t first = 0; first < n->epoch_count; first += LANES) {
        size_t count = n->epoch_count - first < LANES ? n->epoch_count - first : LANES;
        double spread[ES_FACTOR_LANES] = {0};
        if (n->finite_dof) {
            es_least_squares_covariances(n->ls, n->asked + first, count, n->lanes);
            spread_lanes(n, n->lanes, spread);
        }
        for (size_t i = 0; i < count; i++) {
            es_epoch_result *r = &n->epoch_results[first + i];
            uint32_t node = n->asked[first + i];
            r->group = n->group[first + i];
            r->tied = n->group_tied[r->group];
            r->estimate = es_estimate_unknown();
            if (r->tied)
                r->estimate = es_network_estimate(
                    n, n->x[node], es_least_squares_variance(n->ls, node), spread[i]);
            n->summary.untied_epochs += !r->tied;
        }
    }
}

/* --- solve ----------------------------------------------------------------------------------- */

static int options_are_sound(const es_solve_options *o)
{
    return o->level >= 0.5 && o->level <= 0.9999 && o->chance >= 1e-6 && o->chance <= 0.5 &&
           o->robust >= ES_ROBUST_NONE && o->robust <= ES_ROBUST_SOFTEN;
}

static void forget(es_network *n)
{
    double nan = (double)NAN;
    n->solved = 0;
    for (size_t i = 0; i < n->epoch_count; i++)
        n->epoch_results[i] = (es_epoch_result){.estimate = es_estimate_unknown()};
    for (size_t i = 0; i < n->observation_count; i++)
        n->observation_results[i] = (es_observation_result){
            .residual = nan, .normalised = nan, .redundancy = nan, .gross_error = nan};
    n->summary = (es_network_summary){
        .chi_square = nan, .p = nan, .critical = nan, .worst = ES_NONE, .groups = n->group_count};
}

es_status es_network_solve(es_network *n, const es_solve_options *options)
{
    forget(n);
    if (!options_are_sound(options))
        return ES_ERR_ARG;
    n->options = *options;
    memcpy(n->weight, n->stated, n->row_count * sizeof *n->weight);
    for (size_t i = 0; i < n->observation_count; i++)
        if (n->plus[i] == ES_NO_NODE)
            n->weight[i] = 0.0; /* a drift check takes no part */
    es_status (*const way[])(es_network *) = {judge, remove_blunders, soften_disagreement};
    es_status status = way[options->robust](n);
    if (status != ES_OK) {
        forget(n);
        return status;
    }
    estimate_epochs(n);
    n->solved = 1;
    return ES_OK;
}

const es_epoch_result *es_network_epochs(const es_network *n)
{
    return n->epoch_results;
}

const es_observation_result *es_network_observations(const es_network *n)
{
    return n->observation_results;
}

const es_network_summary *es_network_summarise(const es_network *n)
{
    return &n->summary;
}

const char *es_same_deck_sentence(void)
{
    return "A tape played on the deck that recorded it can't show that deck's speed error, because "
           "the error cancels; it shows only whether the deck has drifted since.";
}
