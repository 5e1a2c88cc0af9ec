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
        cmocka_unit_test(a_low_pass_keeps_its_promise),
    };
    return cmocka_run_group_tests_name("signal/fir", tests, NULL, NULL);
}
