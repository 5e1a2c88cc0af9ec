#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "alloc_sweep.h"
#include "evenspool/tape/rehearsal.h"
#include "near.h"

#include <stdlib.h>
#include <string.h>

#define RATE 48000.0

static es_rehearsal *playing(const es_scenario *scenario, double rate_hz)
{
    es_rehearsal *deck;
    assert_int_equal(es_rehearsal_create(scenario, rate_hz, &deck), ES_OK);
    return deck;
}

/* Every setting that makes a sound or a movement, all at once. */
static es_scenario everything(void)
{
    static const char text[] =
        "length = 3 s\nlead-in = 0.11 s\nlead-out = 0.1 s\nstart-ramp = 0.3 s\nstop-ramp = 0.2 s\n"
        "speed-error = -1 %\ntape-error = 0.3 %\nclock-error = 80 ppm\ndrift = 1 %/min\n"
        "warm-up = 0.5 %\nwarm-up-time = 0.05 min\ntrimmer-gain = 4 %/turn\n"
        "trimmer-backlash = 5 deg\ncapstan-flutter = 0.1 %\ncapstan-flutter-2 = 0.02 %\n"
        "pinch-roller-flutter = 0.1 %\ntake-up-flutter = 0.1 %\nsupply-flutter-3 = 0.1 %\n"
        "motor-flutter = 0.05 %\nbelt-flutter = 0.05 %\nidler-flutter = 0.05 %\n"
        "wobble-1 = 0.1 %\nwobble-1-rate = 3 Hz\nrandom-flutter = 0.1 %\nscrape-flutter = 0.05 %\n"
        "second-harmonic = 1 %\nthird-harmonic = 2 %\nlevel = -1 dBFS\nbalance = 2 dB\n"
        "tone-on = 0.8 s\ntone-off = 0.2 s\nazimuth = 7 arcmin\nhead-spacing = 0.3 um\n"
        "polarity = opposed\nsnr = 30 dB\nhum = -40 dBFS\nbuzz = -50 dBFS\ndropouts = 120 /min\n"
        "clipping = -0.5 dBFS\ndc-offset = 1 %FS\n";
    es_scenario s;
    es_error error = {0};
    if (es_scenario_parse(text, strlen(text), &s, &error) != ES_OK)
        fail_msg("%s", error.text);
    return s;
}

/* --- the same frames ------------------------------------------------------------------ */

#define FRAMES 150000 /* a little more than 3 s at 48 kHz */

static float once[2 * FRAMES], again[2 * FRAMES];
static double errors[FRAMES], errors_again[FRAMES];

/* Plays FRAMES frames in blocks of the sizes given, one after the other and from the front again;
 * turns the trimmer after 72 000 frames. */
static es_rehearsal_truth play_in_blocks(const es_scenario *scenario, const size_t *sizes,
                                         size_t count, float *out, double *error)
{
    es_rehearsal *deck = playing(scenario, RATE);
    size_t turn_at = 72000, done = 0;
    for (size_t i = 0; done < FRAMES; i++) {
        size_t block = sizes[i % count], left = FRAMES - done;
        if (done < turn_at && turn_at - done < left)
            left = turn_at - done;
        block = block < left ? block : left;
        es_rehearsal_render_with_truth(deck, out + 2 * done, error + done, NULL, block);
        done += block;
        if (done == turn_at)
            es_rehearsal_turn_trimmer(deck, 0.2);
    }
    es_rehearsal_truth truth = es_rehearsal_truth_of(deck);
    es_rehearsal_destroy(deck);
    return truth;
}

static void same_truth(const es_rehearsal_truth *a, const es_rehearsal_truth *b)
{
    assert_true(a->frames == b->frames && a->dropouts == b->dropouts);
    assert_near(a->deck_error, b->deck_error, 0.0);
    assert_near(a->heard_hz, b->heard_hz, 0.0);
    assert_near(a->drift_per_min, b->drift_per_min, 0.0);
    assert_near(a->flutter_rms, b->flutter_rms, 0.0);
    assert_near(a->random_rms, b->random_rms, 0.0);
    assert_near(a->scrape_rms, b->scrape_rms, 0.0);
    assert_near(a->clipped[1], b->clipped[1], 0.0);
    assert_int_equal(a->component_count, b->component_count);
    for (size_t i = 0; i < a->component_count; i++)
        assert_near(a->components[i].rate_hz, b->components[i].rate_hz, 0.0);
}

