#include "trust/factor.h"

#include "trust/dense.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LANES ES_FACTOR_LANES
#define SMALLEST_PIVOT 1e-14 /* of a matrix whose diagonal is 1 */

/* --- life ---------------------------------------------------------------------------------- */

static double *numbers(size_t count)
{
    return calloc(count + 1, sizeof(double));
}

es_status es_factor_create(const es_ordering *order, es_factor *out)
{
    size_t entries = order->start[order->sparse];
    size_t size = es_dense_size(order->nodes - order->sparse);
    *out = (es_factor){.order = order, .core_size = size};
    out->core = numbers(size * size);
    out->diagonal = numbers(order->sparse);
    out->below = numbers(entries);
    out->inverse_diagonal = numbers(order->sparse);
    out->inverse_below = numbers(entries);
    out->work = numbers(order->nodes + size);
    if (out->core && out->diagonal && out->below && out->inverse_diagonal && out->inverse_below &&
        out->work) {
        es_factor_reset(out);
        return ES_OK;
    }
    es_factor_clear(out);
    return ES_ERR_NOMEM;
}

void es_factor_clear(es_factor *f)
{
    free(f->core);
    free(f->diagonal);
    free(f->below);
    free(f->inverse_diagonal);
    free(f->inverse_below);
    free(f->work);
    *f = (es_factor){0};
}

void es_factor_reset(es_factor *f)
{
    const es_ordering *o = f->order;
    memset(f->core, 0, f->core_size * f->core_size * sizeof *f->core);
    memset(f->diagonal, 0, o->sparse * sizeof *f->diagonal);
    memset(f->below, 0, o->start[o->sparse] * sizeof *f->below);
    for (size_t i = o->nodes - o->sparse; i < f->core_size; i++)
        f->core[i * f->core_size + i] = 1.0; /* the padding */
    f->inverted = 0;
}

/* --- where things live --------------------------------------------------------------------- */

/* Position in the columns of row `row` in thin column `column`; SIZE_MAX if there is none. */
static size_t position(const es_ordering *o, uint32_t column, uint32_t row)
{
    size_t low = o->start[column], high = o->start[column + 1];
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (o->row[middle] < row)
            low = middle + 1;
        else
            high = middle;
    }
    return low < o->start[column + 1] && o->row[low] == row ? low : SIZE_MAX;
}

static double *entry(const es_factor *f, double *diagonal, double *below, uint32_t a, uint32_t b)
{
    const es_ordering *o = f->order;
    uint32_t low = a < b ? a : b, high = a < b ? b : a;
    if (low >= o->sparse)
        return f->core + (high - o->sparse) * f->core_size + (low - o->sparse);
    if (low == high)
        return diagonal + low;
    size_t at = position(o, low, high);
    return at == SIZE_MAX ? NULL : below + at;
}

double *es_factor_entry(const es_factor *f, uint32_t a, uint32_t b)
{
    return entry(f, f->diagonal, f->below, a, b);
}

double es_factor_inverse_entry(const es_factor *f, uint32_t a, uint32_t b)
{
    const double *at = entry(f, f->inverse_diagonal, f->inverse_below, a, b);
    return at ? *at : (double)NAN;
}

/* First position in thin column j whose row belongs to the core. */
static size_t core_part(const es_ordering *o, size_t j)
{
    size_t at = o->start[j + 1];
    while (at > o->start[j] && o->row[at - 1] >= o->sparse)
        at--;
    return at;
}

/* --- factor -------------------------------------------------------------------------------- */

/* Takes column j off the later thin column o->row[k]: both lists ascend, so they are merged. */
static void update_thin(es_factor *f, size_t j, size_t k, double pivot)
{
    const es_ordering *o = f->order;
    size_t target = o->row[k], at = o->start[target];
    double factor = f->below[k] / pivot;
    f->diagonal[target] -= factor * f->below[k];
    for (size_t l = k + 1; l < o->start[j + 1]; l++) {
        while (o->row[at] != o->row[l])
            at++;
        f->below[at] -= factor * f->below[l];
    }
}

static void update_core(es_factor *f, size_t j, size_t from, double pivot)
{
    const es_ordering *o = f->order;
    for (size_t l = from; l < o->start[j + 1]; l++) {
        double *row = f->core + (o->row[l] - o->sparse) * f->core_size;
        double factor = f->below[l] / pivot;
        for (size_t k = from; k <= l; k++)
            row[o->row[k] - o->sparse] -= factor * f->below[k];
    }
}

es_status es_factor_decompose(es_factor *f)
{
    const es_ordering *o = f->order;
    for (size_t j = 0; j < o->sparse; j++) {
        double pivot = f->diagonal[j];
        if (!(pivot > SMALLEST_PIVOT) || !isfinite(pivot))
            return ES_ERR_INPUT;
        size_t core = core_part(o, j);
        for (size_t k = o->start[j]; k < core; k++)
            update_thin(f, j, k, pivot);
        update_core(f, j, core, pivot);
        for (size_t k = o->start[j]; k < o->start[j + 1]; k++)
            f->below[k] /= pivot;
    }
    return es_dense_factor(f->core, f->core_size);
}

/* --- solution ------------------------------------------------------------------------------ */

static void solve_core(es_factor *f, double *b)
{
    size_t count = f->order->nodes - f->order->sparse;
    double *x = f->work;
    memset(x, 0, f->core_size * sizeof *x);
    if (!f->inverted) {
        memcpy(x, b, count * sizeof *x);
        es_dense_solve(f->core, f->core_size, x);
    } else {
        for (size_t i = 0; i < count; i++)
            for (size_t k = 0; k < count; k++)
                x[i] += f->core[i * f->core_size + k] * b[k];
    }
    memcpy(b, x, count * sizeof *b);
}

