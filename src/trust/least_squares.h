/*
 * Weighted least squares over many observations that each touch few unknowns.
 *
 *   model   y = A x + e, variance of e in row r: 1 / weight[r]
 *   in      A as rows of (unknown, factor); which unknowns meet in a row fixes the memory
 *   out     x, and what is needed of its covariance matrix Q = inverse of A' W A
 *   how     normal equations scaled to a unit diagonal, sparse factor (factor.h), then the
 *           residuals, summed in long double, are solved again until x stands still: that
 *           gives back the digits which the normal equations alone would cost
 *   error   NIST StRD linear sets: see tests/trust/test_least_squares.c
 *   rt      memory only in _create; results repeat bit for bit
 */
#ifndef ES_TRUST_LEAST_SQUARES_H
#define ES_TRUST_LEAST_SQUARES_H

#include "trust/factor.h"

typedef struct es_rows {
    size_t rows, unknowns;
    const size_t *start;     /* rows + 1                                              */
    const uint32_t *unknown; /* of entry start[r] .. start[r + 1); no repeats in a row */
    const double *factor;
} es_rows;

typedef struct es_least_squares es_least_squares;

/* Copies the rows. ES_ERR_NOMEM: *out is NULL. */
es_status es_least_squares_create(const es_rows *rows, es_least_squares **out);
void es_least_squares_destroy(es_least_squares *ls); /* NULL is fine */

/* weight[r] >= 0. ES_ERR_INPUT: an unknown is not determined by the rows of weight > 0. */
es_status es_least_squares_weigh(es_least_squares *ls, const double *weight);

/* After _weigh: x from y. x in the caller's order of unknowns. */
void es_least_squares_solve(es_least_squares *ls, const double *y, double *x);

/* After _weigh: makes Q. */
void es_least_squares_invert(es_least_squares *ls);

/* After _invert: a Q a' of row r, the variance of its adjusted value. */
double es_least_squares_row_variance(const es_least_squares *ls, size_t r);

/* After _invert: variance of an unknown. */
double es_least_squares_variance(const es_least_squares *ls, uint32_t unknown);

/*
 * After _invert: `count` <= ES_FACTOR_LANES rows of Q, those of the unknowns named:
 * out[unknown * ES_FACTOR_LANES + lane], unknowns in the caller's order.
 */
void es_least_squares_covariances(es_least_squares *ls, const uint32_t *unknowns, size_t count,
                                  double *out);

#endif
