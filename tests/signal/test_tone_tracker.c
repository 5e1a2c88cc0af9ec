#include "cm.h"

#include <gsl/gsl_sf_bessel.h>
#include <stdlib.h>
#include <string.h>

#include "alloc_sweep.h"
#include "evenspool/signal/tone_tracker.h"
#include "tone.h"

#define SECONDS_MOST 12
#define READINGS_MOST (1201 * SECONDS_MOST + 100)

static es_tone_reading readings[READINGS_MOST], others[READINGS_MOST];

static es_tone_tracker *tuned(double rate_hz, double centre_hz, es_tracker_kind kind)
{
    es_tone_tracker *t;
    assert_int_equal(es_tone_tracker_create(rate_hz, kind, &t), ES_OK);
    assert_int_equal(es_tone_tracker_tune(t, centre_hz, 0.5), ES_OK);
    return t;
}

static size_t run(es_tone_tracker *t, const float *in, size_t frames, size_t block,
                  es_tone_reading *out)
{
    size_t made = 0, count;
    for (size_t at = 0; at < frames; at += block) {
        size_t take = block < frames - at ? block : frames - at;
        assert_int_equal(
            es_tone_tracker_process(t, in + at, 1, take, out + made, READINGS_MOST - made, &count),
            ES_OK);
        made += count;
    }
    return made;
}

static size_t follow(test_tone *tone, double centre_hz, double seconds, es_tracker_kind kind)
{
    size_t frames = (size_t)(seconds * tone->rate_hz);
    float *sound = malloc(frames * sizeof *sound);
    test_tone_fill(tone, 0, sound, 1, frames);
    es_tone_tracker *t = tuned(tone->rate_hz, centre_hz, kind);
    size_t made = run(t, sound, frames, 4096, readings);
    es_tone_tracker_destroy(t);
    free(sound);
    return made;
}

/* Known answer: every reading speaks of the true frequency, at any rate, tone and offset. */
static void reads_a_steady_tone(void **state)
{
    (void)state;
    static const double cases[][3] = {
        {48000, 3150, 0.0}, {48000, 3150, 0.15},  {48000, 3150, -0.15}, {44100, 3000, -0.01},
        {8000, 3150, 0.02}, {384000, 10000, 0.0}, {96000, 315, 0.05},   {11025, 1000, -0.05}};
    for (size_t k = 0; k < COUNT(cases); k++) {
        test_tone tone = {
            .rate_hz = cases[k][0], .tone_hz = cases[k][1], .amplitude = 0.5, .error = cases[k][2]};
        size_t made = follow(&tone, tone.tone_hz, 1.5, ES_TRACKER_SHARP);
        double true_hz = tone.tone_hz * (1.0 + tone.error), sum = 0.0;
        assert_true(made > 1500);
        for (size_t i = 0; i < made; i++) {
            assert_true(readings[i].good);
            assert_near(readings[i].hz, true_hz, 2e-6 * true_hz);
            assert_near(readings[i].amplitude_fs, 0.5, 0.003);
            sum += readings[i].hz;
        }
        assert_near(sum / (double)made, true_hz, 2e-7 * true_hz);
    }
}

/* Amplitude and phase of the modulation in the readings against what was put in. */
static void follows_flutter_of_every_rate(void **state)
{
    (void)state;
    static const double rates[] = {0.5, 4.0, 20.0, 63.0, 100.0, 160.0, 199.0};
    for (size_t k = 0; k < COUNT(rates); k++) {
        test_tone tone = {.rate_hz = 48000,
                          .tone_hz = 3150,
                          .amplitude = 0.5,
                          .error = -0.012,
                          .depth = 0.002,
                          .flutter_hz = rates[k]};
        size_t made = follow(&tone, 3112.0, 6.0, ES_TRACKER_SHARP);
        for (size_t i = 0; i < made; i++) {
            double speed = 1.0 + tone.error +
                           tone.depth * sin(TONE_TWO_PI * tone.flutter_hz * readings[i].time_s);
            assert_near(readings[i].hz, tone.tone_hz * speed, 3150 * 0.002 * 0.002);
        }
    }
}

/*
 * Outside check: a tone made as the sum of Bessel lines (the spectrum of sinusoidal frequency
 * modulation, J_n(beta) from the GNU Scientific Library) must be read with the index beta = d f0 / fm.
 */