void es_factor_solve(es_factor *f, double *b)
{
    const es_ordering *o = f->order;
    for (size_t j = 0; j < o->sparse; j++)
        for (size_t k = o->start[j]; k < o->start[j + 1]; k++)
            b[o->row[k]] -= f->below[k] * b[j];
    for (size_t j = 0; j < o->sparse; j++)
        b[j] /= f->diagonal[j];
    solve_core(f, b + o->sparse);
    for (size_t j = o->sparse; j-- > 0;)
        for (size_t k = o->start[j]; k < o->start[j + 1]; k++)
            b[j] -= f->below[k] * b[o->row[k]];
}

/* --- inverse ------------------------------------------------------------------------------- */

/* y += Z L(:, j) over the rows of column j that are thin, from the columns of Z made so far. */
static void gather_thin(const es_factor *f, size_t j, size_t k, double *y)
{
    const es_ordering *o = f->order;
    size_t target = o->row[k], at = o->start[target], first = o->start[j];
    y[k - first] += f->inverse_diagonal[target] * f->below[k];
    for (size_t l = k + 1; l < o->start[j + 1]; l++) {
        while (o->row[at] != o->row[l])
            at++;
        y[k - first] += f->inverse_below[at] * f->below[l];
        y[l - first] += f->inverse_below[at] * f->below[k];
    }
}

static void gather_core(const es_factor *f, size_t j, size_t from, double *y)
{
    const es_ordering *o = f->order;
    for (size_t k = from; k < o->start[j + 1]; k++) {
        const double *row = f->core + (o->row[k] - o->sparse) * f->core_size;
        double sum = 0.0;
        for (size_t l = from; l < o->start[j + 1]; l++)
            sum += row[o->row[l] - o->sparse] * f->below[l];
        y[k - o->start[j]] += sum;
    }
}

void es_factor_invert(es_factor *f)
{
    const es_ordering *o = f->order;
    es_dense_inverse(f->core, f->core_size);
    f->inverted = 1;
    for (size_t j = o->sparse; j-- > 0;) {
        size_t first = o->start[j], count = o->start[j + 1] - first, core = core_part(o, j);
        memset(f->work, 0, count * sizeof *f->work);
        for (size_t k = first; k < core; k++)
            gather_thin(f, j, k, f->work);
        gather_core(f, j, core, f->work);
        double own = 1.0 / f->diagonal[j];
        for (size_t k = 0; k < count; k++) {
            f->inverse_below[first + k] = -f->work[k];
            own += f->below[first + k] * f->work[k];
        }
        f->inverse_diagonal[j] = own;
    }
}

/* sum += weighted rows, four at a time: the rows come from far memory, the sum stays near. */
static void add_rows(const double *const *row, const double *weight, size_t count, double *sum)
{
    for (size_t i = 0; i < count; i++)
        sum[i] += weight[0] * row[0][i] + weight[1] * row[1][i] + weight[2] * row[2][i] +
                  weight[3] * row[3][i];
}

/* One lane of the core's part: rows of the inverse, weighted with what has come down to it. */
static void multiply_core(es_factor *f, double *out, size_t lane)
{
    size_t count = f->order->nodes - f->order->sparse, held = 0;
    const double *row[4] = {f->core, f->core, f->core, f->core};
    double weight[4] = {0.0, 0.0, 0.0, 0.0}, *sum = f->work;
    memset(sum, 0, count * sizeof *sum);
    for (size_t c = 0; c < count; c++) {
        if (out[c * LANES + lane] == 0.0)
            continue;
        row[held] = f->core + c * f->core_size;
        weight[held++] = out[c * LANES + lane];
        if (held == 4) {
            add_rows(row, weight, count, sum);
            weight[0] = weight[1] = weight[2] = weight[3] = 0.0;
            held = 0;
        }
    }
    if (held > 0)
        add_rows(row, weight, count, sum);
    for (size_t i = 0; i < count; i++)
        out[i * LANES + lane] = sum[i];
}

static int all_zero(const double *lanes)
{
    for (size_t i = 0; i < LANES; i++)
        if (lanes[i] != 0.0)
            return 0;
    return 1;
}

void es_factor_inverse_rows(es_factor *f, const uint32_t *places, size_t count, double *out)
{
    const es_ordering *o = f->order;
    memset(out, 0, o->nodes * LANES * sizeof *out);
    for (size_t lane = 0; lane < count; lane++)
        out[places[lane] * LANES + lane] = 1.0;
    for (size_t j = 0; j < o->sparse; j++) {
        double *own = out + j * LANES;
        if (all_zero(own))
            continue;
        for (size_t k = o->start[j]; k < o->start[j + 1]; k++)
            for (size_t i = 0; i < LANES; i++)
                out[o->row[k] * LANES + i] -= f->below[k] * own[i];
        for (size_t i = 0; i < LANES; i++)
            own[i] /= f->diagonal[j];
    }
    for (size_t lane = 0; lane < count; lane++)
        multiply_core(f, out + o->sparse * LANES, lane);
    for (size_t j = o->sparse; j-- > 0;) {
        double sum[ES_FACTOR_LANES];
        memcpy(sum, out + j * LANES, sizeof sum);
        for (size_t k = o->start[j]; k < o->start[j + 1]; k++)
            for (size_t i = 0; i < LANES; i++)
                sum[i] -= f->below[k] * out[o->row[k] * LANES + i];
        memcpy(out + j * LANES, sum, sizeof sum);
    }
}
