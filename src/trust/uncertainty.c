#include "evenspool/trust/uncertainty.h"

#include "evenspool/base/units.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
#include <math.h>

double es_u_from_limit(es_shape shape, double limit)
{
    static const double divisor_squared[] = {1.0, 3.0, 6.0, 2.0};
    if (!(limit >= 0.0) || (unsigned)shape > ES_SHAPE_U)
        return (double)NAN;
    return limit / sqrt(divisor_squared[shape]);
}

double es_u_from_expanded(double expanded, double k)
{
    return expanded >= 0.0 && k > 0.0 ? expanded / k : (double)NAN;
}

double es_u_of_mean(double s, size_t n)
{
    return s >= 0.0 && n > 0 ? s / sqrt((double)n) : (double)NAN;
}

double es_combined_u(const double *sensitivity, const double *u, const double *correlation,
                     size_t count)
{
    double sum = 0.0;
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0; k < count; k++) {
            double r = correlation ? correlation[i * count + k] : (i == k ? 1.0 : 0.0);
            sum += sensitivity[i] * u[i] * sensitivity[k] * u[k] * r;
        }
    return sum >= 0.0 ? sqrt(sum) : (double)NAN;
}

double es_effective_dof(const double *contribution, const double *dof, size_t count)
{
    double variance = 0.0, spread = 0.0;
    for (size_t i = 0; i < count; i++) {
        double square = contribution[i] * contribution[i];
        if (!(dof[i] > 0.0))
            return (double)NAN;
        variance += square;
        spread += square * square / dof[i];
    }
    return spread > 0.0 ? variance * variance / spread : (double)INFINITY;
}

double es_coverage_factor(double level, double dof)
{
    if (!(level > 0.0 && level < 1.0) || !(dof >= 1.0))
        return (double)NAN;
    double tail = (1.0 - level) / 2.0;
    /* Rounding must not take a degree away from a sum that is whole by nature. */
    double whole = floor(dof * (1.0 + 1e-12));
    return whole < 1e6 ? gsl_cdf_tdist_Qinv(tail, whole) : gsl_cdf_ugaussian_Qinv(tail);
}

es_estimate es_estimate_of(double value, double u, double dof, double level)
{
    double k = es_coverage_factor(level, dof < 1.0 ? 1.0 : dof);
    return (es_estimate){.value = value, .u = u, .dof = dof, .k = k, .u95 = k * u};
}

es_estimate es_estimate_unknown(void)
{
    double nan = (double)NAN;
    return (es_estimate){.value = nan, .u = nan, .dof = nan, .k = nan, .u95 = nan};
}

double es_two_figures_up(double value)
{
    if (!(value > 0.0) || !isfinite(value))
        return value;
    double unit = pow(10.0, floor(log10(value)) - 1.0);
    /* 0.12 must stay 0.12 although neither it nor the unit is exact */
    return ceil(value / unit * (1.0 - 1e-12)) * unit;
}

/* --- shapes -------------------------------------------------------------------------------- */

enum { TERMS = 19999, FRESH = 64 };

/* The density repeated with a period beyond which nothing of it lies: a cosine series. */
typedef struct series {
    double period;
    int count;
    double share[TERMS]; /* what sin(k x) counts in the probability, k = 1 .. count */
} series;

/* From the Fourier transform of the density: a Gaussian times a sin(x)/x for every rectangle. */
static void fill(series *s, double u_normal, const double *limit, size_t limits)
{
    for (s->count = 0; s->count < TERMS; s->count++) {
        double k = s->count + 1.0, t = ES_TWO_PI * k / s->period;
        double gauss = 0.5 * u_normal * u_normal * t * t;
        if (gauss > 40.0)
            break;
        double share = 2.0 / (ES_PI * k) * exp(-gauss);
        for (size_t i = 0; i < limits; i++)
            share *= limit[i] * t > 1e-8 ? sin(limit[i] * t) / (limit[i] * t) : 1.0;
        s->share[s->count] = share;
    }
}

/* Probability within +-half. The sines come from turning on; a fresh start now and then keeps the
 * rounding from adding up. */
static double within(const series *s, double half)
{
    double turn = ES_TWO_PI * half / s->period, along = cos(turn), across = sin(turn);
    double sum = 2.0 * half / s->period, x = 1.0, y = 0.0;
    for (int k = 0; k < s->count; k++) {
        if (k % FRESH == 0) {
            x = cos(turn * (k + 1.0));
            y = sin(turn * (k + 1.0));
        }
        sum += s->share[k] * y;
        double next = x * along - y * across;
        y = x * across + y * along;
        x = next;
    }
    return sum;
}

double es_expanded_by_shape(double level, double u_normal, const double *limit, size_t count)
{
    double reach = 8.0 * u_normal;
    for (size_t i = 0; i < count; i++)
        reach += limit[i];
    if (!(level >= 0.5 && level <= 0.999) || !isfinite(reach) || reach < 0.0)
        return (double)NAN;
    if (reach == 0.0)
        return 0.0;
    series s;
    s.period = 2.2 * reach;
    fill(&s, u_normal, limit, count);
    double low = 0.0, high = reach;
    for (int i = 0; i < 48; i++) {
        double middle = 0.5 * (low + high);
        if (within(&s, middle) < level)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}

/* --- budget -------------------------------------------------------------------------------- */

void es_budget_add(es_budget *budget, es_budget_part part)
{
    assert(budget->count < ES_BUDGET_PARTS_MOST && part.u >= 0.0);
    budget->at[budget->count++] = part;
}

es_estimate es_budget_total(const es_budget *budget, double value, double level)
{
    double u[ES_BUDGET_PARTS_MOST], dof[ES_BUDGET_PARTS_MOST], ones[ES_BUDGET_PARTS_MOST];
    for (size_t i = 0; i < budget->count; i++) {
        u[i] = budget->at[i].u;
        dof[i] = budget->at[i].dof;
        ones[i] = 1.0;
    }
    return es_estimate_of(value, es_combined_u(ones, u, NULL, budget->count),
                          es_effective_dof(u, dof, budget->count), level);
}

double es_budget_expanded_by_shape(const es_budget *budget, double level)
{
    double normal = 0.0, limit[ES_BUDGET_PARTS_MOST];
    size_t count = 0;
    for (size_t i = 0; i < budget->count; i++) {
        const es_budget_part *part = &budget->at[i];
        if (part->shape == ES_SHAPE_RECTANGULAR)
            limit[count++] = part->u * sqrt(3.0);
        else
            normal = hypot(normal, part->u);
    }
    return es_expanded_by_shape(level, normal, limit, count);
}