static void reads_the_index_of_bessel_sidebands(void **state)
{
    (void)state;
    static const double cases[][2] = {{0.7875, 4.0}, {0.315, 10.0}, {1.05, 6.0}, {0.0315, 100.0}};
    for (size_t k = 0; k < COUNT(cases); k++) {
        double beta = cases[k][0], fm = cases[k][1], f0 = 3150.0, rate = 48000.0;
        size_t frames = 48000 * 4;
        float *sound = malloc(frames * sizeof *sound);
        for (size_t i = 0; i < frames; i++) {
            double t = (double)i / rate, x = 0.0;
            for (int n = -8; n <= 8; n++)
                x += gsl_sf_bessel_Jn(n, beta) * sin(TONE_TWO_PI * (f0 + n * fm) * t);
            sound[i] = (float)(0.5 * x);
        }
        es_tone_tracker *t = tuned(rate, f0, ES_TRACKER_SHARP);
        size_t made = run(t, sound, frames, 4096, readings);
        size_t whole = 1201 * 3; /* a whole number of cycles of each rate */
        double re = 0.0, im = 0.0;
        assert_true(made > whole);
        for (size_t i = 0; i < whole; i++) {
            re += (readings[i].hz - f0) * cos(TONE_TWO_PI * fm * readings[i].time_s);
            im += (readings[i].hz - f0) * sin(TONE_TWO_PI * fm * readings[i].time_s);
        }
        double index = 2.0 * hypot(re, im) / (double)whole / fm;
        assert_near(index / beta, 1.0, 1e-3);
        es_tone_tracker_destroy(t);
        free(sound);
    }
}

/* Hum, harmonics and a line whistle at half the tone's strength do not move a reading. */
static void hears_nothing_but_its_tone(void **state)
{
    (void)state;
    static const double strangers_hz[] = {50.0, 100.0, 150.0, 6300.0, 9450.0, 15625.0};
    size_t frames = 48000 * 2;
    float *sound = malloc(frames * sizeof *sound);
    for (size_t i = 0; i < frames; i++) {
        double t = TONE_TWO_PI * (double)i / 48000.0, x = 0.4 * sin(3150.0 * t);
        for (size_t k = 0; k < COUNT(strangers_hz); k++)
            x += 0.2 * sin(strangers_hz[k] * t + (double)k);
        sound[i] = (float)x;
    }
    es_tone_tracker *t = tuned(48000, 3150, ES_TRACKER_SHARP);
    size_t made = run(t, sound, frames, 4096, readings);
    for (size_t i = 20; i < made; i++)
        assert_near(readings[i].hz, 3150.0, 0.02);
    es_tone_tracker_destroy(t);
    free(sound);
}

/* 60 ms without tone: marked, bridged near the true frequency, and nothing else is touched. */
static void bridges_a_dropout_and_marks_it(void **state)
{
    (void)state;
    test_tone tone = {.rate_hz = 48000,
                      .tone_hz = 3150,
                      .amplitude = 0.5,
                      .error = 0.01,
                      .noise_rms = 1e-4,
                      .seed = 1};
    size_t frames = 48000 * 3;
    float *sound = malloc(frames * sizeof *sound);
    test_tone_fill(&tone, 0, sound, 1, frames);
    for (size_t i = 72000; i < 72000 + 2880; i++)
        sound[i] *= 0.01f;
    es_tone_tracker *t = tuned(48000, 3150, ES_TRACKER_SHARP);
    size_t made = run(t, sound, frames, 4096, readings), bad = 0;
    for (size_t i = 0; i < made; i++) {
        bad += !readings[i].good;
        assert_near(readings[i].hz, 3181.5, readings[i].good ? 0.5 : 16.0);
        if (readings[i].time_s < 1.45 || readings[i].time_s > 1.61)
            assert_true(readings[i].good);
        if (readings[i].time_s > 1.505 && readings[i].time_s < 1.555)
            assert_false(readings[i].good);
    }
    assert_in_range(bad, 60, 140); /* 60 ms and the kernel's shoulders */
    assert_true(es_tone_tracker_missing_s(t) == 0.0);
    es_tone_tracker_destroy(t);
    free(sound);
}

static void says_how_long_the_tone_is_missing(void **state)
{
    (void)state;
    static float silence[48000];
    memset(silence, 0, sizeof silence);
    es_tone_tracker *t = tuned(48000, 3150, ES_TRACKER_SHARP);
    run(t, silence, 48000, 4096, readings);
    assert_near(es_tone_tracker_missing_s(t), 1.0, 0.02);
    es_tone_tracker_destroy(t);
}

