/*
 * The core that solves the networks, as an ordinary least-squares solver: NIST's certified sets
 * (Statistical Reference Datasets, linear regression, www.itl.nist.gov/div898/strd), JCGM 100
 * H.3, and random sparse problems against a dense solution by GSL.
 */
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_matrix.h>

#include <stdlib.h>
#include <string.h>

#include "alloc_sweep.h"
#include "cm.h"
#include "random_network.h"
#include "trust/least_squares.h"

#define ROWS_MOST 64
#define TERMS_MOST 8

typedef struct fit {
    double x[TERMS_MOST], se[TERMS_MOST], rss, s, correlation01;
} fit;

/* Unweighted fit of full rows: terms[r * count + c]. */
static fit fit_full(const double *terms, const double *y, size_t rows, size_t count)
{
    static size_t start[ROWS_MOST + 1];
    static uint32_t unknown[ROWS_MOST * TERMS_MOST];
    double weight[ROWS_MOST], lanes[TERMS_MOST * ES_FACTOR_LANES];
    for (size_t r = 0; r < rows; r++) {
        start[r + 1] = (r + 1) * count;
        weight[r] = 1.0;
        for (size_t c = 0; c < count; c++)
            unknown[r * count + c] = (uint32_t)c;
    }
    es_rows form = {rows, count, start, unknown, terms};
    es_least_squares *ls;
    fit f = {0};
    assert_int_equal(es_least_squares_create(&form, &ls), ES_OK);
    assert_int_equal(es_least_squares_weigh(ls, weight), ES_OK);
    es_least_squares_solve(ls, y, f.x);
    es_least_squares_invert(ls);
    for (size_t r = 0; r < rows; r++) {
        long double v = (long double)y[r];
        for (size_t c = 0; c < count; c++)
            v -= (long double)terms[r * count + c] * (long double)f.x[c];
        f.rss += (double)(v * v);
    }
    f.s = sqrt(f.rss / (double)(rows - count));
    for (size_t c = 0; c < count; c++)
        f.se[c] = f.s * sqrt(es_least_squares_variance(ls, (uint32_t)c));
    if (count > 1) {
        uint32_t zero = 0;
        es_least_squares_covariances(ls, &zero, 1, lanes);
        f.correlation01 = lanes[ES_FACTOR_LANES] * f.s * f.s / (f.se[0] * f.se[1]);
    }
    es_least_squares_destroy(ls);
    return f;
}

static void assert_relative(double actual, double expected, double tolerance)
{
    assert_near(actual, expected, tolerance * fabs(expected));
}

