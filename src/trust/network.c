#include "trust/network_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* --- what is accepted ----------------------------------------------------------------------- */

static int within(double value, double low, double high)
{
    return value >= low && value <= high; /* false for NaN */
}

static es_status refuse_epoch(const es_epoch *e, size_t i, es_error *error)
{
    if (!(e->walk == 0.0 || within(e->walk, 1e-6, 1.0)))
        return es_fail(error, ES_ERR_ARG, "bad-walk",
                       "The drift of deck %zu must be 0 or between 0.0001 and 100 %% per square "
                       "root of a year.",
                       i + 1);
    if (!within(e->asked_day, -1e7, 1e7))
        return es_fail(error, ES_ERR_ARG, "bad-day", "The day asked for deck %zu is not a day.",
                       i + 1);
    return ES_OK;
}

static es_status refuse_observation(const es_observation *o, size_t i, size_t epochs,
                                    es_error *error)
{
    int play = o->kind == ES_PLAY;
    const char *name = play ? "Play" : "Anchor";
    if (!play && o->kind != ES_ANCHOR)
        return es_fail(error, ES_ERR_ARG, "bad-kind", "Observation %zu is neither play nor anchor.",
                       i + 1);
    if (o->deck >= epochs || (play && o->recorded_on >= epochs))
        return es_fail(error, ES_ERR_ARG, "unknown-deck",
                       "%s (observation %zu) names a deck that isn't there; add the deck first.",
                       name, i + 1);
    if (!within(o->value, -0.9, 9.0))
        return es_fail(
            error, ES_ERR_ARG, "bad-value",
            "%s (observation %zu) gives a speed error that no deck can have; enter it in "
            "percent of nominal speed.",
            name, i + 1);
    if (!within(o->u, 1e-8, 1.0))
        return es_fail(error, ES_ERR_ARG, "bad-uncertainty",
                       "%s (observation %zu) needs an uncertainty above zero (0.000001 to 100 %%): "
                       "no measurement is without doubt.",
                       name, i + 1);
    if (!(o->dof >= 1.0))
        return es_fail(error, ES_ERR_ARG, "bad-dof",
                       "%s (observation %zu) needs at least one degree of freedom: two readings "
                       "make one.",
                       name, i + 1);
    if (!within(o->day, -1e7, 1e7) || (play && !within(o->recorded_day, -1e7, 1e7)))
        return es_fail(error, ES_ERR_ARG, "bad-day", "%s (observation %zu) has no day.", name,
                       i + 1);
    return ES_OK;
}

static es_status refuse(const es_epoch *epochs, size_t epoch_count, const es_observation *o,
                        size_t count, es_error *error)
{
    if (epoch_count == 0)
        return es_fail(error, ES_ERR_ARG, "no-decks",
                       "There is no deck yet; add a deck and a comparison or an anchor.");
    if (epoch_count > 1000000 || count > 10000000)
        return es_fail(error, ES_ERR_ARG, "too-many",
                       "A million decks and ten million observations are the most.");
    es_status status = ES_OK;
    for (size_t i = 0; i < epoch_count && status == ES_OK; i++)
        status = refuse_epoch(&epochs[i], i, error);
    for (size_t i = 0; i < count && status == ES_OK; i++)
        status = refuse_observation(&o[i], i, epoch_count, error);
    return status;
}

/* --- nodes ---------------------------------------------------------------------------------- */

int es_network_is_drift_check(const es_network *n, const es_observation *o)
{
    return o->kind == ES_PLAY && o->deck == o->recorded_on &&
           (n->epochs[o->deck].walk == 0.0 || floor(o->day) == floor(o->recorded_day));
}

uint32_t es_network_node(const es_network *n, size_t epoch, double day)
{
    size_t low = n->first[epoch], high = n->first[epoch + 1] - 1;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (n->node_day[middle] < floor(day))
            low = middle + 1;
        else
            high = middle;
    }
    return (uint32_t)low;
}

typedef struct moment {
    size_t epoch;
    double day;
} moment;

static int by_epoch_and_day(const void *a, const void *b)
{
    const moment *x = a, *y = b;
    if (x->epoch != y->epoch)
        return x->epoch < y->epoch ? -1 : 1;
    return (x->day > y->day) - (x->day < y->day);
}

/* A still epoch has but one moment. */
static moment moment_of(const es_network *n, size_t epoch, double day)
{
    return (moment){epoch, n->epochs[epoch].walk > 0.0 ? floor(day) : 0.0};
}

static size_t list_moments(const es_network *n, moment *list)
{
    size_t count = 0;
    for (size_t i = 0; i < n->epoch_count; i++)
        list[count++] = moment_of(n, i, n->epochs[i].asked_day);
    for (size_t i = 0; i < n->observation_count; i++) {
        const es_observation *o = &n->observations[i];
        if (es_network_is_drift_check(n, o))
            continue;
        list[count++] = moment_of(n, o->deck, o->day);
        if (o->kind == ES_PLAY)
            list[count++] = moment_of(n, o->recorded_on, o->recorded_day);
    }
    qsort(list, count, sizeof *list, by_epoch_and_day);
    return count;
}