/* Too low a tone for the flutter band narrows it, and says so. */
static void low_tones_carry_less_flutter(void **state)
{
    (void)state;
    static const double bands[][2] = {{3150, 200}, {1000, 200}, {440, 162}, {300, 111}};
    for (size_t k = 0; k < COUNT(bands); k++) {
        es_tone_tracker *t = tuned(48000, bands[k][0], ES_TRACKER_SHARP);
        assert_near(es_tone_tracker_band_hz(t), bands[k][1], 1.0);
        es_tone_tracker_destroy(t);
    }
}

static void same_whatever_the_block(const float *sound, size_t frames)
{
    es_tone_tracker *t = tuned(44100, 3150, ES_TRACKER_SHARP);
    size_t whole = run(t, sound, frames, 8192, readings);
    static const size_t blocks[] = {1, 7, 480, 4999};
    for (size_t k = 0; k < COUNT(blocks); k++) {
        es_tone_tracker_reset(t);
        assert_int_equal(run(t, sound, frames, blocks[k], others), whole);
        for (size_t i = 0; i < whole; i++)
            assert_true(readings[i].time_s == others[i].time_s && readings[i].hz == others[i].hz &&
                        readings[i].good == others[i].good &&
                        readings[i].amplitude_fs == others[i].amplitude_fs);
    }
    es_tone_tracker_destroy(t);
}

static void any_block_size_gives_the_same_readings(void **state)
{
    (void)state;
    test_tone tone = {.rate_hz = 44100,
                      .tone_hz = 3150,
                      .amplitude = 0.5,
                      .depth = 0.003,
                      .flutter_hz = 9.0,
                      .noise_rms = 0.01,
                      .seed = 5};
    size_t frames = 44100;
    float *sound = malloc(frames * sizeof *sound);
    test_tone_fill(&tone, 0, sound, 1, frames);
    same_whatever_the_block(sound, frames);
    for (size_t at = 5000; at + 1000 < frames; at += 1700) /* and with a dropout here and there */
        memset(sound + at, 0, 300 * sizeof *sound);
    same_whatever_the_block(sound, frames);
    free(sound);
}

static void refuses_settings_out_of_range(void **state)
{
    (void)state;
    es_tone_tracker *t;
    size_t count;
    float in[16] = {0};
    assert_int_equal(es_tone_tracker_create(400000.0, ES_TRACKER_SHARP, &t), ES_ERR_ARG);
    assert_null(t);
    assert_int_equal(es_tone_tracker_create(48000.0, ES_TRACKER_SHARP, &t), ES_OK);
    assert_int_equal(es_tone_tracker_process(t, in, 1, 16, readings, 100, &count), ES_ERR_ARG);
    assert_int_equal(es_tone_tracker_tune(t, 3150.0, 0.0), ES_ERR_ARG);
    assert_int_equal(es_tone_tracker_tune(t, 20000.0, 0.5), ES_ERR_ARG);
    assert_int_equal(es_tone_tracker_tune(t, 3150.0, 0.5), ES_OK);
    assert_int_equal(es_tone_tracker_process(t, in, 1, 16, readings, 1, &count), ES_ERR_SPACE);
    es_tone_tracker_destroy(t);
    es_tone_tracker_destroy(NULL);
}

static void processing_never_allocates(void **state)
{
    (void)state;
    static float sound[48000];
    test_tone tone = {.rate_hz = 48000, .tone_hz = 3150, .amplitude = 0.5};
    test_tone_fill(&tone, 0, sound, 1, 48000);
    es_tone_tracker *t = tuned(48000, 3150, ES_TRACKER_QUICK);
    alloc_probe_reset();
    run(t, sound, 48000, 480, readings);
    assert_int_equal(es_tone_tracker_tune(t, 3000.0, 0.5), ES_OK);
    es_tone_tracker_reset(t);
    assert_int_equal(alloc_probe_calls(), 0);
    es_tone_tracker_destroy(t);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_tone_tracker *t = NULL;
    long n;
    ALLOC_SWEEP(n, es_tone_tracker_create(48000, ES_TRACKER_SHARP, &t), t);
    assert_true(n >= 7);
    es_tone_tracker_destroy(t);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_a_steady_tone),
        cmocka_unit_test(follows_flutter_of_every_rate),
        cmocka_unit_test(reads_the_index_of_bessel_sidebands),
        cmocka_unit_test(hears_nothing_but_its_tone),
        cmocka_unit_test(bridges_a_dropout_and_marks_it),
        cmocka_unit_test(says_how_long_the_tone_is_missing),
        cmocka_unit_test(low_tones_carry_less_flutter),
        cmocka_unit_test(any_block_size_gives_the_same_readings),
        cmocka_unit_test(refuses_settings_out_of_range),
        cmocka_unit_test(processing_never_allocates),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("signal/tone_tracker", tests, NULL, NULL);
}
