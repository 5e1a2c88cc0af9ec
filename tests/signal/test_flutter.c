#include "cm.h"

#include "alloc_sweep.h"
#include "evenspool/signal/flutter.h"
#include "evenspool/signal/tone_tracker.h"
#include "tone.h"

/* IEC 60386:1972 table (the same in AES6-1982/2008 and DIN 45507); values from memory. */
static const double weighting[][2] = {
    {0.1, -48.0}, {0.2, -30.6},  {0.315, -19.7}, {0.4, -15.0},   {0.63, -8.4},  {0.8, -6.0},
    {1.0, -4.2},  {1.6, -1.8},   {2.0, -0.9},    {4.0, 0.0},     {6.3, -0.9},   {10.0, -2.1},
    {20.0, -5.9}, {40.0, -10.4}, {63.0, -14.2},  {100.0, -17.3}, {200.0, -23.0}};

static es_flutter *meter(void)
{
    es_flutter *f;
    assert_int_equal(es_flutter_create(&f), ES_OK);
    return f;
}

static es_flutter_figures sine(double rate_hz, double peak, double seconds)
{
    es_flutter *f = meter();
    long lead = (long)(15.0 * ES_READINGS_HZ), count = (long)(seconds * ES_READINGS_HZ);
    for (long i = -lead; i < count; i++)
        es_flutter_push(f, peak * sin(TONE_TWO_PI * rate_hz * (double)i / ES_READINGS_HZ), i >= 0);
    es_flutter_figures figures = es_flutter_figures_of(f);
    es_flutter_destroy(f);
    return figures;
}

static void the_curve_is_the_standards_table(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(weighting); i++)
        assert_near(es_weighting_db(weighting[i][0]), weighting[i][1], 0.05);
}

/* Between the table's points the curve must not wander: straight in log frequency within 0.7 dB
 * (the table itself bends by as much). */
static void the_curve_is_smooth_between(void **state)
{
    (void)state;
    for (size_t i = 0; i + 1 < COUNT(weighting); i++)
        for (double part = 0.1; part < 0.95; part += 0.1) {
            double hz = weighting[i][0] * pow(weighting[i + 1][0] / weighting[i][0], part);
            double chord = weighting[i][1] + part * (weighting[i + 1][1] - weighting[i][1]);
            assert_near(es_weighting_db(hz), chord, 0.7);
        }
}

/* Largest deviation from what a sine should read: 1 % of it or 0.001 %. */
static double allowed(double figure)
{
    return fmax(0.01 * figure, 1e-5);
}

/* Sines of 0.01 .. 2 %: within 1 % of reading or 0.001 %. Two-sigma of a sine is 0.99692 of its peak
 * (the level that |sin| exceeds for 5 % of the time: cos(pi 0.05 / 2), computed). */
static void reads_sinusoidal_flutter(void **state)
{
    (void)state;
    static const double peaks[] = {1e-4, 1e-3, 2e-2};
    for (size_t i = 1; i < COUNT(weighting); i++)
        for (size_t k = 0; k < COUNT(peaks); k++) {
            double peak = peaks[k], weighted = peak * pow(10.0, weighting[i][1] / 20.0);
            es_flutter_figures f = sine(weighting[i][0], peak, 60.0);
            assert_near(f.weighted_quasi_peak, weighted, allowed(weighted));
            assert_near(f.weighted_rms, weighted / sqrt(2.0), allowed(weighted / sqrt(2.0)));
            assert_near(f.weighted_two_sigma, weighted * cos(TONE_TWO_PI * 0.05 / 4.0),
                        allowed(weighted));
            assert_near(f.unweighted_rms, peak / sqrt(2.0), (i == 1 ? 0.02 : 0.01) * peak);
            assert_near(f.unweighted_peak, peak, 0.015 * peak);
        }
}

/* Between the table's points the filter itself says what to expect: 1 % of that. And the needle stands
 * still: its detector knows the amplitude, it does not ride from crest to crest. */
static void a_steady_sine_reads_its_amplitude_at_every_rate(void **state)
{
    (void)state;
    for (double hz = 0.2; hz < 201.0; hz *= 1.189207) { /* quarter octaves */
        double weighted = 1e-3 * pow(10.0, es_weighting_db(hz) / 20.0), most = 0.0, least = 1.0;
        es_flutter *f = meter();
        for (long i = -15 * 1201; i < 20 * 1201; i++) {
            es_flutter_push(f, 1e-3 * sin(TONE_TWO_PI * hz * (double)i / ES_READINGS_HZ), i >= 0);
            if (i >= 6 * 1201) { /* what is used of the sums: what is settled */
                most = fmax(most, es_flutter_needle(f));
                least = fmin(least, es_flutter_needle(f));
            }
        }
        assert_near(most / weighted, 1.0, 0.01);
        assert_near(least / most, 1.0, 0.015);
        assert_true(es_flutter_figures_of(f).weighted_quasi_peak == most);
        es_flutter_destroy(f);
    }
}