/* NIST StRD Norris (lower level of difficulty). */
static void norris_to_its_certified_digits(void **state)
{
    (void)state;
    static const double x[] = {0.2,   337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6,
                               777.0, 558.2, 0.4,   0.6,   775.5, 666.9, 338.0, 447.5, 11.6,
                               556.0, 228.1, 995.8, 887.6, 120.2, 0.3,   0.3,   556.8, 339.1,
                               887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
    static const double y[] = {0.1,   338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1,
                               778.9, 559.2, 0.3,   0.1,   778.1, 668.8, 339.3, 448.9, 10.8,
                               557.7, 228.3, 998.0, 888.8, 119.6, 0.3,   0.6,   557.6, 339.3,
                               888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};
    double terms[2 * COUNT(x)];
    for (size_t i = 0; i < COUNT(x); i++) {
        terms[2 * i] = 1.0;
        terms[2 * i + 1] = x[i];
    }
    fit f = fit_full(terms, y, COUNT(x), 2);
    assert_relative(f.x[0], -0.262323073774029, 1e-13);
    assert_relative(f.x[1], 1.00211681802045, 5e-15); /* half of its last digit */
    assert_relative(f.se[0], 0.232818234301152, 1e-13);
    assert_relative(f.se[1], 4.29796848199937e-4, 1e-13);
    assert_relative(f.s, 0.884796396144373, 1e-13);
    assert_relative(f.rss, 26.6173985294224, 1e-13);
}

/* NIST StRD NoInt1 and NoInt2 (average level): lines through the origin. */
static void lines_through_the_origin_to_their_certified_digits(void **state)
{
    (void)state;
    double x[11], y[11];
    for (size_t i = 0; i < 11; i++) {
        x[i] = 60.0 + (double)i;
        y[i] = 130.0 + (double)i;
    }
    fit one = fit_full(x, y, 11, 1);
    assert_relative(one.x[0], 2.07438016528926, 5e-15);
    assert_relative(one.se[0], 0.0165289256198347, 1e-13);
    assert_relative(one.s, 3.56753034006338, 1e-13);
    static const double x2[] = {4, 5, 6}, y2[] = {3, 4, 4};
    fit two = fit_full(x2, y2, 3, 1);
    assert_relative(two.x[0], 0.727272727272727, 1e-14);
    assert_relative(two.se[0], 0.0420827318078432, 1e-13);
}

static const double longley_y[] = {60323, 61122, 60171, 61187, 63221, 63639, 64989, 63761,
                                   66019, 67857, 68169, 66513, 68655, 69564, 69331, 70551};
static const double longley_x[16][6] = {
    {83.0, 234289, 2356, 1590, 107608, 1947},  {88.5, 259426, 2325, 1456, 108632, 1948},
    {88.2, 258054, 3682, 1616, 109773, 1949},  {89.5, 284599, 3351, 1650, 110929, 1950},
    {96.2, 328975, 2099, 3099, 112075, 1951},  {98.1, 346999, 1932, 3594, 113270, 1952},
    {99.0, 365385, 1870, 3547, 115094, 1953},  {100.0, 363112, 3578, 3350, 116219, 1954},
    {101.2, 397469, 2904, 3048, 117388, 1955}, {104.6, 419180, 2822, 2857, 118734, 1956},
    {108.4, 442769, 2936, 2798, 120445, 1957}, {110.8, 444546, 4681, 2637, 121950, 1958},
    {112.6, 482704, 3813, 2552, 123366, 1959}, {114.2, 502601, 3931, 2514, 125368, 1960},
    {115.7, 518173, 4806, 2572, 127852, 1961}, {116.9, 554894, 4007, 2827, 130081, 1962}};

/* NIST StRD Longley (higher level): notorious for its nearly dependent columns. */
static void longley_in_spite_of_its_columns(void **state)
{
    (void)state;
    static const double certified[] = {-3482258.63459582, 15.0618722713733,  -0.0358191792925910,
                                       -2.02022980381683, -1.03322686717359, -0.0511041056535807,
                                       1829.15146461355};
    double terms[16 * 7];
    for (size_t r = 0; r < 16; r++) {
        terms[7 * r] = 1.0;
        memcpy(terms + 7 * r + 1, longley_x[r], sizeof longley_x[r]);
    }
    fit f = fit_full(terms, longley_y, 16, 7);
    for (size_t i = 0; i < COUNT(certified); i++)
        assert_relative(f.x[i], certified[i], 1e-11);
    assert_relative(f.rss, 836424.055505915, 1e-12);
    assert_relative(f.s, 304.854073562, 1e-11);
    /* certified standard deviation of the intercept, from memory */
    assert_relative(f.se[0], 890420.383607373, 1e-6);
}

/* JCGM 100:2008 H.3: straight line of a thermometer's corrections; also as seen from its mean. */
static void calibration_line_comes_out_as_in_h3(void **state)
{
    (void)state;
    static const double t[] = {21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                               24.513, 25.002, 25.503, 26.010, 26.511};
    static const double b[] = {-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                               -0.156, -0.157, -0.159, -0.161, -0.160};
    double terms[22], centred[22], mean = 0.0;
    for (size_t i = 0; i < 11; i++)
        mean += t[i] / 11.0;
    for (size_t i = 0; i < 11; i++) {
        terms[2 * i] = centred[2 * i] = 1.0;
        terms[2 * i + 1] = t[i] - 20.0;
        centred[2 * i + 1] = t[i] - mean;
    }
    fit f = fit_full(terms, b, 11, 2), c = fit_full(centred, b, 11, 2);
    assert_near(f.x[0], -0.1712038, 1e-7);
    assert_near(f.se[0], 0.0028776, 1e-7);
    assert_near(f.x[1], 0.00218270, 1e-8);
    assert_near(f.se[1], 0.00066794, 1e-8);
    assert_near(f.correlation01, -0.93043, 1e-5);
    assert_near(f.s, 0.0034976, 1e-7);
    double at30 = f.x[0] + 10.0 * f.x[1];
    double u30 = sqrt(f.se[0] * f.se[0] + 100.0 * f.se[1] * f.se[1] +
                      20.0 * f.correlation01 * f.se[0] * f.se[1]);
    assert_near(at30, -0.1494, 0.00005);
    assert_near(u30, 0.0041, 0.00005);
    assert_near(c.x[0], -0.1624545, 1e-7);
    assert_near(c.se[0], 0.0010546, 1e-7);
    assert_near(c.correlation01, 0.0, 1e-9);
}

/* --- against a dense solution --------------------------------------------------------------- */

#define NODES 150
#define LINES 400

typedef struct problem {
    size_t start[LINES + 1];
    uint32_t unknown[2 * LINES];
    double factor[2 * LINES], weight[LINES], y[LINES];
    size_t nodes, lines;
} problem;

/* A spine keeps it connected. Shape 0: few chords, 1: many chords, 2: a star, 3: one node. */
static void make_problem(problem *p, int shape)
{
    random_source r = {(uint64_t)shape + 99};
    size_t entries = 0;
    p->nodes = shape == 3 ? 1 : NODES;
    p->lines = shape == 0 ? NODES + 20 : shape == 3 ? 1 : LINES;
    p->start[0] = 0;
    for (size_t i = 0; i < p->lines; i++) {
        size_t b = i < p->nodes ? i : random_below(&r, p->nodes);
        size_t a = i < p->nodes ? i - 1 : shape == 2 ? 0 : random_below(&r, p->nodes);
        if (i > 0 && i < p->nodes && shape == 2)
            a = 0;
        if (i > 0 && a != b) {
            p->unknown[entries] = (uint32_t)a;
            p->factor[entries++] = -1.0;
        }
        p->unknown[entries] = (uint32_t)b;
        p->factor[entries++] = 1.0;
        p->weight[i] = random_uniform(&r, 0.1, 10.0);
        p->y[i] = random_normal(&r);
        p->start[i + 1] = entries;
    }
}

/* Inverse normal matrix and solution by GSL, dense. */
static void solve_densely(const problem *p, gsl_matrix *q, gsl_vector *x)
{
    gsl_vector *right = gsl_vector_calloc(p->nodes);
    gsl_matrix_set_zero(q);
    for (size_t r = 0; r < p->lines; r++)
        for (size_t i = p->start[r]; i < p->start[r + 1]; i++) {
            *gsl_vector_ptr(right, p->unknown[i]) += p->weight[r] * p->factor[i] * p->y[r];
            for (size_t k = p->start[r]; k < p->start[r + 1]; k++)
                *gsl_matrix_ptr(q, p->unknown[i], p->unknown[k]) +=
                    p->weight[r] * p->factor[i] * p->factor[k];
        }
    gsl_linalg_cholesky_decomp1(q);
    gsl_linalg_cholesky_solve(q, right, x);
    gsl_linalg_cholesky_invert(q);
    gsl_vector_free(right);
}

static void compare_with_dense(const problem *p)
{
    static double x[NODES], lanes[NODES * ES_FACTOR_LANES];
    gsl_matrix *q = gsl_matrix_alloc(p->nodes, p->nodes);
    gsl_vector *expected = gsl_vector_alloc(p->nodes);
    solve_densely(p, q, expected);
    es_rows form = {p->lines, p->nodes, p->start, p->unknown, p->factor};
    es_least_squares *ls;
    assert_int_equal(es_least_squares_create(&form, &ls), ES_OK);
    assert_int_equal(es_least_squares_weigh(ls, p->weight), ES_OK);
    es_least_squares_solve(ls, p->y, x);
    es_least_squares_invert(ls);
    for (uint32_t i = 0; i < p->nodes; i++) {
        assert_near(x[i], gsl_vector_get(expected, i), 1e-10);
        assert_relative(es_least_squares_variance(ls, i), gsl_matrix_get(q, i, i), 1e-11);
    }
    for (uint32_t first = 0; first < p->nodes; first += 5) {
        uint32_t asked[] = {first, (first * 7 + 3) % (uint32_t)p->nodes, 0};
        es_least_squares_covariances(ls, asked, 3, lanes);
        for (size_t i = 0; i < p->nodes; i++)
            for (size_t k = 0; k < 3; k++)
                assert_near(lanes[i * ES_FACTOR_LANES + k], gsl_matrix_get(q, asked[k], i), 1e-9);
    }
    double trace = 0.0; /* of the projection: the number of unknowns */
    for (size_t r = 0; r < p->lines; r++)
        trace += p->weight[r] * es_least_squares_row_variance(ls, r);
    assert_near(trace, (double)p->nodes, 1e-8);
    es_least_squares_destroy(ls);
    gsl_matrix_free(q);
    gsl_vector_free(expected);
}

static void sparse_problems_agree_with_a_dense_solution(void **state)
{
    (void)state;
    static problem p;
    for (int shape = 0; shape < 4; shape++) {
        make_problem(&p, shape);
        compare_with_dense(&p);
    }
}

static void an_undetermined_unknown_is_refused(void **state)
{
    (void)state;
    /* only the difference of two unknowns is observed */
    size_t start[] = {0, 2};
    uint32_t unknown[] = {0, 1};
    double factor[] = {-1.0, 1.0}, weight = 1.0, none = 0.0;
    es_rows form = {1, 2, start, unknown, factor};
    es_least_squares *ls;
    assert_int_equal(es_least_squares_create(&form, &ls), ES_OK);
    assert_int_equal(es_least_squares_weigh(ls, &weight), ES_ERR_INPUT);
    assert_int_equal(es_least_squares_weigh(ls, &none), ES_ERR_INPUT);
    es_least_squares_destroy(ls);
    es_least_squares_destroy(NULL);
}

static void solving_never_allocates(void **state)
{
    (void)state;
    static problem p;
    static double x[NODES], lanes[NODES * ES_FACTOR_LANES];
    make_problem(&p, 1);
    es_rows form = {p.lines, p.nodes, p.start, p.unknown, p.factor};
    es_least_squares *ls;
    uint32_t zero = 0;
    assert_int_equal(es_least_squares_create(&form, &ls), ES_OK);
    alloc_probe_reset();
    es_least_squares_weigh(ls, p.weight);
    es_least_squares_solve(ls, p.y, x);
    es_least_squares_invert(ls);
    es_least_squares_covariances(ls, &zero, 1, lanes);
    assert_int_equal(alloc_probe_calls(), 0);
    es_least_squares_destroy(ls);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    static problem p;
    make_problem(&p, 1);
    es_rows form = {p.lines, p.nodes, p.start, p.unknown, p.factor};
    es_least_squares *ls = NULL;
    long n;
    ALLOC_SWEEP(n, es_least_squares_create(&form, &ls), ls);
    assert_true(n > 20);
    es_least_squares_destroy(ls);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(norris_to_its_certified_digits),
        cmocka_unit_test(lines_through_the_origin_to_their_certified_digits),
        cmocka_unit_test(longley_in_spite_of_its_columns),
        cmocka_unit_test(calibration_line_comes_out_as_in_h3),
        cmocka_unit_test(sparse_problems_agree_with_a_dense_solution),
        cmocka_unit_test(an_undetermined_unknown_is_refused),
        cmocka_unit_test(solving_never_allocates),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("trust/least_squares", tests, NULL, NULL);
}