static es_status make_nodes(es_network *n)
{
    moment *list = malloc((n->epoch_count + 2 * n->observation_count) * sizeof *list);
    n->first = calloc(n->epoch_count + 1, sizeof *n->first);
    n->asked = calloc(n->epoch_count, sizeof *n->asked);
    size_t count = list && n->first && n->asked ? list_moments(n, list) : 0;
    n->node_day = count > 0 ? calloc(count, sizeof *n->node_day) : NULL;
    if (n->node_day) {
        for (size_t i = 0; i < count; i++)
            if (i == 0 || by_epoch_and_day(&list[i - 1], &list[i]) != 0) {
                n->node_day[n->node_count++] = list[i].day;
                n->first[list[i].epoch + 1] = n->node_count;
            }
        for (size_t i = 0; i < n->epoch_count; i++)
            n->asked[i] = es_network_node(n, i, n->epochs[i].asked_day);
        n->walk_count = n->node_count - n->epoch_count;
    }
    free(list);
    return n->node_day ? ES_OK : ES_ERR_NOMEM;
}

/* --- groups --------------------------------------------------------------------------------- */

static uint32_t root(uint32_t *parent, uint32_t i)
{
    while (parent[i] != i)
        i = parent[i] = parent[parent[i]];
    return i;
}

/* Numbers the groups in the order of their first epochs; `parent` is scratch. */
static void find_groups(es_network *n, uint32_t *parent)
{
    for (size_t i = 0; i < n->epoch_count; i++)
        parent[i] = (uint32_t)i;
    for (size_t i = 0; i < n->observation_count; i++) {
        const es_observation *o = &n->observations[i];
        if (o->kind == ES_PLAY) {
            uint32_t a = root(parent, (uint32_t)o->deck);
            uint32_t b = root(parent, (uint32_t)o->recorded_on);
            parent[a > b ? a : b] = a > b ? b : a; /* the first epoch is the root */
        }
    }
    for (size_t i = 0; i < n->epoch_count; i++) {
        uint32_t r = root(parent, (uint32_t)i);
        n->group[i] = r == i ? (uint32_t)n->group_count++ : n->group[r];
    }
    for (size_t i = 0; i < n->observation_count; i++)
        if (n->observations[i].kind == ES_ANCHOR)
            n->group_tied[n->group[n->observations[i].deck]] = 1;
    for (size_t g = 0; g < n->group_count; g++)
        n->pin_count += !n->group_tied[g];
}

static es_status make_groups(es_network *n)
{
    n->group = calloc(n->epoch_count, sizeof *n->group);
    n->group_tied = calloc(n->epoch_count, 1);
    uint32_t *parent = calloc(n->epoch_count, sizeof *parent);
    int ok = n->group && n->group_tied && parent;
    if (ok)
        find_groups(n, parent);
    free(parent);
    return ok ? ES_OK : ES_ERR_NOMEM;
}

/* --- rows ----------------------------------------------------------------------------------- */

static void fill_observation_row(es_network *n, size_t row)
{
    const es_observation *o = &n->observations[row];
    double u = o->u / (1.0 + o->value); /* of ln(1 + value) */
    n->y[row] = log1p(o->value);
    n->stated[row] = 1.0 / (u * u);
    n->minus[row] = n->plus[row] = ES_NO_NODE;
    if (es_network_is_drift_check(n, o))
        return;
    n->plus[row] = es_network_node(n, o->deck, o->day);
    if (o->kind == ES_PLAY)
        n->minus[row] = es_network_node(n, o->recorded_on, o->recorded_day);
}

static void fill_walk_rows(es_network *n, size_t row)
{
    for (size_t e = 0; e < n->epoch_count; e++)
        for (size_t i = n->first[e] + 1; i < n->first[e + 1]; i++, row++) {
            double years = (n->node_day[i] - n->node_day[i - 1]) / ES_DAYS_PER_YEAR;
            n->minus[row] = (uint32_t)(i - 1);
            n->plus[row] = (uint32_t)i;
            n->stated[row] = 1.0 / (n->epochs[e].walk * n->epochs[e].walk * years);
        }
}

/*
 * A floating group is pinned at one node: an arbitrary zero that no difference feels. Its weight
 * is that of all else at the node, so that it neither drowns the rest nor drowns in it.
 */
static void fill_pin_rows(es_network *n, size_t row)
{
    double *total = n->one; /* weight of all else at a node */
    for (size_t r = 0; r < row; r++) {
        if (n->minus[r] != ES_NO_NODE)
            total[n->minus[r]] += n->stated[r];
        if (n->plus[r] != ES_NO_NODE)
            total[n->plus[r]] += n->stated[r];
    }
    for (size_t e = 0, g = 0; e < n->epoch_count; e++) {
        if (n->group[e] != g)
            continue; /* not the first of the next group */
        if (!n->group_tied[g]) {
            n->minus[row] = ES_NO_NODE;
            n->plus[row] = n->asked[e];
            n->stated[row++] = total[n->asked[e]] > 0.0 ? total[n->asked[e]] : 1.0;
        }
        g++;
    }
}

