/*
 * Dense symmetric positive definite matrices: Cholesky factor and inverse, in place.
 *
 *   in      a row-major matrix of `size` rows and columns, size a multiple of ES_DENSE_BLOCK
 *           (pad with rows of the identity), lower triangle filled
 *   how     blocked so that all the work is one kernel: products of rows with rows
 *   error   each figure is right to some size * 2.2e-16 of its natural scale
 *   rt      nothing allocates; the order of every sum is fixed, so results repeat bit for bit
 */
#ifndef ES_TRUST_DENSE_H
#define ES_TRUST_DENSE_H

#include "evenspool/base/status.h"

#include <stddef.h>

#define ES_DENSE_BLOCK ((size_t)48)

/* Smallest allowed size that holds `wanted` rows; 0 stays 0. */
size_t es_dense_size(size_t wanted);

/*
 * Puts L of a = L L' into the lower triangle; the upper is neither read nor written.
 * ES_ERR_INPUT: not positive definite within rounding; the lower triangle is spoilt.
 */
es_status es_dense_factor(double *a, size_t size);

/* Solves L L' x = b in place of b; a as _factor left it. */
void es_dense_solve(const double *a, size_t size, double *b);

/* From a as _factor left it to the full inverse, both triangles. */
void es_dense_inverse(double *a, size_t size);

#endif
