#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "evenspool/trust/uncertainty.h"
#include "near.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))
#define INF ((double)INFINITY)

/* JCGM 100:2008 4.3.7 (rectangular), 4.3.9 (triangular), H.1.3.4 (U-shaped). */
static void turns_limits_into_standard_uncertainties(void **state)
{
    (void)state;
    assert_near(es_u_from_limit(ES_SHAPE_RECTANGULAR, 100.0), 57.735, 1e-3);
    assert_near(es_u_from_limit(ES_SHAPE_TRIANGULAR, 1.0), 0.408248, 1e-6);
    assert_near(es_u_from_limit(ES_SHAPE_U, 0.5), 0.35, 0.005);
    assert_near(es_u_from_limit(ES_SHAPE_NORMAL, 0.3), 0.3, 0.0);
    assert_near(es_u_from_expanded(0.2, 2.0), 0.1, 1e-15);
    assert_near(es_u_of_mean(0.4, 16), 0.1, 1e-15);
    assert_true(isnan(es_u_from_limit(ES_SHAPE_RECTANGULAR, -1.0)));
    assert_true(isnan(es_u_from_expanded(0.1, 0.0)));
    assert_true(isnan(es_u_of_mean(1.0, 0)));
}

/* JCGM 100:2008 table G.2, Student's t for p = 68.27, 90, 95, 95.45, 99 and 99.73 percent. */
static void coverage_factors_are_those_of_table_g2(void **state)
{
    (void)state;
    static const struct {
        double dof, t95, t9545, t99;
    } table[] = {
        {1, 12.71, 13.97, 63.66}, {2, 4.30, 4.53, 9.92},  {3, 3.18, 3.31, 5.84},
        {4, 2.78, 2.87, 4.60},    {5, 2.57, 2.65, 4.03},  {8, 2.31, 2.37, 3.36},
        {9, 2.26, 2.32, 3.25},    {10, 2.23, 2.28, 3.17}, {16, 2.12, 2.17, 2.92},
        {20, 2.09, 2.13, 2.85},   {50, 2.01, 2.05, 2.68}, {INF, 1.960, 2.000, 2.576},
    };
    for (size_t i = 0; i < COUNT(table); i++) {
        assert_near(es_coverage_factor(0.95, table[i].dof), table[i].t95, 0.00501);
        assert_near(es_coverage_factor(0.9545, table[i].dof), table[i].t9545, 0.00501);
        assert_near(es_coverage_factor(0.99, table[i].dof), table[i].t99, 0.00501);
    }
    assert_near(es_coverage_factor(0.99, 16.0), 2.9208, 1e-4);
    assert_near(es_coverage_factor(0.95, 9.0), 2.2622, 1e-4);
}

/* JCGM 100:2008 G.4.1: the degrees of freedom are truncated to the next lower integer. */
static void truncates_degrees_of_freedom(void **state)
{
    (void)state;
    assert_near(es_coverage_factor(0.99, 16.99), es_coverage_factor(0.99, 16.0), 0.0);
    assert_true(isnan(es_coverage_factor(0.95, 0.99)));
    assert_true(isnan(es_coverage_factor(1.0, 5.0)));
    assert_true(isnan(es_coverage_factor(0.95, (double)NAN)));
}

/* JCGM 100:2008 G.4.2: four equal contributions of ten degrees of freedom each make forty. */
static void degrees_of_freedom_of_equal_parts_add_up(void **state)
{
    (void)state;
    double u[] = {1, 1, 1, 1}, ten[] = {10, 10, 10, 10}, many[] = {INF, INF, INF, INF};
    assert_near(es_effective_dof(u, ten, 4), 40.0, 1e-12);
    assert_near(es_coverage_factor(0.95, es_effective_dof(u, ten, 4)),
                es_coverage_factor(0.95, 40.0), 0.0);
    assert_true(isinf(es_effective_dof(u, many, 4)));
    ten[2] = 0.0;
    assert_true(isnan(es_effective_dof(u, ten, 4)));
}

