#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* The rehearsal deck's other screws, and its tape with broadband sound, against formulas. */
#include "alloc_probe.h"
#include "evenspool/tape/equalisation.h"
#include "evenspool/tape/rehearsal.h"
#include "near.h"

#include <string.h>

#define RATE 48000.0
#define TWO_PI 6.283185307179586476925286766559
#define FRAMES 48000
/* 0.9 mm x tan(1') / 47.625 mm/s, worked by hand. */
#define US_PER_ARCMIN 5.4971

static float stereo[2 * FRAMES];

static es_rehearsal *deck_of(const es_scenario *s)
{
    es_rehearsal *deck;
    assert_int_equal(es_rehearsal_create(s, RATE, &deck), ES_OK);
    return deck;
}

static es_scenario still_deck(void)
{
    es_scenario s = es_scenario_defaults();
    s.length_s = 3600.0;
    s.tone_hz = 1000.0;
    s.azimuth_screw.backlash_deg = 0.0;
    s.level_trimmer.backlash_deg = 0.0;
    return s;
}

/* Of one channel at a frequency, over all frames. */
static void phasor(int channel, double hz, double *re, double *im)
{
    *re = *im = 0.0;
    for (size_t i = 0; i < FRAMES; i++) {
        double x = (double)stereo[2 * i + (size_t)channel], angle = TWO_PI * hz * (double)i / RATE;
        double window = 0.5 - 0.5 * cos(TWO_PI * ((double)i + 0.5) / FRAMES);
        *re += window * x * cos(angle);
        *im -= window * x * sin(angle);
    }
}

/* Right against left [us], from the phases of a tone alone. */
static double delay_heard(double hz)
{
    double lr, li, rr, ri;
    phasor(0, hz, &lr, &li);
    phasor(1, hz, &rr, &ri);
    return -1e6 * atan2(ri * lr - rr * li, rr * lr + ri * li) / (TWO_PI * hz);
}

static double level_heard(int channel, double hz)
{
    double re, im;
    phasor(channel, hz, &re, &im);
    return 20.0 * log10(4.0 * hypot(re, im) / FRAMES); /* the window's mean is a half */
}

static void the_azimuth_screw_turns_the_head(void **state)
{
    (void)state;
    es_scenario s = still_deck();
    s.azimuth_arcmin = 2.0;
    es_rehearsal *deck = deck_of(&s);
    es_rehearsal_render(deck, stereo, FRAMES);
    assert_near(delay_heard(1000.0), 2.0 * US_PER_ARCMIN, 0.01);
    es_rehearsal_turn(deck, ES_SCREW_AZIMUTH, 0.1); /* 6 arcmin */
    es_rehearsal_render(deck, stereo, 64);
    es_rehearsal_render(deck, stereo, FRAMES);
    assert_near(delay_heard(1000.0), 8.0 * US_PER_ARCMIN, 0.02);
    assert_near(es_rehearsal_truth_of(deck).delay_us, 8.0 * US_PER_ARCMIN, 0.02);
    es_rehearsal_destroy(deck);
}

static void screws_have_sense_play_and_stops(void **state)
{
    (void)state;
    es_scenario s = still_deck();
    s.azimuth_screw = (es_scenario_screw){60.0, 1, 36.0, 1.0, 0.5};
    es_rehearsal *deck = deck_of(&s);
    es_rehearsal_render(deck, stereo, 64);
    es_rehearsal_turn(deck, ES_SCREW_AZIMUTH, 0.05); /* half the play: nothing yet */
    es_rehearsal_render(deck, stereo, 64);
    assert_near(es_rehearsal_truth_of(deck).delay_us, 0.0, 1e-9);
    es_rehearsal_turn(deck, ES_SCREW_AZIMUTH, 0.1); /* anticlockwise is later: earlier by 6' */
    es_rehearsal_render(deck, stereo, 64);
    assert_near(es_rehearsal_truth_of(deck).delay_us, -6.0 * US_PER_ARCMIN, 0.02);
    es_rehearsal_turn(deck, ES_SCREW_AZIMUTH, 20.0); /* the stop is half a turn from the start */
    es_rehearsal_render(deck, stereo, 64);
    assert_near(es_rehearsal_truth_of(deck).delay_us, -30.0 * US_PER_ARCMIN, 0.05);
    es_rehearsal_turn(deck, ES_SCREW_AZIMUTH, (double)NAN);
    es_rehearsal_turn(deck, (es_screw)9, 1.0);
    es_rehearsal_render(deck, stereo, 64);
    assert_near(es_rehearsal_truth_of(deck).delay_us, -30.0 * US_PER_ARCMIN, 0.05);
    es_rehearsal_destroy(deck);
}

static void level_trimmers_are_one_in_each_channel(void **state)
{
    (void)state;
    es_scenario s = still_deck();
    s.balance_db = -1.0;
    es_rehearsal *deck = deck_of(&s);
    es_rehearsal_render(deck, stereo, 64);
    es_rehearsal_turn(deck, ES_SCREW_LEVEL_LEFT, 0.125);  /* 16 dB a turn: + 2 dB */
    es_rehearsal_turn(deck, ES_SCREW_LEVEL_RIGHT, -0.25); /* - 4 dB */
    es_rehearsal_render(deck, stereo, 64);
    es_rehearsal_render(deck, stereo, FRAMES);
    assert_near(level_heard(0, 1000.0), -8.0, 0.01);
    assert_near(level_heard(1, 1000.0), -15.0, 0.01);
    assert_near(es_rehearsal_truth_of(deck).level_difference_db, -7.0, 1e-6);
    es_rehearsal_destroy(deck);
}