static void any_block_size_gives_the_same_frames(void **state)
{
    (void)state;
    static const size_t whole[] = {FRAMES}, single[] = {1}, odd[] = {63, 64, 65, 1, 1000, 7, 4096};
    es_scenario s = everything();
    es_rehearsal_truth first = play_in_blocks(&s, whole, 1, once, errors);
    es_rehearsal_truth second = play_in_blocks(&s, single, 1, again, errors_again);
    assert_memory_equal(once, again, sizeof once);
    assert_memory_equal(errors, errors_again, sizeof errors);
    same_truth(&first, &second);
    second = play_in_blocks(&s, odd, sizeof odd / sizeof *odd, again, errors_again);
    assert_memory_equal(once, again, sizeof once);
    same_truth(&first, &second);
}

static void a_seed_means_the_same_frames(void **state)
{
    (void)state;
    static const size_t whole[] = {FRAMES};
    es_scenario s = everything();
    play_in_blocks(&s, whole, 1, once, errors);
    play_in_blocks(&s, whole, 1, again, errors_again);
    assert_memory_equal(once, again, sizeof once);
    s.seed++;
    play_in_blocks(&s, whole, 1, again, errors_again);
    assert_memory_not_equal(once, again, sizeof once);
}

/* Hiss must not change when only the flutter is changed, nor the other way round. */
static void each_source_has_its_own_noise(void **state)
{
    (void)state;
    static const size_t whole[] = {FRAMES};
    es_scenario s = everything();
    play_in_blocks(&s, whole, 1, once, errors);
    s.snr_db = 20.0;
    s.dropouts_per_min = 0.0;
    s.hum_dbfs = -20.0;
    play_in_blocks(&s, whole, 1, again, errors_again);
    assert_memory_equal(errors, errors_again, sizeof errors);
}

/* --- life ------------------------------------------------------------------------------ */

