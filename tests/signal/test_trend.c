#include "cm.h"

#include "alloc_probe.h"
#include "evenspool/signal/trend.h"
#include "tone.h"

#define STEP_S (1.0 / 1201.0)

static es_trend *trend(void)
{
    es_trend *t;
    assert_int_equal(es_trend_create(STEP_S, &t), ES_OK);
    return t;
}

static void a_straight_line_is_read_as_such(void **state)
{
    (void)state;
    static const double lengths_s[] = {6.0, 60.0, 1000.0};
    for (size_t k = 0; k < COUNT(lengths_s); k++) {
        es_trend *t = trend();
        size_t n = (size_t)(lengths_s[k] * 1201.0);
        for (size_t i = 0; i < n; i++)
            es_trend_push(t, (double)i * STEP_S, 3000.0 + 0.01 * (double)i * STEP_S);
        es_trend_figures f = es_trend_figures_of(t);
        double span_s = (double)n * STEP_S, part_s = fmin(10.0, fmax(1.0, span_s / 10.0));
        assert_near(f.counted_s, span_s, 1e-6);
        assert_near(f.mean, 3000.0 + 0.005 * span_s, 1e-3);
        assert_near(f.slope_per_s, 0.01, 1e-6);
        assert_near(f.start, 3000.0 + 0.005 * part_s, 0.001 + 1e-3 * span_s / 60.0);
        assert_near(f.end, 3000.0 + 0.01 * (span_s - part_s / 2.0), 0.001 + 1e-3 * span_s / 60.0);
        assert_near(f.mean_u, 0.0, 1e-5 * span_s);
        es_trend_destroy(t);
    }
}

/* A tenth of the time 5 % off does not move the robust slope; least squares would be far out. */
static void the_slope_is_robust(void **state)
{
    (void)state;
    es_trend *t = trend();
    for (size_t i = 0; i < 60 * 1201; i++) {
        double at_s = (double)i * STEP_S, hit = at_s > 50.0 && at_s < 56.0 ? 150.0 : 0.0;
        es_trend_push(t, at_s, 3000.0 + 0.02 * at_s + hit);
    }
    assert_near(es_trend_figures_of(t).slope_per_s, 0.02, 0.01);
    es_trend_destroy(t);
}

/*
 * Does mean_u tell the truth? Random flutter (first-order noise, corner 3 Hz) of known zero mean:
 * |mean| / mean_u must be distributed like Student's t with mean_dof degrees of freedom, so that
 * 95 % lie inside its 2.179 (12 degrees; JCGM 100 table G.2: 2.18).
 */
static void the_uncertainty_of_the_mean_is_true(void **state)
{
    (void)state;
    uint64_t seed = 42;
    int inside = 0, runs = 600;
    for (int k = 0; k < runs; k++) {
        es_trend *t = trend();
        double pole = exp(-TONE_TWO_PI * 3.0 * STEP_S), x = 0.0;
        for (int i = 0; i < 2000; i++)
            x = pole * x + test_gauss(&seed);
        for (int i = 0; i < 20 * 1201; i++) {
            x = pole * x + test_gauss(&seed);
            es_trend_push(t, i * STEP_S, x);
        }
        es_trend_figures f = es_trend_figures_of(t);
        assert_near(f.mean_dof, 12.0, 0.0);
        inside += fabs(f.mean) <= 2.179 * f.mean_u;
        es_trend_destroy(t);
    }
    /* 95 % +- 3 standard errors of a count of 600 */
    assert_in_range(inside, 554, 586);
}

static void the_picture_keeps_extremes_and_gaps(void **state)
{
    (void)state;
    es_trend *t = trend();
    for (size_t i = 0; i < 300 * 1201; i++) {
        double at_s = 5.0 + (double)i * STEP_S;
        if (at_s > 100.0 && at_s < 120.0)
            continue;
        es_trend_push(t, at_s, i == 12345 ? 9.0 : i == 200000 ? -9.0 : 1.0);
    }
    size_t count, seen = 0, empty = 0;
    double step_s, low = 1.0, high = 1.0;
    const es_trend_block *block = es_trend_blocks(t, &count, &step_s);
    assert_true(count <= ES_TREND_BLOCKS && (double)count * step_s >= 305.0 - step_s);
    for (size_t i = 0; i < count; i++) {
        seen += block[i].count;
        if (block[i].count == 0) {
            empty++;
            continue;
        }
        low = fmin(low, block[i].low);
        high = fmax(high, block[i].high);
    }
    assert_true(high == 9.0 && low == -9.0);
    assert_near((double)empty * step_s, 25.0, 4.0 * step_s);
    assert_near((double)seen * STEP_S, es_trend_figures_of(t).counted_s, 1e-9);
    es_trend_destroy(t);
}

static void too_little_is_not_a_number(void **state)
{
    (void)state;
    es_trend *t = trend();
    es_trend_figures f = es_trend_figures_of(t);
    assert_true(isnan(f.mean) && isnan(f.mean_u) && isnan(f.slope_per_s) && isnan(f.start));
    for (int i = 0; i < 60; i++)
        es_trend_push(t, i * STEP_S, 1.0);
    f = es_trend_figures_of(t);
    assert_near(f.mean, 1.0, 0.0);
    assert_true(isnan(f.mean_u) && isnan(f.slope_per_s) && isnan(f.end));
    es_trend_destroy(t);
    assert_int_equal(es_trend_create(0.0, &t), ES_ERR_ARG);
}

static void survives_an_allocation_failure(void **state)
{
    (void)state;
    es_trend *t;
    alloc_probe_fail_after(0);
    assert_int_equal(es_trend_create(STEP_S, &t), ES_ERR_NOMEM);
    assert_null(t);
    alloc_probe_reset();
    t = trend();
    long before = alloc_probe_calls();
    for (int i = 0; i < 100000; i++)
        es_trend_push(t, i * STEP_S, 1.0);
    es_trend_figures_of(t);
    assert_int_equal(alloc_probe_calls(), before);
    es_trend_destroy(t);
    assert_int_equal(alloc_probe_live(), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_straight_line_is_read_as_such),
        cmocka_unit_test(the_slope_is_robust),
        cmocka_unit_test(the_uncertainty_of_the_mean_is_true),
        cmocka_unit_test(the_picture_keeps_extremes_and_gaps),
        cmocka_unit_test(too_little_is_not_a_number),
        cmocka_unit_test(survives_an_allocation_failure),
    };
    return cmocka_run_group_tests_name("signal/trend", tests, NULL, NULL);
}