static es_status make_rows(es_network *n)
{
    n->row_count = n->observation_count + n->walk_count + n->pin_count;
    n->minus = calloc(n->row_count + 1, sizeof *n->minus);
    n->plus = calloc(n->row_count + 1, sizeof *n->plus);
    n->y = calloc(n->row_count + 1, sizeof *n->y);
    n->stated = calloc(n->row_count + 1, sizeof *n->stated);
    n->weight = calloc(n->row_count + 1, sizeof *n->weight);
    if (!n->minus || !n->plus || !n->y || !n->stated || !n->weight)
        return ES_ERR_NOMEM;
    for (size_t i = 0; i < n->observation_count; i++)
        fill_observation_row(n, i);
    fill_walk_rows(n, n->observation_count);
    fill_pin_rows(n, n->observation_count + n->walk_count);
    return ES_OK;
}

static void list_entries(const es_network *n, size_t *start, uint32_t *unknown, double *factor)
{
    size_t at = 0;
    for (size_t r = 0; r < n->row_count; r++) {
        if (n->minus[r] != ES_NO_NODE) {
            unknown[at] = n->minus[r];
            factor[at++] = -1.0;
        }
        if (n->plus[r] != ES_NO_NODE) {
            unknown[at] = n->plus[r];
            factor[at++] = 1.0;
        }
        start[r + 1] = at;
    }
}

static es_status make_least_squares(es_network *n)
{
    size_t *start = calloc(n->row_count + 1, sizeof *start);
    uint32_t *unknown = malloc((2 * n->row_count + 1) * sizeof *unknown);
    double *factor = malloc((2 * n->row_count + 1) * sizeof *factor);
    es_status status = ES_ERR_NOMEM;
    if (start && unknown && factor) {
        list_entries(n, start, unknown, factor);
        es_rows rows = {.rows = n->row_count,
                        .unknowns = n->node_count,
                        .start = start,
                        .unknown = unknown,
                        .factor = factor};
        status = es_least_squares_create(&rows, &n->ls);
    }
    free(start);
    free(unknown);
    free(factor);
    return status;
}

/* --- life ----------------------------------------------------------------------------------- */

static es_status take_over(es_network *n, const es_epoch *epochs, const es_observation *o)
{
    n->epochs = malloc(n->epoch_count * sizeof *n->epochs);
    n->observations = malloc((n->observation_count + 1) * sizeof *n->observations);
    n->epoch_results = calloc(n->epoch_count, sizeof *n->epoch_results);
    n->observation_results = calloc(n->observation_count + 1, sizeof *n->observation_results);
    if (!n->epochs || !n->observations || !n->epoch_results || !n->observation_results)
        return ES_ERR_NOMEM;
    memcpy(n->epochs, epochs, n->epoch_count * sizeof *epochs);
    if (n->observation_count > 0)
        memcpy(n->observations, o, n->observation_count * sizeof *o);
    return ES_OK;
}

static es_status make_vectors(es_network *n)
{
    n->x = calloc(n->node_count, sizeof *n->x);
    n->one = calloc(n->node_count, sizeof *n->one);
    n->two = calloc(n->node_count, sizeof *n->two);
    n->lanes = calloc(n->node_count * ES_FACTOR_LANES, sizeof *n->lanes);
    return n->x && n->one && n->two && n->lanes ? ES_OK : ES_ERR_NOMEM;
}

es_status es_network_create(const es_epoch *epochs, size_t epoch_count,
                            const es_observation *observations, size_t observation_count,
                            es_network **out, es_error *error)
{
    *out = NULL;
    es_status status = refuse(epochs, epoch_count, observations, observation_count, error);
    if (status != ES_OK)
        return status;
    es_network *n = calloc(1, sizeof *n);
    status = n ? ES_OK : ES_ERR_NOMEM;
    if (n) {
        n->epoch_count = epoch_count;
        n->observation_count = observation_count;
        for (size_t i = 0; i < observation_count; i++)
            n->finite_dof = n->finite_dof || !isinf(observations[i].dof);
        status = take_over(n, epochs, observations);
    }
    es_status (*const steps[])(es_network *) = {make_nodes, make_groups, make_vectors, make_rows,
                                                make_least_squares};
    for (size_t i = 0; i < sizeof steps / sizeof *steps && status == ES_OK; i++)
        status = steps[i](n);
    if (status != ES_OK) {
        es_network_destroy(n);
        return es_fail(error, status, "no-memory", "There is not enough memory for this network.");
    }
    *out = n;
    return ES_OK;
}

void es_network_destroy(es_network *n)
{
    if (!n)
        return;
    es_least_squares_destroy(n->ls);
    void *all[] = {n->epochs,   n->observations,  n->first,
                   n->node_day, n->asked,         n->minus,
                   n->plus,     n->group,         n->group_tied,
                   n->y,        n->stated,        n->weight,
                   n->x,        n->lanes,         n->one,
                   n->two,      n->epoch_results, n->observation_results};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++)
        free(all[i]);
    free(n);
}
