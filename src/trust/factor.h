/*
 * Sparse symmetric positive definite matrices: factor L D L', solution, parts of the inverse.
 *
 *   in      the pattern from ordering.h; values put in place through es_factor_entry
 *   how     columns one by one while they are thin, then one dense core (dense.h). The inverse
 *           is taken where the factor has entries (Takahashi, Fagan and Chin, 1973, from memory),
 *           and whole rows of it are made where they are asked for
 *   places  all vectors and indices here stand in the order of elimination
 *   rt      memory only in _create; results repeat bit for bit
 */
#ifndef ES_TRUST_FACTOR_H
#define ES_TRUST_FACTOR_H

#include "trust/ordering.h"

#define ES_FACTOR_LANES ((size_t)8)

typedef struct es_factor {
    const es_ordering *order; /* not owned */
    size_t core_size;         /* rows of the core with padding */
    int inverted;
    double *core;             /* core_size x core_size: matrix, then L, then inverse */
    double *diagonal, *below; /* thin columns: matrix, then D and L                  */
    double *inverse_diagonal, *inverse_below; /* same pattern                        */
    double *work;                             /* one vector                          */
} es_factor;

/* ES_ERR_NOMEM: *out is empty. `order` must outlive it. */
es_status es_factor_create(const es_ordering *order, es_factor *out);
void es_factor_clear(es_factor *factor); /* a zeroed one is fine */

/* All entries zero, to be filled again. */
void es_factor_reset(es_factor *factor);

/* Where the matrix entry of two places lives; NULL if the pattern has none there. */
double *es_factor_entry(const es_factor *factor, uint32_t a, uint32_t b);

/* ES_ERR_INPUT: not positive definite within rounding (diagonal taken to be near 1). */
es_status es_factor_decompose(es_factor *factor);

/* Solves in place of b. Before or after _invert. */
void es_factor_solve(es_factor *factor, double *b);

/* After _decompose, once. */
void es_factor_invert(es_factor *factor);

/* After _invert: an entry of the inverse inside the pattern. */
double es_factor_inverse_entry(const es_factor *factor, uint32_t a, uint32_t b);

/*
 * After _invert: `count` <= ES_FACTOR_LANES rows of the inverse at once.
 * out[p * ES_FACTOR_LANES + lane] is the entry of places[lane] and p; unused lanes are 0.
 */
void es_factor_inverse_rows(es_factor *factor, const uint32_t *places, size_t count, double *out);

#endif
