#include "trust/least_squares.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LANES ES_FACTOR_LANES
#define ROUNDS_MOST 12

struct es_least_squares {
    size_t rows, unknowns;
    size_t *start;
    uint32_t *unknown;
    double *factor;
    es_ordering ordering;
    es_factor decomposition;
    double **entry; /* where each product of a row's entries is summed, row after row        */
    double *weight;
    double *scale;    /* of an unknown: normal matrix entry times both scales has diagonal 1 */
    double *residual; /* rows     */
    double *step;     /* unknowns, by place */
    double *lanes;    /* unknowns * LANES, by place */
};

/* --- life ---------------------------------------------------------------------------------- */

static size_t products(const es_rows *rows)
{
    size_t total = 0;
    for (size_t r = 0; r < rows->rows; r++) {
        size_t k = rows->start[r + 1] - rows->start[r];
        total += k * (k + 1) / 2;
    }
    return total;
}

static es_status order_unknowns(es_least_squares *ls, const es_rows *rows)
{
    size_t edges = 0;
    es_graph graph = {0};
    uint32_t *ends = malloc((2 * products(rows) + 1) * sizeof *ends);
    es_status status = ends ? ES_OK : ES_ERR_NOMEM;
    if (status == ES_OK) {
        for (size_t r = 0; r < ls->rows; r++)
            for (size_t i = ls->start[r]; i < ls->start[r + 1]; i++)
                for (size_t k = ls->start[r]; k < i; k++, edges++) {
                    ends[2 * edges] = ls->unknown[i];
                    ends[2 * edges + 1] = ls->unknown[k];
                }
        status = es_graph_create(ls->unknowns, ends, edges, &graph);
    }
    if (status == ES_OK)
        status = es_ordering_create(&graph, &ls->ordering);
    es_graph_clear(&graph);
    free(ends);
    return status;
}

static void find_entries(es_least_squares *ls)
{
    const uint32_t *place = ls->ordering.place;
    double **entry = ls->entry;
    for (size_t r = 0; r < ls->rows; r++)
        for (size_t i = ls->start[r]; i < ls->start[r + 1]; i++)
            for (size_t k = ls->start[r]; k <= i; k++)
                *entry++ = es_factor_entry(&ls->decomposition, place[ls->unknown[i]],
                                           place[ls->unknown[k]]);
}

static int take_memory(es_least_squares *ls, const es_rows *rows)
{
    size_t n = rows->unknowns, entries = rows->start[rows->rows];
    ls->start = malloc((rows->rows + 1) * sizeof *ls->start);
    ls->unknown = malloc((entries + 1) * sizeof *ls->unknown);
    ls->factor = malloc((entries + 1) * sizeof *ls->factor);
    ls->entry = malloc((products(rows) + 1) * sizeof *ls->entry);
    ls->weight = calloc(rows->rows + 1, sizeof *ls->weight);
    ls->scale = calloc(n + 1, sizeof *ls->scale);
    ls->residual = calloc(rows->rows + 1, sizeof *ls->residual);
    ls->step = calloc(n + 1, sizeof *ls->step);
    ls->lanes = calloc(n * LANES + 1, sizeof *ls->lanes);
    return ls->start && ls->unknown && ls->factor && ls->entry && ls->weight && ls->scale &&
           ls->residual && ls->step && ls->lanes;
}

es_status es_least_squares_create(const es_rows *rows, es_least_squares **out)
{
    *out = NULL;
    es_least_squares *ls = calloc(1, sizeof *ls);
    if (!ls)
        return ES_ERR_NOMEM;
    ls->rows = rows->rows;
    ls->unknowns = rows->unknowns;
    es_status status = take_memory(ls, rows) ? ES_OK : ES_ERR_NOMEM;
    if (status == ES_OK) {
        size_t entries = rows->start[rows->rows];
        memcpy(ls->start, rows->start, (rows->rows + 1) * sizeof *ls->start);
        memcpy(ls->unknown, rows->unknown, entries * sizeof *ls->unknown);
        memcpy(ls->factor, rows->factor, entries * sizeof *ls->factor);
        status = order_unknowns(ls, rows);
    }
    if (status == ES_OK)
        status = es_factor_create(&ls->ordering, &ls->decomposition);
    if (status != ES_OK) {
        es_least_squares_destroy(ls);
        return status;
    }
    find_entries(ls);
    *out = ls;
    return ES_OK;
}

void es_least_squares_destroy(es_least_squares *ls)
{
    if (!ls)
        return;
    es_factor_clear(&ls->decomposition);
    es_ordering_clear(&ls->ordering);
    free(ls->start);
    free(ls->unknown);
    free(ls->factor);
    free(ls->entry);
    free(ls->weight);
    free(ls->scale);
    free(ls->residual);
    free(ls->step);
    free(ls->lanes);
    free(ls);
}

/* --- normal equations ---------------------------------------------------------------------- */

