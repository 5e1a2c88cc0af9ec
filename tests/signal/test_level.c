#include "cm.h"

#include "alloc_sweep.h"
#include "evenspool/base/units.h"
#include "evenspool/signal/level.h"
#include "tone.h"

#include <string.h>

#define RATE 48000
#define FRAMES (3 * RATE)

static float left[FRAMES], right[FRAMES];

/* A tone and its third harmonic, both carried by the same speed curve. */
static void fill(test_tone tone, double third, float *out)
{
    test_tone quiet = tone;
    quiet.noise_rms = 0.0;
    quiet.tone_hz *= 3.0;
    quiet.amplitude *= third;
    for (size_t i = 0; i < FRAMES; i++)
        out[i] = (float)(test_tone_sample(&tone, i) + test_tone_sample(&quiet, i));
}

static es_level_figures read(double rate_hz, double tone_hz, int channel)
{
    es_level *l;
    assert_int_equal(es_level_create(rate_hz, &l), ES_OK);
    assert_int_equal(es_level_tune(l, tone_hz), ES_OK);
    es_level_push(l, left, right, 1, FRAMES);
    es_level_figures f = es_level_figures_of(l, channel);
    es_level_destroy(l);
    return f;
}

/* Noise so much under a sine of that amplitude over the whole band. */
static double noise_under(double amplitude, double snr_db)
{
    return amplitude / sqrt(2.0) * pow(10.0, -snr_db / 20.0);
}

static void reads_every_tone_of_the_ladder(void **state)
{
    (void)state;
    static const double ladder[] = {31.5, 40,   63,   125,  250,   315,   500,   1000,
                                    2000, 4000, 6300, 8000, 10000, 12500, 16000, 20000};
    for (size_t k = 0; k < COUNT(ladder); k++) {
        test_tone t = {.rate_hz = RATE,
                       .tone_hz = ladder[k],
                       .amplitude = 0.05,
                       .error = 0.004,
                       .noise_rms = noise_under(0.05, 40.0),
                       .seed = k};
        fill(t, 0.0, left);
        es_level_figures f = read(RATE, ladder[k], 0);
        assert_true(f.known);
        assert_near(es_db(f.amplitude_fs / 0.05), 0.0, 0.05);
        assert_near(es_db(f.amplitude_fs / 0.05), 0.0, 4.0 * f.u_db + 0.002);
        assert_near(f.hz, ladder[k] * 1.004, 0.02 + 1e-4 * ladder[k]);
        assert_true(f.u_db < 0.05 && f.floor_fs < 0.05 && f.left_out == 0);
    }
}

static void flutter_takes_nothing_away(void **state)
{
    (void)state;
    static const double flutters_hz[] = {0.5, 5.0, 40.0, 120.0};
    for (size_t k = 0; k < COUNT(flutters_hz); k++)
        for (double depth = 0.002; depth <= (flutters_hz[k] > 50.0 ? 0.002 : 0.01); depth *= 5.0) {
            test_tone t = {.rate_hz = RATE,
                           .tone_hz = 10000,
                           .amplitude = 0.1,
                           .depth = depth,
                           .flutter_hz = flutters_hz[k]};
            fill(t, 0.0, left);
            assert_near(es_db(read(RATE, 10000, 0).amplitude_fs / 0.1), 0.0, 0.03);
        }
}

/* 1 % is -40 dB, 3 % is -30.458 dB (20 lg). */
static void reads_the_third_harmonic(void **state)
{
    (void)state;
    static const double thirds[] = {0.03, 0.01, 0.003};
    for (size_t k = 0; k < COUNT(thirds); k++) {
        test_tone t = {.rate_hz = RATE,
                       .tone_hz = 315,
                       .amplitude = 0.3,
                       .error = -0.02,
                       .depth = 0.001,
                       .flutter_hz = 4.0,
                       .noise_rms = noise_under(0.3, 40.0),
                       .seed = k + 1};
        fill(t, thirds[k], left);
        es_level_figures f = read(RATE, 315 * 0.98, 0);
        assert_near(es_db(f.harmonic[3] / thirds[k]), 0.0, 0.1);
        assert_true(isnan(f.harmonic[2]) || f.harmonic[2] < 0.001);
        assert_near(f.harmonic[1], 1.0, 1e-12);
    }
    assert_near(es_db(0.03), -30.458, 0.001);
}

static void harmonics_beyond_the_band_are_not_known(void **state)
{
    (void)state;
    test_tone t = {.rate_hz = RATE, .tone_hz = 10000, .amplitude = 0.1};
    fill(t, 0.0, left);
    es_level_figures f = read(RATE, 10000, 0);
    assert_true(isnan(f.harmonic[3]) && isnan(f.harmonic_floor[3]) && isnan(f.harmonic[0]));
}

/* Separation: 40 dB of it in the other channel, found although 10 dB under all of the noise. */
static void finds_what_leaks_into_the_other_channel(void **state)
{
    (void)state;
    test_tone t = {.rate_hz = RATE, .tone_hz = 1000, .amplitude = 0.3};
    fill(t, 0.0, left);
    t.amplitude = 0.003;
    t.noise_rms = noise_under(0.003, -10.0);
    t.seed = 9;
    fill(t, 0.0, right);
    es_level_figures f = read(RATE, 1000, 1);
    assert_true(f.known);
    assert_near(es_db(f.amplitude_fs / 0.003), 0.0, 1.0);
    t.amplitude = 0.0;
    t.noise_rms = 0.003;
    for (t.seed = 1; t.seed < 20; t.seed++) {
        fill(t, 0.0, right);
        f = read(RATE, 1000, 1);
        assert_true(!f.known && isnan(f.amplitude_fs) && isnan(f.u_db));
        assert_true(f.floor_fs > 0.0 && f.floor_fs < 0.003);
    }
}