/* JCGM 100:2008 H.1, end gauge: budget [nm], combined uncertainty, degrees of freedom, U99. */
static void end_gauge_comes_out_as_in_h1(void **state)
{
    (void)state;
    double length = 50000623.0, alpha = 11.5e-6, theta = -0.1;
    double comparison[] = {5.8, 3.9, 6.7}, comparison_dof[] = {24, 5, 8}, ones[] = {1, 1, 1};
    double d = es_combined_u(ones, comparison, NULL, 3);
    assert_near(d, 9.7, 0.05);
    assert_near(es_effective_dof(comparison, comparison_dof, 3), 25.5, 0.2);

    es_budget budget = {0};
    double parts[][2] = {{25.0, 18.0},
                         {9.7, 25.6},
                         {length * fabs(theta) * es_u_from_limit(ES_SHAPE_RECTANGULAR, 1e-6), 50.0},
                         {length * alpha * es_u_from_limit(ES_SHAPE_RECTANGULAR, 0.05), 2.0}};
    for (size_t i = 0; i < COUNT(parts); i++)
        es_budget_add(&budget, (es_budget_part){.what = "part",
                                                .formula = "",
                                                .source = "H.1",
                                                .u = parts[i][0],
                                                .dof = parts[i][1]});
    es_estimate e = es_budget_total(&budget, length + 215.0, 0.99);
    assert_near(e.value, 50000838.0, 0.0);
    assert_near(budget.at[2].u, 2.9, 0.05);
    assert_near(budget.at[3].u, 16.6, 0.1);
    assert_near(e.u, 31.71, 0.05);
    assert_near(e.dof, 16.7, 0.1);
    assert_near(e.k, 2.92, 0.005);
    assert_near(e.u95, 93.0, 1.0); /* here at 99 % */
    assert_near(es_two_figures_up(e.u95), 93.0, 1e-9);
}

/* --- H.2 ------------------------------------------------------------------------------------ */

#define SETS 5
static const double h2[3][SETS] = {{5.007, 4.994, 5.005, 4.990, 4.999},       /* V [V]     */
                                   {19.663, 19.639, 19.640, 19.685, 19.678},  /* I [mA]    */
                                   {1.0456, 1.0438, 1.0468, 1.0428, 1.0433}}; /* phi [rad] */

static double mean(const double *x)
{
    double sum = 0.0;
    for (size_t i = 0; i < SETS; i++)
        sum += x[i] / SETS;
    return sum;
}

/* Covariance of the means. */
static double covariance(const double *x, const double *y)
{
    double sum = 0.0;
    for (size_t i = 0; i < SETS; i++)
        sum += (x[i] - mean(x)) * (y[i] - mean(y));
    return sum / (SETS * (SETS - 1.0));
}

/* Correlation of two results from the uncertainty of their sum. */
static double result_correlation(const double *a, const double *b, const double *u, const double *r)
{
    double sum[3];
    for (size_t i = 0; i < 3; i++)
        sum[i] = a[i] + b[i];
    double ua = es_combined_u(a, u, r, 3), ub = es_combined_u(b, u, r, 3);
    double us = es_combined_u(sum, u, r, 3);
    return (us * us - ua * ua - ub * ub) / (2.0 * ua * ub);
}

/* JCGM 100:2008 H.2, resistance, reactance and impedance measured together (table H.4). */
static void correlated_inputs_come_out_as_in_h2(void **state)
{
    (void)state;
    double u[3], r[9];
    for (size_t i = 0; i < 3; i++)
        u[i] = sqrt(covariance(h2[i], h2[i]));
    for (size_t i = 0; i < 9; i++)
        r[i] = covariance(h2[i / 3], h2[i % 3]) / (u[i / 3] * u[i % 3]);
    assert_near(u[0], 0.0032, 0.00005);
    assert_near(u[1], 0.0095, 0.00005);
    assert_near(u[2], 0.00075, 0.000005);
    assert_near(r[1], -0.36, 0.005);
    assert_near(r[2], 0.86, 0.005);
    assert_near(r[5], -0.65, 0.005);

    double volts = mean(h2[0]), amps = mean(h2[1]) / 1000.0, phi = mean(h2[2]), z = volts / amps;
    double c_r[] = {cos(phi) / amps, -z * cos(phi) / amps / 1000.0, -z * sin(phi)};
    double c_x[] = {sin(phi) / amps, -z * sin(phi) / amps / 1000.0, z * cos(phi)};
    double c_z[] = {1.0 / amps, -z / amps / 1000.0, 0.0};
    assert_near(z * cos(phi), 127.732, 0.001);
    assert_near(z * sin(phi), 219.847, 0.001);
    assert_near(z, 254.260, 0.001);
    assert_near(es_combined_u(c_r, u, r, 3), 0.071, 0.0005);
    assert_near(es_combined_u(c_x, u, r, 3), 0.2955, 0.0006);
    assert_near(es_combined_u(c_z, u, r, 3), 0.236, 0.0005);
    assert_near(result_correlation(c_r, c_x, u, r), -0.588, 0.001);
    assert_near(result_correlation(c_r, c_z, u, r), -0.485, 0.001);
    assert_near(result_correlation(c_x, c_z, u, r), 0.993, 0.001);
}