/* A head that leans loses sin(x) / x, x = pi w tan(a) / wavelength (es_azimuth_loss_db, whose
 * worked values are in test_equalisation): the broadband tape must lose just that. */
static void broadband_loses_treble_as_a_leaning_head_does(void **state)
{
    (void)state;
    static const double hz[] = {1000.0, 4000.0, 8000.0, 12000.0};
    es_scenario upright = still_deck(), leans;
    upright.carries = ES_CARRIES_BROADBAND;
    leans = upright;
    leans.azimuth_arcmin = 10.0;
    double power[2][4];
    for (int k = 0; k < 2; k++) {
        es_rehearsal *deck = deck_of(k ? &leans : &upright);
        es_rehearsal_render(deck, stereo, FRAMES);
        es_rehearsal_destroy(deck);
        for (int f = 0; f < 4; f++) {
            power[k][f] = 0.0;
            for (double at = 0.98 * hz[f]; at < 1.02 * hz[f]; at += 2.0) {
                double re, im;
                phasor(0, at, &re, &im);
                power[k][f] += re * re + im * im;
            }
        }
    }
    for (int f = 0; f < 4; f++) {
        double loss_db = 10.0 * log10(power[1][f] / power[0][f]);
        double expected = es_azimuth_loss_db(0.6e-3, 10.0, 0.047625 / hz[f]);
        assert_near(loss_db, expected, 0.06 - 0.02 * expected); /* it bends within the 4 % */
    }
}

static void broadband_has_the_power_of_the_tone(void **state)
{
    (void)state;
    es_scenario s = still_deck();
    s.carries = ES_CARRIES_BROADBAND;
    s.level_dbfs = -14.0;
    es_rehearsal *deck = deck_of(&s);
    double sum = 0.0;
    es_rehearsal_render(deck, stereo, FRAMES);
    for (size_t i = 0; i < FRAMES; i++)
        sum += (double)stereo[2 * i] * (double)stereo[2 * i];
    assert_near(10.0 * log10(sum / FRAMES), -17.0,
                0.5); /* a sine's mean square is half its peak's */
    es_rehearsal_destroy(deck);
}

/* 12 us are no whole number of frames: still exact, by the phase at single frequencies. */
static void broadband_is_delayed_by_any_part_of_a_frame(void **state)
{
    (void)state;
    static const double hz[] = {500.0, 2000.0, 6000.0};
    es_scenario s = still_deck();
    s.carries = ES_CARRIES_BROADBAND;
    s.azimuth_arcmin = 12.0 / US_PER_ARCMIN;
    es_rehearsal *deck = deck_of(&s);
    es_rehearsal_render(deck, stereo, FRAMES);
    for (int f = 0; f < 3; f++) {
        double re = 0.0, im = 0.0;
        for (double at = 0.97 * hz[f]; at < 1.03 * hz[f]; at += 1.0) {
            double lr, li, rr, ri;
            phasor(0, at, &lr, &li);
            phasor(1, at, &rr, &ri);
            re += rr * lr + ri * li;
            im += ri * lr - rr * li;
        }
        assert_near(-1e6 * atan2(im, re) / (TWO_PI * hz[f]), 12.0, 0.3);
    }
    es_rehearsal_destroy(deck);
}

static void the_block_size_does_not_matter(void **state)
{
    (void)state;
    static float other[2 * 4800];
    es_scenario s = still_deck();
    s.carries = ES_CARRIES_BROADBAND;
    s.azimuth_arcmin = 3.0;
    s.snr_db = 40.0;
    es_rehearsal *deck = deck_of(&s);
    es_rehearsal_render(deck, stereo, 4800);
    es_rehearsal_destroy(deck);
    deck = deck_of(&s);
    for (size_t done = 0; done < 4800; done += 96)
        es_rehearsal_render(deck, other + 2 * done, 96);
    es_rehearsal_destroy(deck);
    assert_memory_equal(stereo, other, sizeof other);
}

static void create_survives_want_of_memory(void **state)
{
    (void)state;
    es_scenario s = still_deck();
    s.carries = ES_CARRIES_BROADBAND;
    es_rehearsal *deck;
    long n = 0;
    for (;; n++) {
        alloc_probe_fail_after(n);
        if (es_rehearsal_create(&s, RATE, &deck) == ES_OK)
            break;
        assert_null(deck);
        assert_int_equal(alloc_probe_live(), 0);
    }
    assert_int_equal(n, 2);
    alloc_probe_reset();
    es_rehearsal_render(deck, stereo, 4800);
    es_rehearsal_turn(deck, ES_SCREW_AZIMUTH, 0.1);
    es_rehearsal_render(deck, stereo, 4800);
    assert_int_equal(alloc_probe_calls(), 0);
    es_rehearsal_destroy(deck);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_azimuth_screw_turns_the_head),
        cmocka_unit_test(screws_have_sense_play_and_stops),
        cmocka_unit_test(level_trimmers_are_one_in_each_channel),
        cmocka_unit_test(broadband_loses_treble_as_a_leaning_head_does),
        cmocka_unit_test(broadband_has_the_power_of_the_tone),
        cmocka_unit_test(broadband_is_delayed_by_any_part_of_a_frame),
        cmocka_unit_test(the_block_size_does_not_matter),
        cmocka_unit_test(create_survives_want_of_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
