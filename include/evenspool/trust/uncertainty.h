/*
 * Uncertainty as JCGM 100:2008 ("GUM") reckons it: from parts to a combined standard uncertainty
 * u, its effective degrees of freedom, the coverage factor k and the expanded uncertainty k u.
 *
 *   unit    that of the value; degrees of freedom and factors are plain numbers
 *   NaN     what can't be known; a function that is handed something impossible returns NaN
 *   thread  no state
 *   Definitions, formulas and sources: docs/trust.md
 */
#ifndef ES_TRUST_UNCERTAINTY_H
#define ES_TRUST_UNCERTAINTY_H

#include "evenspool/base/anchor_form.h"

#include <stddef.h>

#define ES_LEVEL_95 0.95

/* A value with its uncertainty. Fields that can't be known are NaN. */
typedef struct es_estimate {
    double value;
    double u;   /* standard uncertainty                               */
    double dof; /* effective degrees of freedom, not truncated; may be INFINITY */
    double k;   /* coverage factor for the level asked for            */
    double u95; /* expanded uncertainty k u (95 % unless another level was asked for) */
} es_estimate;

/* How values lie between the limits +-a: standard uncertainty a / divisor (JCGM 100 4.3). */
typedef enum es_shape {
    ES_SHAPE_NORMAL,      /* a itself is one standard deviation     */
    ES_SHAPE_RECTANGULAR, /* anywhere alike: a / sqrt(3)            */
    ES_SHAPE_TRIANGULAR,  /* the middle likelier: a / sqrt(6)       */
    ES_SHAPE_U            /* swings between the limits: a / sqrt(2) */
} es_shape;

/* Standard uncertainty from limits +-limit, limit >= 0. */
double es_u_from_limit(es_shape shape, double limit);

/* Standard uncertainty from a certificate's expanded uncertainty >= 0 and its factor k > 0. */
double es_u_from_expanded(double expanded, double k);

/* Standard uncertainty of the mean of n >= 1 readings whose standard deviation is s >= 0. */
double es_u_of_mean(double s, size_t n);

/*
 * Combined standard uncertainty: square root of the sum over i, k of c_i c_k u_i u_k r_ik
 * (JCGM 100 5.1 and 5.2). correlation: count x count, row by row; NULL: none.
 */
double es_combined_u(const double *sensitivity, const double *u, const double *correlation,
                     size_t count);

/*
 * Welch-Satterthwaite: u^4 / sum of (u_i^4 / dof_i) over independent contributions (JCGM 100
 * G.4); INFINITY if no contribution has finite degrees of freedom. dof_i > 0, may be INFINITY.
 */
double es_effective_dof(const double *contribution, const double *dof, size_t count);

/*
 * k of Student's t for a level within 0 .. 1; dof >= 1 is truncated to a whole number (G.4.1).
 * Below one degree of freedom there is no distribution to speak of: NaN.
 */
double es_coverage_factor(double level, double dof);

/* Adds k and the expanded uncertainty. Degrees of freedom below 1 are taken as 1 for k. */
es_estimate es_estimate_of(double value, double u, double dof, double level);
es_estimate es_estimate_unknown(void); /* all NaN */

/*
 * Half width of the interval that holds `level` of the sum of a normal part (standard deviation
 * u_normal >= 0) and `count` rectangular parts +-limit[i], by their true shapes (the idea of
 * JCGM 101; here summed as a Fourier series). Right to 1e-6 of itself, 1e-4 if one rectangle
 * stands alone. At least one part must be > 0, else 0. level within 0.5 .. 0.999.
 */
double es_expanded_by_shape(double level, double u_normal, const double *limit, size_t count);

/* Rounds an expanded uncertainty up to two significant figures (JCGM 100 7.2.6). */
double es_two_figures_up(double value);

/* --- budget --------------------------------------------------------------------------------- */

/* One part of a budget. Texts are static. */
typedef struct es_budget_part {
    const char *what;    /* "rule"                                                    */
    const char *formula; /* how u was had from the answers, in words and signs         */
    const char *source;  /* where the formula or the figure comes from                 */
    es_shape shape;
    double u; /* contribution to the result's standard uncertainty, in its unit        */
    double dof;
} es_budget_part;

typedef struct es_budget {
    size_t count;
    es_budget_part at[ES_BUDGET_PARTS_MOST];
} es_budget;

/* Appends; a full budget, or a part whose u is not >= 0, is an error of the caller (assert). */
void es_budget_add(es_budget *budget, es_budget_part part);

/* The parts combined as independent. */
es_estimate es_budget_total(const es_budget *budget, double value, double level);

/* Expanded uncertainty with the rectangular parts taken as such; the others as normal. */
double es_budget_expanded_by_shape(const es_budget *budget, double level);

#endif