/*
 * Pulses of one direction, once a second, against a 4 Hz sine of the same peak-to-peak size:
 * IEC 60386 / AES6: 21 +- 3, 62 +- 6, 90 +- 6, 100 +- 4 %; between 100 ms pulses the reading
 * falls to 40 +- 4 % (90 and 40 from the abstract of AES6, the rest from memory).
 */
static void the_quasi_peak_keeps_to_the_pulse_table(void **state)
{
    (void)state;
    static const double pulses[][3] = {
        {0.010, 21, 3}, {0.030, 62, 6}, {0.060, 90, 6}, {0.100, 100, 4}};
    double sine_reads = sine(4.0, 1e-3, 20.0).weighted_quasi_peak;
    for (size_t k = 0; k < COUNT(pulses); k++) {
        es_flutter *f = meter();
        double most = 0.0, least = 1.0;
        for (long i = 0; i < (long)(20.0 * ES_READINGS_HZ); i++) {
            double before = ((double)i - 0.5) / ES_READINGS_HZ,
                   after = before + 1.0 / ES_READINGS_HZ;
            double second = floor(before), on = second + 0.3, off = on + pulses[k][0];
            double inside = fmax(0.0, fmin(after, off) - fmax(before, on)) * ES_READINGS_HZ;
            es_flutter_push(f, 2e-3 * inside, 0);
            if (before > 12.0) {
                most = fmax(most, es_flutter_needle(f));
                least = fmin(least, es_flutter_needle(f));
            }
        }
        assert_near(100.0 * most / sine_reads, pulses[k][1], pulses[k][2]);
        if (k == 3)
            assert_near(100.0 * least / sine_reads, 40.0, 4.0);
        es_flutter_destroy(f);
    }
}

/* Two sigma of Gaussian noise is 1.95996 standard deviations (the 95 % point of the normal law). */
static void the_two_sigma_of_noise(void **state)
{
    (void)state;
    es_flutter *f = meter();
    uint64_t seed = 7;
    for (long i = 0; i < 300 * 1201; i++)
        es_flutter_push(f, 1e-3 * test_gauss(&seed), i > 12 * 1201);
    es_flutter_figures figures = es_flutter_figures_of(f);
    assert_near(figures.weighted_two_sigma / figures.weighted_rms, 1.95996, 0.03);
    es_flutter_destroy(f);
}

/* 4 Hz and 20 Hz of 0.1 % together: weighted rms sqrt(0.1^2 + 0.0507^2) / sqrt 2 = 0.0793 %, and no
 * peak above the sum of the weighted amplitudes, 0.1507 % (worked by hand from the table). */
static void adds_two_components_by_power(void **state)
{
    (void)state;
    es_flutter *f = meter();
    for (long i = -15 * 1201; i < 30 * 1201; i++) {
        double t = TONE_TWO_PI * (double)i / ES_READINGS_HZ;
        es_flutter_push(f, 1e-3 * (sin(4.0 * t) + sin(20.0 * t)), i >= 0);
    }
    es_flutter_figures figures = es_flutter_figures_of(f);
    assert_near(figures.weighted_rms, 0.793e-3, 0.01 * 0.793e-3);
    assert_true(figures.weighted_two_sigma <= 1.507e-3);
    assert_near(figures.wow_rms, 1e-3 / sqrt(2.0), 0.005 * 1e-3);
    assert_near(figures.flutter_rms, 1e-3 / sqrt(2.0), 0.005 * 1e-3);
    es_flutter_destroy(f);
}

static void what_does_not_count_leaves_no_trace(void **state)
{
    (void)state;
    es_flutter *f = meter();
    for (int i = 0; i < 2402; i++)
        es_flutter_push(f, 0.01, 0);
    es_flutter_figures figures = es_flutter_figures_of(f);
    assert_true(figures.counted_s == 0.0 && isnan(figures.weighted_rms) &&
                isnan(figures.unweighted_peak));
    es_flutter_destroy(f);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_flutter *f = NULL;
    long n;
    ALLOC_SWEEP(n, es_flutter_create(&f), f);
    assert_int_equal(n, 2);
    es_flutter_push(f, 0.1, 1);
    assert_int_equal(alloc_probe_calls(), 2);
    es_flutter_destroy(f);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_curve_is_the_standards_table),
        cmocka_unit_test(the_curve_is_smooth_between),
        cmocka_unit_test(reads_sinusoidal_flutter),
        cmocka_unit_test(a_steady_sine_reads_its_amplitude_at_every_rate),
        cmocka_unit_test(the_quasi_peak_keeps_to_the_pulse_table),
        cmocka_unit_test(the_two_sigma_of_noise),
        cmocka_unit_test(adds_two_components_by_power),
        cmocka_unit_test(what_does_not_count_leaves_no_trace),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("signal/flutter", tests, NULL, NULL);
}