/* 0: an unknown has no weight at all. */
static int find_scales(es_least_squares *ls)
{
    memset(ls->scale, 0, ls->unknowns * sizeof *ls->scale);
    for (size_t r = 0; r < ls->rows; r++)
        for (size_t i = ls->start[r]; i < ls->start[r + 1]; i++)
            ls->scale[ls->unknown[i]] += ls->weight[r] * ls->factor[i] * ls->factor[i];
    for (size_t u = 0; u < ls->unknowns; u++) {
        if (!(ls->scale[u] > 0.0) || !isfinite(ls->scale[u]))
            return 0;
        ls->scale[u] = 1.0 / sqrt(ls->scale[u]);
    }
    return 1;
}

es_status es_least_squares_weigh(es_least_squares *ls, const double *weight)
{
    memcpy(ls->weight, weight, ls->rows * sizeof *weight);
    if (!find_scales(ls))
        return ES_ERR_INPUT;
    es_factor_reset(&ls->decomposition);
    double **entry = ls->entry;
    for (size_t r = 0; r < ls->rows; r++)
        for (size_t i = ls->start[r]; i < ls->start[r + 1]; i++)
            for (size_t k = ls->start[r]; k <= i; k++)
                **entry++ += weight[r] * (ls->factor[i] * ls->scale[ls->unknown[i]]) *
                             (ls->factor[k] * ls->scale[ls->unknown[k]]);
    return es_factor_decompose(&ls->decomposition);
}

static void find_residuals(es_least_squares *ls, const double *y, const double *x)
{
    for (size_t r = 0; r < ls->rows; r++) {
        long double left = (long double)y[r];
        for (size_t i = ls->start[r]; i < ls->start[r + 1]; i++)
            left -= (long double)ls->factor[i] * (long double)x[ls->unknown[i]];
        ls->residual[r] = (double)left;
    }
}

/* Adds the solution for the residuals to x; returns the largest step relative to x (where x is
 * next to nothing: to a billionth of the unknown's scale). */
static double improve(es_least_squares *ls, double *x)
{
    const uint32_t *place = ls->ordering.place;
    memset(ls->step, 0, ls->unknowns * sizeof *ls->step);
    for (size_t r = 0; r < ls->rows; r++)
        for (size_t i = ls->start[r]; i < ls->start[r + 1]; i++)
            ls->step[place[ls->unknown[i]]] +=
                ls->weight[r] * ls->residual[r] * ls->factor[i] * ls->scale[ls->unknown[i]];
    es_factor_solve(&ls->decomposition, ls->step);
    double largest = 0.0;
    for (size_t u = 0; u < ls->unknowns; u++) {
        double step = ls->step[place[u]] * ls->scale[u];
        x[u] += step;
        largest = fmax(largest, fabs(step) / fmax(fabs(x[u]), 1e-9 * ls->scale[u]));
    }
    return largest;
}

void es_least_squares_solve(es_least_squares *ls, const double *y, double *x)
{
    double last = (double)INFINITY;
    memset(x, 0, ls->unknowns * sizeof *x);
    for (int round = 0; round < ROUNDS_MOST; round++) {
        find_residuals(ls, y, x);
        double step = improve(ls, x);
        if (step < 1e-16 || !(step < 0.5 * last)) /* stands still, but for rounding */
            return;
        last = step;
    }
}

/* --- covariance ---------------------------------------------------------------------------- */

void es_least_squares_invert(es_least_squares *ls)
{
    es_factor_invert(&ls->decomposition);
}

double es_least_squares_row_variance(const es_least_squares *ls, size_t r)
{
    const uint32_t *place = ls->ordering.place;
    double sum = 0.0;
    for (size_t i = ls->start[r]; i < ls->start[r + 1]; i++)
        for (size_t k = ls->start[r]; k <= i; k++) {
            uint32_t a = ls->unknown[i], b = ls->unknown[k];
            double q = es_factor_inverse_entry(&ls->decomposition, place[a], place[b]);
            sum += (i == k ? 1.0 : 2.0) * ls->factor[i] * ls->factor[k] * q * ls->scale[a] *
                   ls->scale[b];
        }
    return sum;
}

double es_least_squares_variance(const es_least_squares *ls, uint32_t unknown)
{
    uint32_t p = ls->ordering.place[unknown];
    double scale = ls->scale[unknown];
    return es_factor_inverse_entry(&ls->decomposition, p, p) * scale * scale;
}

void es_least_squares_covariances(es_least_squares *ls, const uint32_t *unknowns, size_t count,
                                  double *out)
{
    uint32_t places[ES_FACTOR_LANES] = {0};
    double scale[ES_FACTOR_LANES] = {0};
    for (size_t i = 0; i < count; i++) {
        places[i] = ls->ordering.place[unknowns[i]];
        scale[i] = ls->scale[unknowns[i]];
    }
    es_factor_inverse_rows(&ls->decomposition, places, count, ls->lanes);
    for (size_t u = 0; u < ls->unknowns; u++)
        for (size_t i = 0; i < LANES; i++)
            out[u * LANES + i] =
                ls->lanes[ls->ordering.place[u] * LANES + i] * ls->scale[u] * scale[i];
}
