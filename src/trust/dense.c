#include "trust/dense.h"

#include <math.h>
#include <string.h>

#define B ES_DENSE_BLOCK
#define TILE ((size_t)3)

typedef double square[B * B];

/* Two neighbours of a row at once; memory may lie at any double. */
typedef double pair __attribute__((vector_size(16)));
typedef double loose_pair __attribute__((vector_size(16), aligned(8), may_alias));

static pair load(const double *at)
{
    return *(const loose_pair *)at;
}

/* c(i, j) += sign * sum over k < count of a(i, k) b(j, k) for a tile of 3 x 3; count is even. */
static void add_tile(double *c, size_t c_row, const double *a, const double *b, size_t row,
                     size_t count, double sign)
{
    const double *a1 = a + row, *a2 = a1 + row, *b1 = b + row, *b2 = b1 + row;
    pair s[TILE * TILE] = {{0.0, 0.0}};
    for (size_t k = 0; k < count; k += 2) {
        pair p = load(a + k), q = load(a1 + k), r = load(a2 + k);
        pair x = load(b + k), y = load(b1 + k), z = load(b2 + k);
        s[0] += p * x;
        s[1] += p * y;
        s[2] += p * z;
        s[3] += q * x;
        s[4] += q * y;
        s[5] += q * z;
        s[6] += r * x;
        s[7] += r * y;
        s[8] += r * z;
    }
    for (size_t i = 0; i < TILE; i++)
        for (size_t j = 0; j < TILE; j++)
            c[i * c_row + j] += sign * (s[i * TILE + j][0] + s[i * TILE + j][1]);
}

/* c += sign * a b' for one block of c; rows of a and b are `row` apart. */
static void add_block(double *c, size_t c_row, const double *a, const double *b, size_t row,
                      size_t count, double sign)
{
    for (size_t j = 0; j < B; j += TILE)
        for (size_t i = 0; i < B; i += TILE)
            add_tile(c + i * c_row + j, c_row, a + i * row, b + j * row, row, count, sign);
}

size_t es_dense_size(size_t wanted)
{
    return (wanted + B - 1) / B * B;
}

/* --- factor -------------------------------------------------------------------------------- */

static int factor_diagonal_block(double *a, size_t size)
{
    for (size_t j = 0; j < B; j++) {
        double *row = a + j * size;
        double left = row[j];
        for (size_t k = 0; k < j; k++)
            left -= row[k] * row[k];
        if (!(left > 1e-14 * row[j]) || !isfinite(left))
            return 0;
        row[j] = sqrt(left);
        for (size_t i = j + 1; i < B; i++) {
            double *below = a + i * size;
            for (size_t k = 0; k < j; k++)
                below[j] -= below[k] * row[k];
            below[j] /= row[j];
        }
    }
    return 1;
}

/* x L' = x for the rows of one block: forward substitution with the block l. */
static void divide_block(double *x, const double *l, size_t size)
{
    for (size_t i = 0; i < B; i++, x += size)
        for (size_t j = 0; j < B; j++) {
            const double *row = l + j * size;
            for (size_t k = 0; k < j; k++)
                x[j] -= x[k] * row[k];
            x[j] /= row[j];
        }
}

es_status es_dense_factor(double *a, size_t size)
{
    for (size_t at = 0; at < size; at += B) {
        double *diagonal = a + at * size + at;
        for (size_t i = at; i < size; i += B)
            add_block(a + i * size + at, size, a + i * size, a + at * size, size, at, -1.0);
        if (!factor_diagonal_block(diagonal, size))
            return ES_ERR_INPUT;
        for (size_t i = at + B; i < size; i += B)
            divide_block(a + i * size + at, diagonal, size);
    }
    return ES_OK;
}

void es_dense_solve(const double *a, size_t size, double *b)
{
    for (size_t i = 0; i < size; i++) {
        for (size_t k = 0; k < i; k++)
            b[i] -= a[i * size + k] * b[k];
        b[i] /= a[i * size + i];
    }
    for (size_t i = size; i-- > 0;) {
        b[i] /= a[i * size + i];
        for (size_t k = 0; k < i; k++)
            b[k] -= a[i * size + k] * b[i];
    }
}

/* --- inverse ------------------------------------------------------------------------------- */

/*
 * X = transposed inverse of L grows in the upper triangle, block row by block row: row j of X
 * times row i of L must vanish for i > j, which gives block (j, i) of X from those left of it.
 * The diagonal blocks of X would lie on those of L; they are made twice where they are needed.
 */
static void invert_diagonal_block(const double *l, size_t size, square x)
{
    memset(x, 0, sizeof(square));
    for (size_t j = 0; j < B; j++) {
        x[j * B + j] = 1.0 / l[j * size + j];
        for (size_t i = j + 1; i < B; i++) {
            double sum = 0.0;
            for (size_t k = j; k < i; k++)
                sum += x[j * B + k] * l[i * size + k];
            x[j * B + i] = -sum / l[i * size + i];
        }
    }
}

/* Copies block `from` (rows `size` apart) into a square. */
static void copy_block(const double *from, size_t size, square to)
{
    for (size_t i = 0; i < B; i++)
        memcpy(to + i * B, from + i * size, B * sizeof *to);
}

static void invert_factor(double *a, size_t size)
{
    square corner, l;
    for (size_t j = 0; j < size; j += B) {
        invert_diagonal_block(a + j * size + j, size, corner);
        for (size_t i = j + B; i < size; i += B) {
            double *x = a + j * size + i;
            for (size_t r = 0; r < B; r++)
                memset(x + r * size, 0, B * sizeof *x);
            copy_block(a + i * size + j, size, l);
            add_block(x, size, corner, l, B, B, -1.0);
            add_block(x, size, a + j * size + j + B, a + i * size + j + B, size, i - j - B, -1.0);
            divide_block(x, a + i * size + i, size);
        }
    }
}

/* Inverse = X X'. Block (i, j), i >= j, takes the place of L, which is not needed any more. */
static void multiply_inverse(double *a, size_t size)
{
    square corner, x;
    for (size_t i = 0; i < size; i += B) {
        size_t rest = size - i - B;
        invert_diagonal_block(a + i * size + i, size, corner);
        for (size_t j = 0; j <= i; j += B) {
            double *q = a + i * size + j;
            for (size_t r = 0; r < B; r++)
                memset(q + r * size, 0, B * sizeof *q);
            if (j < i)
                copy_block(a + j * size + i, size, x);
            add_block(q, size, corner, j < i ? x : corner, B, B, 1.0);
            add_block(q, size, a + i * size + i + B, a + j * size + i + B, size, rest, 1.0);
        }
    }
}

void es_dense_inverse(double *a, size_t size)
{
    invert_factor(a, size);
    multiply_inverse(a, size);
    for (size_t i = 0; i < size; i++)
        for (size_t j = 0; j < i; j++)
            a[j * size + i] = a[i * size + j];
}
