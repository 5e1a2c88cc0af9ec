#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "evenspool/base/units.h"
#include "near.h"
#include "tape/noise.h"
#include "tape/wave.h"

#define COUNT 1000000

static es_gauss table;
static double samples[COUNT];

/* First outputs of the authors' reference programs for xoshiro256++ (state 1, 2, 3, 4) and for
 * splitmix64 (seed 1234567), as published with them. */
static void follows_the_published_generators(void **state)
{
    (void)state;
    static const uint64_t first[] = {41943041u, 58720359u, 3588806011781223u, 3591011842654386u,
                                     9228616714210784205u};
    static const uint64_t seeded[] = {6457827717110365317u, 3203168211198807973u,
                                      9817491932198370423u, 4593380528125082431u};
    es_rng rng = {{1, 2, 3, 4}};
    for (size_t i = 0; i < sizeof first / sizeof *first; i++)
        assert_true(es_rng_next(&rng) == first[i]);
    rng = es_rng_seeded(1234567, 0);
    for (int i = 0; i < 4; i++)
        assert_true(rng.state[i] == seeded[i]);
}

static void streams_of_a_seed_differ(void **state)
{
    (void)state;
    es_rng a = es_rng_seeded(7, 1), b = es_rng_seeded(7, 2), c = es_rng_seeded(8, 1);
    assert_true(es_rng_next(&a) != es_rng_next(&b));
    es_rng d = es_rng_seeded(7, 1);
    assert_true(es_rng_next(&d) != es_rng_next(&c));
}

static double moment_of(int power)
{
    double sum = 0.0;
    for (int i = 0; i < COUNT; i++)
        sum += pow(samples[i], power);
    return sum / COUNT;
}

static double share_beyond(double limit)
{
    int beyond = 0;
    for (int i = 0; i < COUNT; i++)
        beyond += fabs(samples[i]) > limit;
    return (double)beyond / COUNT;
}

/* Moments of the normal distribution (0, 1, 0, 3) and its tails, erfc(x / sqrt 2); four standard
 * errors of a million draws. 3.4426 is where the generator's tail begins. */
static void draws_normal_numbers(void **state)
{
    (void)state;
    static const double limits[] = {0.5, 1.0, 2.0, 3.0, 3.442619855899, 4.0};
    es_rng rng = es_rng_seeded(11, 3);
    es_gauss_prepare(&table);
    for (int i = 0; i < COUNT; i++)
        samples[i] = es_gauss_next(&table, &rng);
    double root = sqrt(COUNT);
    assert_near(moment_of(1), 0.0, 4.0 / root);
    assert_near(moment_of(2), 1.0, 4.0 * sqrt(2.0) / root);
    assert_near(moment_of(3), 0.0, 4.0 * sqrt(15.0) / root);
    assert_near(moment_of(4), 3.0, 4.0 * sqrt(96.0) / root);
    for (size_t i = 0; i < sizeof limits / sizeof *limits; i++) {
        double share = erfc(limits[i] / sqrt(2.0));
        assert_near(share_beyond(limits[i]), share, 4.0 * sqrt(share) / root);
    }
}

/* Power of the samples near a frequency, averaged over stretches with a Hann window. */
static double power_near(double hz, double rate_hz, int length)
{
    double sum = 0.0;
    int stretches = COUNT / length;
    for (int s = 0; s < stretches; s++) {
        double re = 0.0, im = 0.0;
        for (int i = 0; i < length; i++) {
            double window = 0.5 - 0.5 * cos(ES_TWO_PI * i / length);
            double angle = ES_TWO_PI * hz * i / rate_hz;
            re += window * samples[s * length + i] * cos(angle);
            im += window * samples[s * length + i] * sin(angle);
        }
        sum += re * re + im * im;
    }
    return sum / stretches;
}

/* Butterworth, order 2: half the power at the corners, 1 / (1 + 16) an octave outside. */
static void shapes_noise_to_its_band(void **state)
{
    (void)state;
    es_band band;
    es_gauss_prepare(&table);
    es_band_start(&band, 0.25, 2.0, 40.0, 1000.0, es_rng_seeded(5, 1), &table);
    es_band_fill(&band, &table, samples, COUNT);
    double middle = power_near(9.0, 1000.0, 4000);
    assert_near(power_near(2.0, 1000.0, 4000) / middle, 0.5, 0.1);
    assert_near(power_near(40.0, 1000.0, 4000) / middle, 0.5, 0.1);
    assert_near(power_near(80.0, 1000.0, 4000) / middle, 1.0 / 17.0, 0.015);
    assert_near(power_near(1.0, 1000.0, 4000) / middle, 1.0 / 17.0, 0.03);
    assert_near(sqrt(moment_of(2)), 0.25, 0.0025);
}

/* Far below the sample rate too. 125 s of 0.5 to 5 Hz are about 1100 independent values: 2 %
 * standard error. */
static void slow_noise_has_its_rms(void **state)
{
    (void)state;
    es_band band;
    es_gauss_prepare(&table);
    es_band_start(&band, 0.25, 0.5, 5.0, 8000.0, es_rng_seeded(6, 1), &table);
    es_band_fill(&band, &table, samples, COUNT);
    assert_near(sqrt(moment_of(2)), 0.25, 0.02);
}

/* The very first sample has the full variance already: 20 000 bands, four standard errors. */
static void noise_begins_in_its_steady_state(void **state)
{
    (void)state;
    enum { BANDS = 20000 };
    double sum = 0.0;
    es_gauss_prepare(&table);
    for (uint64_t i = 0; i < BANDS; i++) {
        es_band band;
        double first;
        es_band_start(&band, 1.0, 0.1, 5.0, 48000.0, es_rng_seeded(i, 9), &table);
        es_band_fill(&band, &table, &first, 1);
        sum += first * first;
    }
    assert_near(sum / BANDS, 1.0, 4.0 * sqrt(2.0 / BANDS));
}

static void no_rms_means_no_noise(void **state)
{
    (void)state;
    es_band band;
    double out[4] = {1.0, 1.0, 1.0, 1.0};
    es_gauss_prepare(&table);
    es_band_start(&band, 0.0, 1.0, 10.0, 8000.0, es_rng_seeded(1, 1), &table);
    es_band_fill(&band, &table, out, 4);
    for (int i = 0; i < 4; i++)
        assert_near(out[i], 0.0, 0.0);
}

/* Against the C library's sin() in long double, all over the circle. */
static void sines_are_exact_to_the_last_digits(void **state)
{
    (void)state;
    for (int i = -5000; i <= 5000; i++) {
        double turns = i / 10000.0;
        double truth =
            (double)sinl(2.0L * 3.14159265358979323846264338327950288L * (long double)turns);
        assert_near(es_sine(turns), truth, 1e-15);
    }
    static const double wraps[][2] = {
        {0.25, 0.25}, {0.75, -0.25}, {-0.75, 0.25}, {12345.125, 0.125}};
    for (size_t i = 0; i < sizeof wraps / sizeof *wraps; i++)
        assert_near(es_wrap(wraps[i][0]), wraps[i][1], 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(follows_the_published_generators),
        cmocka_unit_test(streams_of_a_seed_differ),
        cmocka_unit_test(draws_normal_numbers),
        cmocka_unit_test(shapes_noise_to_its_band),
        cmocka_unit_test(slow_noise_has_its_rms),
        cmocka_unit_test(noise_begins_in_its_steady_state),
        cmocka_unit_test(no_rms_means_no_noise),
        cmocka_unit_test(sines_are_exact_to_the_last_digits),
    };
    return cmocka_run_group_tests_name("tape/noise", tests, NULL, NULL);
}