static void refuses_what_can_not_be_played(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    es_rehearsal *deck = (es_rehearsal *)&s;
    static const double rates[] = {0.0, -48000.0, 7000.0, 400000.0, (double)NAN, HUGE_VAL};
    for (size_t i = 0; i < sizeof rates / sizeof *rates; i++) {
        assert_int_equal(es_rehearsal_create(&s, rates[i], &deck), ES_ERR_ARG);
        assert_null(deck);
    }
    s.speed_error = (double)NAN;
    assert_int_equal(es_rehearsal_create(&s, RATE, &deck), ES_ERR_ARG);
    es_rehearsal_destroy(NULL);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_scenario s = everything();
    es_rehearsal *deck = NULL;
    long n;
    ALLOC_SWEEP(n, es_rehearsal_create(&s, RATE, &deck), deck);
    assert_true(n > 0);
    es_rehearsal_destroy(deck);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

static void rendering_never_allocates(void **state)
{
    (void)state;
    es_scenario s = everything();
    es_rehearsal *deck = playing(&s, RATE);
    alloc_probe_reset();
    es_rehearsal_render_with_truth(deck, once, errors, NULL, FRAMES);
    es_rehearsal_turn_trimmer(deck, 0.1);
    es_rehearsal_truth_of(deck);
    assert_int_equal(alloc_probe_calls(), 0);
    es_rehearsal_destroy(deck);
}

static void nothing_is_known_before_it_plays(void **state)
{
    (void)state;
    es_scenario s = everything();
    es_rehearsal *deck = playing(&s, RATE);
    es_rehearsal_truth t = es_rehearsal_truth_of(deck);
    assert_int_equal(t.frames, 0);
    assert_near(t.at_speed_s, 0.0, 0.0);
    assert_true(isnan(t.deck_error) && isnan(t.heard_hz) && isnan(t.heard_error));
    assert_true(isnan(t.drift_per_min) && isnan(t.flutter_rms) && isnan(t.random_rms));
    assert_true(isnan(t.delay_us) && isnan(t.clipped[0]));
    assert_true(isnan(t.components[0].rate_hz));
    assert_true(isnan(es_rehearsal_speed_now(deck)));
    assert_true(isnan(es_rehearsal_mean_error(deck)));
    assert_near(es_rehearsal_way_s(deck), 0.0, 0.0);
    assert_near(es_rehearsal_time_s(deck), 0.0, 0.0);
    assert_int_equal(es_rehearsal_length(deck), 144000);
    es_rehearsal_render(deck, once, 0);
    assert_true(isnan(es_rehearsal_mean_error(deck)));
    es_rehearsal_destroy(deck);
}

/* --- course ----------------------------------------------------------------------------- */

static double peak_of(const float *stereo, size_t from, size_t to)
{
    double peak = 0.0;
    for (size_t i = 2 * from; i < 2 * to; i++)
        peak = fmax(peak, fabs((double)stereo[i]));
    return peak;
}

static void starts_runs_and_stands_still(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.length_s = 2.0;
    s.lead_in_s = 0.5;
    s.lead_out_s = 0.25;
    s.start_ramp_s = 0.4;
    s.stop_ramp_s = 0.2;
    es_rehearsal *deck = playing(&s, RATE);
    es_rehearsal_render_with_truth(deck, once, errors, NULL, FRAMES);
    assert_near(peak_of(once, 0, 24000), 0.0, 0.0);
    assert_near(peak_of(once, 84000, FRAMES), 0.0, 0.0);
    assert_near(peak_of(once, 43200, 74400), pow(10.0, -0.5), 1e-4);
    for (size_t i = 1; i < FRAMES; i++) {
        assert_int_equal(isnan(errors[i]) != 0, i < 24000 || i >= 84000);
        if (i > 24000 && i < 43200)
            assert_true(errors[i] > errors[i - 1] && errors[i] < 0.0);
        if (i >= 43200 && i < 74400)
            assert_near(errors[i], 0.0, 1e-15);
        if (i > 74400 && i < 84000)
            assert_true(errors[i] < errors[i - 1]);
    }
    es_rehearsal_truth t = es_rehearsal_truth_of(deck);
    assert_near(t.start_s, 0.5, 1e-9);
    assert_near(t.steady_s, 0.9, 1e-9);
    assert_near(t.stopping_s, 1.55, 1e-9);
    assert_near(t.still_s, 1.75, 1e-9);
    assert_near(t.at_speed_s, 0.65, 1e-9);
    assert_near(t.deck_error, 0.0, 1e-12);
    es_rehearsal_destroy(deck);
}

/* The tone grows with the tape's speed, as a head's does: no click at the start. */
static void starts_without_a_click(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.length_s = 2.0;
    s.start_ramp_s = 0.4;
    es_rehearsal *deck = playing(&s, RATE);
    es_rehearsal_render(deck, once, 19200);
    assert_true(peak_of(once, 0, 200) < 0.05 * peak_of(once, 18000, 19200));
    es_rehearsal_destroy(deck);
}

static void the_tone_comes_and_goes(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.tone_on_s = 0.6;
    s.tone_off_s = 0.4;
    es_rehearsal *deck = playing(&s, RATE);
    es_rehearsal_render(deck, once, FRAMES);
    for (size_t i = 0; i < 3; i++) {
        assert_near(peak_of(once, i * 48000 + 300, i * 48000 + 28500), pow(10.0, -0.5), 1e-4);
        assert_near(peak_of(once, i * 48000 + 28801, (i + 1) * 48000 - 1), 0.0, 0.0);
    }
    es_rehearsal_destroy(deck);
}

/* --- trimmer ----------------------------------------------------------------------------- */

static es_scenario touchy(void)
{
    es_scenario s = es_scenario_defaults();
    s.length_s = 3600.0;
    s.trimmer = (es_scenario_trimmer){
        .per_turn = 0.03, .backlash_deg = 5.0, .range_turns = 2.0, .start = 0.5};
    s.motor_s = 0.2;
    return s;
}

static double error_after(es_rehearsal *deck, double seconds)
{
    for (size_t left = (size_t)(seconds * RATE); left;) {
        size_t block = left < FRAMES ? left : FRAMES;
        es_rehearsal_render(deck, once, block);
        left -= block;
    }
    return es_rehearsal_speed_now(deck);
}

/* 3 % a turn and 5 degrees of play. From the middle of the play 36 degrees move the wiper by 33.5
 * degrees = 0.0930556 turn = 0.2791667 %; back by 18 degrees moves it by 13 = 0.1083333 %. */
static void turns_with_play(void **state)
{
    (void)state;
    es_scenario s = touchy();
    es_rehearsal *deck = playing(&s, RATE);
    assert_near(error_after(deck, 0.5), 0.0, 1e-12);
    es_rehearsal_turn_trimmer(deck, 2.0 / 360.0);
    assert_near(error_after(deck, 3.0), 0.0, 1e-12);
    es_rehearsal_turn_trimmer(deck, 34.0 / 360.0);
    assert_near(es_rehearsal_settled_error(deck), 0.002791667, 1e-9);
    assert_near(error_after(deck, 3.0), 0.002791667, 1e-8);
    es_rehearsal_turn_trimmer(deck, -4.9 / 360.0);
    assert_near(error_after(deck, 3.0), 0.002791667, 1e-8);
    es_rehearsal_turn_trimmer(deck, -13.1 / 360.0);
    assert_near(error_after(deck, 3.0), 0.002791667 - 0.001083333, 1e-8);
    es_rehearsal_destroy(deck);
}

/* A first-order lag has 1 - 1/e of a step after one time constant, 1 - 1/e^3 after three. */
static void follows_with_the_motors_time_constant(void **state)
{
    (void)state;
    es_scenario s = touchy();
    s.trimmer.backlash_deg = 0.0;
    es_rehearsal *deck = playing(&s, RATE);
    error_after(deck, 1.0);
    es_rehearsal_turn_trimmer(deck, 0.5);
    assert_near(error_after(deck, 0.2) / 0.015, 1.0 - exp(-1.0), 0.004);
    assert_near(error_after(deck, 0.4) / 0.015, 1.0 - exp(-3.0), 0.001);
    es_rehearsal_destroy(deck);
}

static void obeys_its_sense_and_its_stops(void **state)
{
    (void)state;
    es_scenario s = touchy();
    s.trimmer.anticlockwise_is_faster = 1;
    s.trimmer.start = 0.25; /* half a turn below, one and a half above */
    es_rehearsal *deck = playing(&s, RATE);
    es_rehearsal_turn_trimmer(deck, -10.0);
    assert_near(error_after(deck, 5.0), 0.015, 1e-9);
    es_rehearsal_turn_trimmer(deck, 10.0);
    assert_near(error_after(deck, 5.0), -0.045, 1e-9);
    es_rehearsal_turn_trimmer(deck, -6.0 / 360.0); /* it had not turned on beyond the stop */
    assert_near(error_after(deck, 5.0), -0.045 + 0.03 / 360.0, 1e-9);
    es_rehearsal_turn_trimmer(deck, (double)NAN);
    es_rehearsal_turn_trimmer(deck, (double)INFINITY);
    assert_near(error_after(deck, 5.0), -0.045 + 0.03 / 360.0, 1e-9);
    es_rehearsal_destroy(deck);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_block_size_gives_the_same_frames),
        cmocka_unit_test(a_seed_means_the_same_frames),
        cmocka_unit_test(each_source_has_its_own_noise),
        cmocka_unit_test(refuses_what_can_not_be_played),
        cmocka_unit_test(survives_every_allocation_failure),
        cmocka_unit_test(rendering_never_allocates),
        cmocka_unit_test(nothing_is_known_before_it_plays),
        cmocka_unit_test(starts_runs_and_stands_still),
        cmocka_unit_test(starts_without_a_click),
        cmocka_unit_test(the_tone_comes_and_goes),
        cmocka_unit_test(turns_with_play),
        cmocka_unit_test(follows_with_the_motors_time_constant),
        cmocka_unit_test(obeys_its_sense_and_its_stops),
    };
    return cmocka_run_group_tests_name("tape/rehearsal", tests, NULL, NULL);
}