/* JCGM 100:2008 H.5: ten days of five readings; the day means decide the uncertainty [uV]. */
static void day_means_give_the_uncertainty_of_h5(void **state)
{
    (void)state;
    static const double day[] = {172, 116, 13, 144, 106, 31, 60, 125, 163, 41};
    static const double within[] = {60, 77, 111, 101, 67, 93, 80, 73, 88, 86};
    double sum = 0.0, squares = 0.0, pooled = 0.0;
    for (size_t i = 0; i < 10; i++) {
        sum += day[i];
        pooled += within[i] * within[i] / 10.0;
    }
    for (size_t i = 0; i < 10; i++)
        squares += (day[i] - sum / 10.0) * (day[i] - sum / 10.0);
    double s = sqrt(squares / 9.0), of_a_day = es_u_of_mean(sqrt(pooled), 5);
    assert_near(sum / 10.0, 97.1, 0.05);
    assert_near(s, 57.1, 0.05);
    assert_near(es_u_of_mean(s, 10), 18.05, 0.05); /* printed 18 */
    double one = 1.0, minus = s * s - of_a_day * of_a_day;
    assert_near(sqrt(minus), 43.0, 0.5); /* between days */
    assert_near(es_combined_u(&one, &of_a_day, NULL, 1), 38.0, 0.5);
}

/* JCGM 101:2008 9.2.2 and 9.2.3: sums of four normal and of four rectangular parts, u = 1 each. */
static void shapes_of_the_parts_count_in_the_interval(void **state)
{
    (void)state;
    double root3 = sqrt(3.0), four[] = {root3, root3, root3, root3};
    assert_near(es_expanded_by_shape(0.95, 2.0, NULL, 0), 3.92, 0.005);
    /* closed form of the standard: 2 sqrt(3) (2 - (3/5)^(1/4)) */
    assert_near(es_expanded_by_shape(0.95, 0.0, four, 4), 2.0 * root3 * (2.0 - pow(0.6, 0.25)),
                1e-5);
    assert_near(es_expanded_by_shape(0.95, 0.0, four, 4), 3.88, 0.005);
    assert_near(es_expanded_by_shape(0.95, 0.0, four, 1), 0.95 * root3, 2e-4);
    assert_near(es_expanded_by_shape(0.95, 0.0, four, 2), 2.0 * root3 * (1.0 - sqrt(0.05)), 1e-5);
    assert_near(es_expanded_by_shape(0.95, 0.0, NULL, 0), 0.0, 0.0);
    assert_true(isnan(es_expanded_by_shape(0.95, (double)NAN, four, 1)));
}

/* A normal part and a rectangle: P(|X| <= q) in closed form with G(t) = t Phi(t) + phi(t). */
static double integral(double t)
{
    return t * 0.5 * erfc(-t / sqrt(2.0)) + exp(-0.5 * t * t) / sqrt(2.0 * acos(-1.0));
}

static void a_normal_part_and_a_rectangle_match_the_closed_form(void **state)
{
    (void)state;
    static const double sigma[] = {0.002, 0.02, 0.2, 1.0, 5.0};
    for (size_t i = 0; i < COUNT(sigma); i++) {
        double limit = 1.5, s = sigma[i];
        double q = es_expanded_by_shape(0.95, s, &limit, 1);
        double f = s / (2.0 * limit) * (integral((q + limit) / s) - integral((q - limit) / s));
        assert_near(2.0 * f - 1.0, 0.95, 1e-10);
    }
}

static void two_figures_are_rounded_up(void **state)
{
    (void)state;
    assert_near(es_two_figures_up(0.0398), 0.040, 1e-12);
    assert_near(es_two_figures_up(0.120), 0.12, 1e-12);
    assert_near(es_two_figures_up(0.1201), 0.13, 1e-12);
    assert_near(es_two_figures_up(99.5), 100.0, 1e-9);
    assert_near(es_two_figures_up(0.0), 0.0, 0.0);
    assert_true(isnan(es_two_figures_up((double)NAN)));
}

static void an_unknown_estimate_is_never_a_number(void **state)
{
    (void)state;
    es_estimate e = es_estimate_unknown();
    assert_true(isnan(e.value) && isnan(e.u) && isnan(e.dof) && isnan(e.k) && isnan(e.u95));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(turns_limits_into_standard_uncertainties),
        cmocka_unit_test(coverage_factors_are_those_of_table_g2),
        cmocka_unit_test(truncates_degrees_of_freedom),
        cmocka_unit_test(degrees_of_freedom_of_equal_parts_add_up),
        cmocka_unit_test(end_gauge_comes_out_as_in_h1),
        cmocka_unit_test(correlated_inputs_come_out_as_in_h2),
        cmocka_unit_test(day_means_give_the_uncertainty_of_h5),
        cmocka_unit_test(shapes_of_the_parts_count_in_the_interval),
        cmocka_unit_test(a_normal_part_and_a_rectangle_match_the_closed_form),
        cmocka_unit_test(two_figures_are_rounded_up),
        cmocka_unit_test(an_unknown_estimate_is_never_a_number),
    };
    return cmocka_run_group_tests_name("trust/uncertainty", tests, NULL, NULL);
}
