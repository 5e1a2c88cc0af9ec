#include "cm.h"

#include <stdlib.h>

#include "evenspool/signal/scan.h"
#include "evenspool/signal/tone_fit.h"
#include "evenspool/signal/tone_tracker.h"
#include "tone.h"

/* Rife and Boorstyn 1974, IEEE Trans. IT-20 (formula from memory), evaluated in 40 digits. */
static void the_bound_has_its_known_values(void **state)
{
    (void)state;
    assert_near(es_frequency_bound_hz(48000, 1.0, 1e4), 2.516461e-5, 1e-10);
    assert_near(es_frequency_bound_hz(48000, 10.0, 1e4), 7.957747e-7, 1e-12);
    assert_near(es_frequency_bound_hz(8000, 1.0, 1e2), 6.164044e-4, 1e-9);
}

static void weights_sum_to_one_and_mirror(void **state)
{
    (void)state;
    double sum = 0.0;
    for (size_t i = 0; i < 1000; i++) {
        sum += es_tone_fit_weight(i, 1000);
        assert_near(es_tone_fit_weight(i, 1000), es_tone_fit_weight(999 - i, 1000), 1e-15);
    }
    assert_near(sum, 1.0, 1e-12);
}

static void running_sums_equal_the_weighted_mean(void **state)
{
    (void)state;
    es_tone_fit fit = {0};
    uint64_t seed = 5;
    double values[777], mean = 0.0;
    assert_true(isnan(es_tone_fit_value(&fit)));
    for (size_t i = 0; i < COUNT(values); i++) {
        values[i] = test_gauss(&seed);
        es_tone_fit_push(&fit, values[i]);
    }
    for (size_t i = 0; i < COUNT(values); i++)
        mean += es_tone_fit_weight(i, COUNT(values)) * values[i];
    assert_near(es_tone_fit_value(&fit), mean, 1e-12);
}

/* A small run of what benchmarks/bench_tone.c shows in full: variance near the bound. */
static void tracker_and_fit_together_are_efficient(void **state)
{
    (void)state;
    double rate = 48000, amplitude = 0.3, snr_db = 20.0, window_s = 0.1;
    test_tone t = {.rate_hz = rate,
                   .tone_hz = 3150,
                   .amplitude = amplitude,
                   .error = 0.003,
                   .noise_rms = amplitude / sqrt(2.0) * pow(10.0, -snr_db / 20.0),
                   .seed = 9};
    size_t block = 4096, windows = 0, count;
    es_tone_tracker *tracker;
    static float sound[4096];
    static es_tone_reading readings[256];
    assert_int_equal(es_tone_tracker_create(rate, ES_TRACKER_QUICK, &tracker), ES_OK);
    assert_int_equal(es_tone_tracker_tune(tracker, 3150, amplitude), ES_OK);
    double true_hz = 3150 * 1.003, square = 0.0;
    size_t per_window = (size_t)(window_s * ES_READINGS_HZ + 0.5);
    es_tone_fit fit = {0};
    for (size_t at = 0; windows < 400; at += block) {
        test_tone_fill(&t, at, sound, 1, block);
        es_tone_tracker_process(tracker, sound, 1, block, readings, COUNT(readings), &count);
        for (size_t i = 0; i < count; i++) {
            es_tone_fit_push(&fit, readings[i].hz - true_hz);
            if (fit.count < per_window)
                continue;
            square += es_tone_fit_value(&fit) * es_tone_fit_value(&fit);
            windows++;
            fit = (es_tone_fit){0};
        }
    }
    double bound = es_frequency_bound_hz(rate, window_s, pow(10.0, snr_db / 10.0));
    double ratio = square / (double)windows / (bound * bound);
    assert_near(ratio, 1.0, 0.21); /* 400 windows know a variance within 7 %: three of that */
    es_tone_tracker_destroy(tracker);
}

static void scanning_sees_peaks_and_what_is_no_number(void **state)
{
    (void)state;
    float at[37];
    for (size_t i = 0; i < COUNT(at); i++)
        at[i] = 0.001f * (float)i;
    assert_near((double)es_scan_peak(at, COUNT(at)), 0.036, 1e-6);
    for (size_t i = 0; i < COUNT(at); i++) {
        float was = at[i];
        at[i] = -2.0f;
        assert_near((double)es_scan_peak(at, COUNT(at)), 2.0, 0.0);
        at[i] = NAN;
        assert_true(isinf(es_scan_peak(at, COUNT(at))));
        at[i] = -INFINITY;
        assert_true(isinf(es_scan_peak(at, COUNT(at))));
        at[i] = was;
    }
    assert_near((double)es_scan_peak(at, 0), 0.0, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_bound_has_its_known_values),
        cmocka_unit_test(weights_sum_to_one_and_mirror),
        cmocka_unit_test(running_sums_equal_the_weighted_mean),
        cmocka_unit_test(tracker_and_fit_together_are_efficient),
        cmocka_unit_test(scanning_sees_peaks_and_what_is_no_number),
    };
    return cmocka_run_group_tests_name("signal/tone_fit", tests, NULL, NULL);
}
