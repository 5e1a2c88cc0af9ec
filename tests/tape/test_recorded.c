#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* A recording on the rehearsal deck's tape. A recorded sine must sound as the deck's own tone does, whose
 * place, losses and delay are formulas (tests/tape/test_rehearsal*.c, test_equalisation.c). */
#include "alloc_probe.h"
#include "evenspool/tape/rehearsal.h"
#include "near.h"

#include <string.h>

#define TWO_PI 6.283185307179586476925286766559
#define RATE 48000.0
#define FRAMES 48000
#define REFERENCE 0.25

static float own[2 * FRAMES], played[2 * FRAMES];

typedef struct sine {
    double hz;
    int64_t frame;
} sine;

static void render(void *self, float *stereo, size_t frames)
{
    sine *s = self;
    for (size_t i = 0; i < frames; i++, s->frame++)
        stereo[2 * i] = stereo[2 * i + 1] =
            (float)(REFERENCE * sin(TWO_PI * s->hz * (double)s->frame / ES_RECORDING_RATE_HZ));
}

static es_rehearsal *deck_playing(const es_scenario *scenario, sine *tone)
{
    es_recording recording = {tone, render, REFERENCE};
    es_rehearsal *deck;
    *tone = (sine){.hz = scenario->tone_hz};
    assert_int_equal(es_rehearsal_create_playing(scenario, RATE, &recording, &deck), ES_OK);
    return deck;
}

/* Largest difference from the deck's own tone, in dB re its peak; the start of the recording is left out. */
static double difference_db(const es_scenario *scenario)
{
    sine tone;
    es_rehearsal *deck = deck_playing(scenario, &tone);
    es_rehearsal_render(deck, played, FRAMES);
    es_rehearsal_destroy(deck);
    assert_int_equal(es_rehearsal_create(scenario, RATE, &deck), ES_OK);
    es_rehearsal_render(deck, own, FRAMES);
    es_rehearsal_destroy(deck);
    double most = 0.0;
    for (size_t i = 2 * FRAMES / 20; i < 2 * FRAMES; i++)
        most = fmax(most, fabs((double)own[i] - (double)played[i]));
    return 20.0 * log10(most) - scenario->level_dbfs;
}

static es_scenario deck_at(double hz, double speed_error)
{
    es_scenario s = es_scenario_defaults();
    s.tone_hz = hz;
    s.speed_error = speed_error;
    return s;
}

static void a_recorded_sine_is_the_tone(void **state)
{
    (void)state;
    static const double hz[] = {31.5, 315.0, 3150.0, 12500.0, 19000.0};
    static const double error[] = {0.0, 0.1, -0.1};
    for (size_t f = 0; f < 5; f++)
        for (size_t e = 0; e < 3; e++) {
            es_scenario s = deck_at(hz[f], error[e]);
            if (hz[f] * (1.0 + error[e]) < 20500.0)
                assert_true(difference_db(&s) < -98.0);
        }
}

static void flutter_card_and_tape_move_it_alike(void **state)
{
    (void)state;
    es_scenario s = deck_at(10000.0, 0.02);
    s.tape_error = -0.015;
    s.clock_error = 300e-6;
    s.flutter[ES_PART_CAPSTAN][0] = 0.005;
    s.random.rms = 0.001;
    s.balance_db = -3.0;
    s.opposed = 1;
    assert_true(difference_db(&s) < -98.0);
}

static void a_leaning_head_delays_and_weakens_it_alike(void **state)
{
    (void)state;
    static const double arcmin[] = {9.0, -25.0};
    for (size_t i = 0; i < 2; i++) {
        es_scenario s = deck_at(6300.0, 0.0);
        s.azimuth_arcmin = arcmin[i];
        assert_true(difference_db(&s) < -60.0); /* 0.01 dB */
    }
}

