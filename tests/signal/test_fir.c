#include "cm.h"

#include "signal/fir.h"
#include "tone.h"

/* Slow oracle in double beside the lanes in float. */
static void inner_products_agree_with_a_plain_sum(void **state)
{
    (void)state;
    uint64_t seed = 3;
    float a[104], b[104], c[104];
    for (size_t i = 0; i < 104; i++) {
        a[i] = (float)test_gauss(&seed);
        b[i] = (float)test_gauss(&seed);
        c[i] = (float)test_gauss(&seed);
    }
    for (size_t n = 0; n <= 104; n += ES_FIR_LANES) {
        double ab = 0.0, ac = 0.0;
        for (size_t i = 0; i < n; i++) {
            ab += (double)a[i] * (double)b[i];
            ac += (double)a[i] * (double)c[i];
        }
        float re, im;
        es_fir_dot2(a, b, c, n, &re, &im);
        assert_near((double)re, ab, 2e-5);
        assert_near((double)im, ac, 2e-5);
        assert_near((double)es_fir_dot(a, b, n), ab, 2e-5);
    }
}

#define RUN_SAMPLES 200
#define RUN_TAPS 24
#define RUN_STEP 7

static void fill(float *at, size_t count, uint64_t seed)
{
    for (size_t i = 0; i < count; i++)
        at[i] = (float)test_gauss(&seed);
}

static double plain_sum(const float *in, const float *taps, size_t count)
{
    double sum = 0.0;
    for (size_t i = 0; i < count; i++)
        sum += (double)in[i] * (double)taps[i];
    return sum;
}

static void runs_of_outputs_agree_with_plain_sums(void **state)
{
    (void)state;
    float a[RUN_SAMPLES], b[RUN_SAMPLES], p[RUN_TAPS], q[RUN_TAPS], x[25], y[25];
    fill(a, RUN_SAMPLES, 5);
    fill(b, RUN_SAMPLES, 6);
    fill(p, RUN_TAPS, 7);
    fill(q, RUN_TAPS, 8);
    es_fir_split(a, RUN_STEP, 25, p, q, RUN_TAPS, x, y);
    for (size_t j = 0; j < 25; j++) {
        assert_near((double)x[j], plain_sum(a + j * RUN_STEP, p, RUN_TAPS), 2e-5);
        assert_near((double)y[j], plain_sum(a + j * RUN_STEP, q, RUN_TAPS), 2e-5);
    }
    es_fir_both(a, b, RUN_STEP, 25, p, RUN_TAPS, x, y);
    for (size_t j = 0; j < 25; j++) {
        assert_near((double)x[j], plain_sum(a + j * RUN_STEP, p, RUN_TAPS), 2e-5);
        assert_near((double)y[j], plain_sum(b + j * RUN_STEP, p, RUN_TAPS), 2e-5);
    }
}

/* Block sizes must not show in any figure: an output is the same wherever its run begins and ends. */
static void an_output_has_the_same_bits_in_any_run(void **state)
{
    (void)state;
    float a[RUN_SAMPLES], p[RUN_TAPS], q[RUN_TAPS], x[25], y[25], part_x[25], part_y[25];
    fill(a, RUN_SAMPLES, 9);
    fill(p, RUN_TAPS, 10);
    fill(q, RUN_TAPS, 11);
    es_fir_split(a, RUN_STEP, 25, p, q, RUN_TAPS, x, y);
    for (size_t from = 0; from < 25; from++)
        for (size_t count = 1; from + count <= 25; count++) {
            es_fir_split(a + from * RUN_STEP, RUN_STEP, count, p, q, RUN_TAPS, part_x, part_y);
            assert_memory_equal(part_x, x + from, count * sizeof *x);
            assert_memory_equal(part_y, y + from, count * sizeof *y);
        }
}

static void reads_between_four_rows(void **state)
{
    (void)state;
    float rows[4 * RUN_TAPS], in[RUN_TAPS];
    static const float by[4] = {-0.0625f, 0.5625f, 0.5625f, -0.0625f}; /* halfway, by the cubic */
    fill(rows, 4 * RUN_TAPS, 12);
    fill(in, RUN_TAPS, 13);
    double sum = 0.0;
    for (size_t k = 0; k < 4; k++)
        sum += (double)by[k] * plain_sum(in, rows + k * RUN_TAPS, RUN_TAPS);
    assert_near((double)es_fir_between(rows, by, in, RUN_TAPS), sum, 2e-5);
}

static double gain_at(const double *taps, size_t count, double cycles)
{
    double re = 0.0, im = 0.0;
    for (size_t i = 0; i < count; i++) {
        re += taps[i] * cos(TONE_TWO_PI * cycles * (double)i);
        im += taps[i] * sin(TONE_TWO_PI * cycles * (double)i);
    }
    return hypot(re, im);
}

/* Kaiser's own design formulas promise the attenuation outside the transition. */
static void a_low_pass_keeps_its_promise(void **state)
{
    (void)state;
    double taps[512];
    size_t n = es_kaiser_taps(96.0, 0.05);
    assert_true(n <= 512 && n % ES_FIR_LANES == 0);
    es_fir_lowpass(taps, n, 0.1, 96.0);
    for (double f = 0.0; f <= 0.075; f += 0.001)
        assert_near(gain_at(taps, n, f), 1.0, 3e-5);
    for (double f = 0.125; f <= 0.5; f += 0.001)
        assert_near(gain_at(taps, n, f), 0.0, 3e-5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(inner_products_agree_with_a_plain_sum),
        cmocka_unit_test(runs_of_outputs_agree_with_plain_sums),
        cmocka_unit_test(an_output_has_the_same_bits_in_any_run),
        cmocka_unit_test(reads_between_four_rows),
        cmocka_unit_test(a_low_pass_keeps_its_promise),
    };
    return cmocka_run_group_tests_name("signal/fir", tests, NULL, NULL);
}