static void hum_beside_a_low_tone_does_not_count(void **state)
{
    (void)state;
    static const double tones[] = {31.5, 40.0, 63.0};
    for (size_t k = 0; k < COUNT(tones); k++) {
        test_tone t = {.rate_hz = RATE, .tone_hz = tones[k], .amplitude = 0.05};
        test_tone hum = {.rate_hz = RATE, .tone_hz = 50, .amplitude = 0.02};
        for (size_t i = 0; i < FRAMES; i++)
            left[i] = (float)(0.3 + test_tone_sample(&t, i) + test_tone_sample(&hum, i));
        assert_near(es_db(read(RATE, tones[k], 0).amplitude_fs / 0.05), 0.0, 0.05);
    }
}

static void dropouts_are_left_out(void **state)
{
    (void)state;
    test_tone t = {.rate_hz = RATE, .tone_hz = 3150, .amplitude = 0.1};
    fill(t, 0.0, left);
    for (size_t i = RATE; i < RATE + RATE / 5; i++)
        left[i] *= 0.1f;
    es_level_figures f = read(RATE, 3150, 0);
    assert_true(f.known && f.left_out > 0 && f.frames > f.left_out);
    assert_near(es_db(f.amplitude_fs / 0.1), 0.0, 0.05);
}

static void works_at_every_rate(void **state)
{
    (void)state;
    static const double rates[] = {8000, 44100, 88200, 96000};
    for (size_t k = 0; k < COUNT(rates); k++) {
        test_tone t = {.rate_hz = rates[k], .tone_hz = 1000, .amplitude = 0.2};
        fill(t, 0.0, left);
        assert_near(es_db(read(rates[k], 1000, 0).amplitude_fs / 0.2), 0.0, 0.005);
    }
}

/* Longer than it remembers frame by frame: 512 frames of 0.17 s are 87 s. */
static void a_long_tone_needs_no_more_memory(void **state)
{
    (void)state;
    es_level *l;
    test_tone t = {.rate_hz = 8000, .tone_hz = 315, .amplitude = 0.1};
    assert_int_equal(es_level_create(8000, &l), ES_OK);
    assert_int_equal(es_level_tune(l, 315), ES_OK);
    for (size_t at = 0; at < 200 * 8000; at += 8000) {
        test_tone_fill(&t, at, left, 1, 8000);
        es_level_push(l, left, NULL, 1, 8000);
    }
    es_level_figures f = es_level_figures_of(l, 0);
    assert_near(es_db(f.amplitude_fs / 0.1), 0.0, 0.005);
    assert_true(f.frames > 700);
    assert_false(es_level_figures_of(l, 1).known);
    es_level_destroy(l);
}

static void any_block_size_gives_the_same_figures(void **state)
{
    (void)state;
    test_tone t = {
        .rate_hz = RATE, .tone_hz = 1000, .amplitude = 0.2, .noise_rms = 0.01, .seed = 4};
    fill(t, 0.01, left);
    fill(t, 0.02, right);
    left[5] = (float)NAN;
    es_level_figures whole = read(RATE, 1000, 1);
    es_level *l;
    assert_int_equal(es_level_create(RATE, &l), ES_OK);
    es_level_push(l, left, right, 1, FRAMES); /* not tuned: nothing happens */
    assert_false(es_level_figures_of(l, 0).known);
    assert_int_equal(es_level_tune(l, 1000), ES_OK);
    alloc_probe_reset();
    for (size_t at = 0, n = 1; at < FRAMES; at += n, n = n * 3 % 4099 + 1) {
        n = n < FRAMES - at ? n : FRAMES - at;
        es_level_push(l, left + at, right + at, 1, n);
    }
    es_level_figures cut = es_level_figures_of(l, 1);
    assert_int_equal(alloc_probe_calls(), 0);
    assert_true(cut.amplitude_fs == whole.amplitude_fs && cut.harmonic[3] == whole.harmonic[3]);
    assert_true(es_level_figures_of(l, 0).known);
    es_level_destroy(l);
}

static void refuses_what_it_cannot_do(void **state)
{
    (void)state;
    es_level *l;
    assert_int_equal(es_level_create(1000, &l), ES_ERR_ARG);
    assert_null(l);
    assert_int_equal(es_level_create((double)NAN, &l), ES_ERR_ARG);
    assert_int_equal(es_level_create(RATE, &l), ES_OK);
    assert_int_equal(es_level_tune(l, 10), ES_ERR_ARG);
    assert_int_equal(es_level_tune(l, 23000), ES_ERR_ARG);
    assert_int_equal(es_level_tune(l, (double)NAN), ES_ERR_ARG);
    es_level_destroy(l);
    es_level_destroy(NULL);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_level *l = NULL;
    long n;
    ALLOC_SWEEP(n, es_level_create(RATE, &l), l);
    assert_true(n > 5);
    es_level_destroy(l);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_every_tone_of_the_ladder),
        cmocka_unit_test(flutter_takes_nothing_away),
        cmocka_unit_test(reads_the_third_harmonic),
        cmocka_unit_test(harmonics_beyond_the_band_are_not_known),
        cmocka_unit_test(finds_what_leaks_into_the_other_channel),
        cmocka_unit_test(hum_beside_a_low_tone_does_not_count),
        cmocka_unit_test(dropouts_are_left_out),
        cmocka_unit_test(works_at_every_rate),
        cmocka_unit_test(a_long_tone_needs_no_more_memory),
        cmocka_unit_test(any_block_size_gives_the_same_figures),
        cmocka_unit_test(refuses_what_it_cannot_do),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("signal/level", tests, NULL, NULL);
}