static void a_dirty_head_dulls_it_alike(void **state)
{
    (void)state;
    static const double hz[] = {31.5, 63.0, 315.0, 1000.0, 8000.0};
    for (size_t i = 0; i < 5; i++) {
        es_scenario s = deck_at(hz[i], 0.0);
        s.head_spacing_m = 2.5e-6;
        assert_true(difference_db(&s) < -45.0); /* 0.05 dB */
    }
}

/* Of the left channel, by projection on whole periods. */
static double amplitude_at(double hz)
{
    double re = 0.0, im = 0.0;
    for (size_t i = FRAMES / 2; i < FRAMES; i++) {
        re += (double)played[2 * i] * cos(TWO_PI * hz * (double)i / RATE);
        im += (double)played[2 * i] * sin(TWO_PI * hz * (double)i / RATE);
    }
    return 4.0 * hypot(re, im) / FRAMES;
}

/* A cos^3: x - c x^3 makes A - 3/4 c A^3 and c/4 A^3 of a sine of amplitude A; c = 4 k / (1 + 3 k) gives the
 * share k at A = 1. */
static void loud_tones_get_a_third_harmonic(void **state)
{
    (void)state;
    static const double amplitude[] = {1.0, 0.5};
    double k = 0.03, c = 4.0 * k / (1.0 + 3.0 * k);
    es_scenario s = deck_at(1000.0, 0.0);
    s.third = k;
    for (size_t i = 0; i < 2; i++) {
        double a = amplitude[i], first = a - 0.75 * c * a * a * a, third = 0.25 * c * a * a * a;
        sine tone = {.hz = 1000.0};
        es_recording recording = {&tone, render, REFERENCE / a};
        es_rehearsal *deck;
        assert_int_equal(es_rehearsal_create_playing(&s, RATE, &recording, &deck), ES_OK);
        es_rehearsal_render(deck, played, FRAMES);
        es_rehearsal_destroy(deck);
        assert_near(20.0 * log10(amplitude_at(1000.0)),
                    -10.0 + 20.0 * log10(first / (1.0 - 0.75 * c)), 0.001);
        assert_near(amplitude_at(3000.0) / amplitude_at(1000.0), third / first, 1e-5);
    }
}

static void the_truth_is_of_the_reference_level(void **state)
{
    (void)state;
    sine tone;
    es_scenario s = deck_at(3150.0, 0.0);
    s.level_dbfs = -7.0;
    s.balance_db = 2.0;
    s.snr_db = 40.0;
    s.azimuth_arcmin = 4.0;
    s.carries = ES_CARRIES_BROADBAND; /* counts for nothing */
    es_rehearsal *deck = deck_playing(&s, &tone);
    es_rehearsal_render(deck, played, FRAMES);
    es_rehearsal_truth t = es_rehearsal_truth_of(deck);
    assert_int_equal(t.recording, 1);
    assert_near(20.0 * log10(t.level_fs[0]), -7.0, 1e-9);
    assert_near(20.0 * log10(t.level_fs[1]), -5.0, 1e-9);
    assert_near(t.snr_db[0], 40.0, 1e-9);
    assert_near(t.delay_us, 4.0 * 5.4971, 0.01); /* test_screws.c */
    assert_true(isnan(t.delay_period_us));
    es_rehearsal_destroy(deck);
}

static void the_block_size_does_not_matter(void **state)
{
    (void)state;
    sine tone;
    es_scenario s = deck_at(1000.0, 0.01);
    s.azimuth_arcmin = -3.0;
    s.snr_db = 40.0;
    es_rehearsal *deck = deck_playing(&s, &tone);
    es_rehearsal_render(deck, own, 9600);
    es_rehearsal_destroy(deck);
    deck = deck_playing(&s, &tone);
    for (size_t done = 0; done < 9600; done += 96)
        es_rehearsal_render(deck, played + 2 * done, 96);
    es_rehearsal_destroy(deck);
    assert_memory_equal(own, played, 2 * 9600 * sizeof *own);
}

/* The screw turns in the middle; then the head is another. */
static void a_screw_turns_under_it(void **state)
{
    (void)state;
    sine tone;
    es_scenario s = deck_at(6300.0, 0.0), leans;
    s.azimuth_screw.backlash_deg = 0.0;
    leans = s;
    leans.azimuth_arcmin = 12.0;
    es_rehearsal *deck = deck_playing(&s, &tone);
    es_rehearsal_render(deck, played, 4800);
    es_rehearsal_turn(deck, ES_SCREW_AZIMUTH, 0.2); /* 60 arcmin a turn */
    es_rehearsal_render(deck, played + 2 * 4800, FRAMES - 4800);
    es_rehearsal_destroy(deck);
    deck = deck_playing(&leans, &tone);
    es_rehearsal_render(deck, own, FRAMES);
    es_rehearsal_destroy(deck);
    for (size_t i = 2 * 9600; i < 2 * FRAMES; i++)
        assert_near((double)played[i], (double)own[i], 1e-6);
}

static void wild_settings_stay_finite(void **state)
{
    (void)state;
    sine tone;
    es_scenario s = deck_at(3150.0, 0.0);
    s.azimuth_screw = (es_scenario_screw){600.0, 0, 0.0, 50.0, 0.5};
    s.random.rms = 0.05;
    es_rehearsal *deck = deck_playing(&s, &tone);
    for (int turn = -9; turn <= 9; turn++) {
        es_rehearsal_render(deck, played, 2400);
        for (size_t i = 0; i < 4800; i++)
            assert_true(fabs((double)played[i]) <= 1.0);
        es_rehearsal_turn(deck, ES_SCREW_AZIMUTH, (double)turn);
    }
    es_rehearsal_destroy(deck);
}

static void what_can_not_be_played_is_refused(void **state)
{
    (void)state;
    sine tone = {.hz = 1000.0};
    es_scenario s = es_scenario_defaults();
    es_recording bad[] = {{&tone, NULL, 1.0}, {&tone, render, 0.0}, {&tone, render, (double)NAN}};
    es_rehearsal *deck;
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(es_rehearsal_create_playing(&s, RATE, &bad[i], &deck), ES_ERR_ARG);
        assert_null(deck);
    }
}

static void create_survives_want_of_memory(void **state)
{
    (void)state;
    sine tone = {.hz = 1000.0};
    es_recording recording = {&tone, render, REFERENCE};
    es_scenario s = es_scenario_defaults();
    es_rehearsal *deck;
    long n = 0;
    for (;; n++) {
        alloc_probe_fail_after(n);
        if (es_rehearsal_create_playing(&s, RATE, &recording, &deck) == ES_OK)
            break;
        assert_null(deck);
        assert_int_equal(alloc_probe_live(), 0);
    }
    assert_int_equal(n, 2);
    alloc_probe_reset();
    es_rehearsal_render(deck, played, 4800);
    es_rehearsal_turn(deck, ES_SCREW_AZIMUTH, 0.1);
    es_rehearsal_render(deck, played, 4800);
    assert_int_equal(alloc_probe_calls(), 0);
    es_rehearsal_destroy(deck);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_recorded_sine_is_the_tone),
        cmocka_unit_test(flutter_card_and_tape_move_it_alike),
        cmocka_unit_test(a_leaning_head_delays_and_weakens_it_alike),
        cmocka_unit_test(a_dirty_head_dulls_it_alike),
        cmocka_unit_test(loud_tones_get_a_third_harmonic),
        cmocka_unit_test(the_truth_is_of_the_reference_level),
        cmocka_unit_test(the_block_size_does_not_matter),
        cmocka_unit_test(a_screw_turns_under_it),
        cmocka_unit_test(wild_settings_stay_finite),
        cmocka_unit_test(what_can_not_be_played_is_refused),
        cmocka_unit_test(create_survives_want_of_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
