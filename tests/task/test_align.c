/*
 * The coach for azimuth, with the rehearsal deck: what it reads is compared with the delay that geometry makes
 * of the tilt put in.
 */
#include "align_play.h"
#include "tone.h"

/* --- azimuth: reading ------------------------------------------------------------------- */

static void reads_a_delay_within_its_uncertainty_and_in_time(void **state)
{
    (void)state;
    static const double delays_us[] = {-80.0, -33.3, -0.7, 12.5, 80.0};
    static const double snr_db[] = {40.0, 20.0};
    for (size_t k = 0; k < COUNT(delays_us); k++)
        for (size_t n = 0; n < COUNT(snr_db); n++) {
            es_scenario s = align_scenario(delays_us[k], snr_db[n], k + 1);
            azimuth(&s);
            align_run(&bench, 3.0);
            double error = bench.now.error_percent;
            assert_near(error, delays_us[k], snr_db[n] > 30.0 ? 0.3 : 1.0);
            assert_true(fabs(error - delays_us[k]) <= bench.now.u95_percent);
            assert_true(bench.now.pair.turn_known && !bench.now.note[0]);
            align_stop(&bench);
        }
}

static void works_at_every_sample_rate(void **state)
{
    (void)state;
    static const double rates[] = {8000.0, 22050.0, 44100.0, 96000.0, 192000.0};
    for (size_t k = 0; k < COUNT(rates); k++) {
        es_scenario s = align_scenario(-41.0, 40.0, k + 1);
        es_trim_config c = es_trim_defaults_for(ES_ADJUST_AZIMUTH, rates[k], 2);
        assert_true(align_start(&bench, &s, &c));
        align_run(&bench, 4.0);
        assert_int_equal(bench.now.state, ES_TRIM_READING);
        assert_near(bench.now.error_percent, -41.0, bench.now.u95_percent);
        align_stop(&bench);
    }
}

/* What was turned while nobody listened is a turn all the same. */
static void a_turn_in_a_gap_is_found(void **state)
{
    (void)state;
    es_scenario s = align_scenario(40.0, 40.0, 2);
    azimuth(&s);
    align_run(&bench, 8.0);
    es_rehearsal_turn(bench.deck, ES_SCREW_AZIMUTH, -0.08);
    es_trim_gap(bench.trim, 24000);
    align_run(&bench, 3.0);
    assert_int_equal(bench.now.overruns, 1);
    assert_int_equal(bench.now.nudge_count, 1);
    assert_near(bench.now.error_percent, es_rehearsal_truth_of(bench.deck).delay_us, 0.5);
    align_stop(&bench);
}

/* 9.097 minutes of arc are 50 us on a cassette, and 180 degrees at 10 kHz (360 x 1e4 x 50e-6). */
static void tells_tilt_phase_and_sum(void **state)
{
    (void)state;
    es_scenario s = align_scenario(50.0, 45.0, 3);
    azimuth(&s);
    align_run(&bench, 4.0);
    const es_pair_view *v = &bench.now.pair;
    assert_int_equal(v->known, 1);
    assert_near(v->angle_arcmin, 50.0 / ALIGN_US_PER_ARCMIN, 0.05);
    assert_near(v->phase_10k_deg, 180.0, 1.0);
    assert_true(v->sum_db < -0.5 && v->sum_db > -6.0);
    assert_true(v->coherence > 0.99 && !v->opposed && isnan(v->tone_hz));
    for (size_t i = 0; i < v->phase_count;
         i++) /* the phase that this delay makes at each frequency */
        if (v->phase[i].hz < 8000.0) {
            double expected = -360.0 * v->phase[i].hz * 50e-6;
            assert_near(v->phase[i].degrees, expected, 5.0);
        }
    assert_true(v->phase_count > 15 && v->dot_count == ES_PAIR_DOTS);
    align_stop(&bench);
}

static void words_name_the_late_channel(void **state)
{
    (void)state;
    es_scenario s = align_scenario(30.0, 40.0, 1);
    azimuth(&s);
    comes(ES_TRIM_READING, 3.0);
    says("Right late");
    align_stop(&bench);
    s = align_scenario(-30.0, 40.0, 1); /* as with swapped channels */
    azimuth(&s);
    comes(ES_TRIM_READING, 3.0);
    says("Right early");
    align_stop(&bench);
}

/* --- azimuth: tones ----------------------------------------------------------------------- */

static void a_low_tone_is_enough(void **state)
{
    (void)state;
    static const double hz[] = {1000.0, 3150.0};
    for (size_t k = 0; k < COUNT(hz); k++) {
        es_scenario s = tone_scenario(hz[k], -72.0);
        azimuth(&s);
        comes(ES_TRIM_READING, 4.0);
        align_run(&bench, 1.0);
        assert_near(bench.now.error_percent, -72.0, 1.0);
        assert_true(bench.now.pair.turn_known && !bench.now.note[0]);
        assert_near(bench.now.pair.tone_hz, hz[k], 0.01 * hz[k]);
        align_stop(&bench);
    }
}

/* 10 kHz has turns of 100 us: 80 us late look like 20 us early, and that is said. */
static void a_high_tone_warns_that_it_may_be_a_whole_turn_off(void **state)
{
    (void)state;
    es_scenario s = tone_scenario(10000.0, 80.0);
    azimuth(&s);
    comes(ES_TRIM_READING, 4.0);
    align_run(&bench, 1.0);
    assert_near(bench.now.error_percent, -20.0, 1.0);
    assert_false(bench.now.pair.turn_known);
    says("a whole turn off");
    says("100 us apart");
    align_stop(&bench);
}

/* One coach hears the broadband part of a tape and then a tone of it. */
static void what_the_broadband_sound_said_settles_a_tones_turn(void **state)
{
    (void)state;
    static float frames[2 * ALIGN_BLOCK];
    es_scenario s = align_scenario(80.0, 40.0, 5), t = tone_scenario(10000.0, 80.0);
    azimuth(&s);
    align_run(&bench, 3.0);
    es_rehearsal_destroy(bench.deck);
    assert_int_equal(es_rehearsal_create(&t, ALIGN_RATE, &bench.deck), ES_OK);
    memset(frames, 0, sizeof frames);
    for (int i = 0; i < 40; i++) /* two seconds of nothing between the sections */
        es_trim_push(bench.trim, frames, ALIGN_BLOCK);
    align_run(&bench, 4.0);
    assert_int_equal(bench.now.state, ES_TRIM_READING);
    assert_near(bench.now.error_percent, 80.0, 1.0);
    assert_true(bench.now.pair.turn_known && !bench.now.note[0]);
    align_stop(&bench);
}

/* --- azimuth: what can't be read ----------------------------------------------------------- */

static void a_dead_channel_is_named(void **state)
{
    (void)state;
    es_scenario s = align_scenario(10.0, 60.0, 2);
    s.dead = ES_DEAD_RIGHT;
    azimuth(&s);
    stays_listening("right-dead", "Only the left channel", 3.0);
    s.dead = ES_DEAD_LEFT;
    azimuth(&s);
    stays_listening("left-dead", "Only the right channel", 3.0);
}

static void silence_is_told_and_so_is_its_end(void **state)
{
    (void)state;
    es_scenario s = align_scenario(10.0, HUGE_VAL, 2);
    s.level_dbfs = -120.0;
    azimuth(&s);
    stays_listening("silence", "Nothing is heard", 2.0);
    s = align_scenario(10.0, 60.0, 2);
    s.length_s = 5.0;
    s.lead_out_s = 2.0;
    azimuth(&s);
    align_run(&bench, 2.0);
    assert_int_equal(bench.now.state, ES_TRIM_READING);
    stays_listening("gone", "is the tape still running?", 2.5);
}

static void channels_with_nothing_in_common_are_told(void **state)
{
    (void)state;
    static float hiss[2 * ALIGN_BLOCK];
    uint64_t seed = 11;
    es_scenario s = align_scenario(0.0, 40.0, 2);
    azimuth(&s);
    for (int i = 0; i < 60; i++) {
        for (size_t k = 0; k < COUNT(hiss); k++)
            hiss[k] = (float)(0.1 * test_gauss(&seed));
        es_trim_push(bench.trim, hiss, ALIGN_BLOCK);
    }
    while (es_trim_take(bench.trim, &bench.now))
        ;
    stays_listening("nothing-common", "nothing in common", 0.0);
}

static void one_and_the_same_sound_in_both_is_a_mono_input(void **state)
{
    (void)state;
    es_scenario s = align_scenario(0.0, HUGE_VAL, 2);
    azimuth(&s);
    stays_listening("same-sound", "mono", 3.0);
}

static void reversed_polarity_stops_the_hand(void **state)
{
    (void)state;
    es_scenario s = align_scenario(25.0, 40.0, 2);
    s.opposed = 1;
    azimuth(&s);
    comes(ES_TRIM_LOOK_FIRST, 5.0);
    assert_string_equal(bench.now.reason, "opposed");
    says("polarity");
    assert_int_equal(bench.now.pair.opposed, 1);
    align_stop(&bench);
    s = tone_scenario(1000.0, 25.0);
    s.opposed = 1;
    azimuth(&s);
    comes(ES_TRIM_LOOK_FIRST, 6.0);
    assert_string_equal(bench.now.reason, "opposed");
    align_stop(&bench);
}

static void dropouts_show_no_figure_and_move_nothing(void **state)
{
    (void)state;
    es_scenario s = align_scenario(25.0, 40.0, 2);
    s.dropouts_per_min = 30.0;
    s.dropout_db = 60.0;
    s.dropout_s = 0.2;
    azimuth(&s);
    align_run(&bench, 20.0);
    assert_int_equal(bench.now.nudge_count, 0);
    align_stop(&bench);
}

/* --- azimuth: the hand --------------------------------------------------------------------- */

/* Fifty hands that tremble, screws of either sense with 4 degrees of play, 20 dB SNR. */
static void fifty_hands_come_within_the_tolerance(void **state)
{
    (void)state;
    size_t most = 0;
    double longest = 0.0;
    for (uint64_t seed = 1; seed <= 50; seed++) {
        double delay_us = (seed % 3 ? 1.0 : -1.0) * (15.0 + 1.3 * (double)seed);
        es_scenario s = align_scenario(delay_us, 20.0, seed);
        azimuth(&s);
        if (!align_coached(&bench, 0.06, 120.0))
            fail_msg("seed %d is not done: %s", (int)seed, bench.now.advice);
        double left_us = es_rehearsal_truth_of(bench.deck).delay_us;
        assert_true(fabs(left_us) <= 5.0);
        assert_near(bench.now.final_percent, left_us, bench.now.final_u95_percent);
        most = bench.now.nudge_count > most ? bench.now.nudge_count : most;
        longest = fmax(longest, bench.now.time_s);
        align_stop(&bench);
    }
    print_message("azimuth: at most %zu nudges, %.1f s\n", most, longest);
    assert_true(most <= 8);
    assert_true(longest < 60.0);
}

static void a_nudge_is_found_with_its_size(void **state)
{
    (void)state;
    es_scenario s = align_scenario(40.0, 40.0, 2);
    azimuth(&s);
    align_run(&bench, 8.0);
    es_rehearsal_turn(bench.deck, ES_SCREW_AZIMUTH, -0.05); /* - 3', less half of the play */
    double before = 40.0, after;
    align_run(&bench, 3.0);
    after = es_rehearsal_truth_of(bench.deck).delay_us;
    assert_int_equal(bench.now.nudge_count, 1);
    assert_near(bench.now.nudges[0].size_percent, after - before, 0.5);
    align_stop(&bench);
}

/* --- a tape that wanders ------------------------------------------------------------------- */

/* Snapshots with a figure; those whose u95 holds 20 us; those that call the wavering too much. */
static int shown, covered, wavers;
static es_trim_snapshot stopped; /* the last of these */

/* Forty sines whose delay is put in sample by sample. */
static void push_wandering(double seconds, double (*delay_us)(double time_s))
{
    enum { SINES = 40 };
    static float frames[2 * ALIGN_BLOCK];
    double hz[SINES], turns[SINES];
    uint64_t seed = 5;
    shown = covered = wavers = 0;
    for (int k = 0; k < SINES; k++) {
        hz[k] = 150.0 * pow(80.0, (k + test_uniform(&seed)) / SINES);
        turns[k] = test_uniform(&seed);
    }
    for (int block = 0; block < (int)(seconds * 20.0); block++) {
        for (int i = 0; i < ALIGN_BLOCK; i++) {
            double t = ((double)block * ALIGN_BLOCK + i) / ALIGN_RATE, sums[2] = {0.0, 0.0};
            double late = t - 1e-6 * delay_us(t);
            for (int k = 0; k < SINES; k++) {
                sums[0] += sin(TONE_TWO_PI * (hz[k] * t + turns[k]));
                sums[1] += sin(TONE_TWO_PI * (hz[k] * late + turns[k]));
            }
            for (int c = 0; c < 2; c++)
                frames[2 * i + c] = (float)(0.04 * sums[c] + 0.001 * test_gauss(&seed));
        }
        es_trim_push(bench.trim, frames, ALIGN_BLOCK);
        while (es_trim_take(bench.trim, &bench.now)) {
            shown += !isnan(bench.now.error_percent);
            covered += fabs(bench.now.error_percent - 20.0) <= bench.now.u95_percent;
            if (strcmp(bench.now.reason, "flutter") != 0)
                continue;
            wavers++;
            stopped = bench.now;
        }
    }
}

/* Noise that changes within so many seconds. */
static double wandering(double t, double rms_us, double within_s)
{
    static uint64_t seed;
    static double off;
    double keep = exp(-1.0 / (within_s * ALIGN_RATE));
    if (t == 0.0) {
        seed = 99;
        off = 0.0;
    }
    off = keep * off + sqrt(1.0 - keep * keep) * rms_us * test_gauss(&seed);
    return 20.0 + off;
}

/* Like a shell in which the tape finds no hold. */
static double restless(double t)
{
    return wandering(t, 6.0, 0.2);
}

/* No guide holds it: the mean of 30 s is known to no better than 2 x 12 x sqrt(2 x 1 / 30) = 6 us. */
static double adrift(double t)
{
    return wandering(t, 12.0, 1.0);
}

static double steady(double t)
{
    (void)t;
    return 20.0;
}

static double drifting(double t)
{
    return 20.0 + 0.7 * t; /* 42 us a minute */
}

static double steadily_swinging(double t)
{
    return 20.0 + 4.0 * sin(TONE_TWO_PI * 1.52 * t); /* with every turn of a roller */
}

static void u95_keeps_its_promise_on_a_restless_tape(void **state)
{
    (void)state;
    es_scenario s = align_scenario(0.0, 40.0, 2);
    azimuth(&s);
    push_wandering(60.0, restless);
    assert_true(shown > 200);
    assert_true(covered > 0.9 * shown);
    align_stop(&bench);
}

static void what_wavers_too_much_is_looked_at_first(void **state)
{
    (void)state;
    es_scenario s = align_scenario(0.0, 40.0, 2);
    azimuth(&s);
    push_wandering(60.0, adrift);
    assert_true(wavers > 20); /* a second; it comes and goes with what was heard last */
    assert_int_equal(stopped.state, ES_TRIM_LOOK_FIRST);
    assert_true(isnan(stopped.error_percent) && isnan(stopped.move_factor));
    assert_non_null(strstr(stopped.advice, "Stop: the delay wavers too much to be set to 5"));
    assert_non_null(strstr(stopped.advice, "look first at the tape's guides"));
    align_stop(&bench);
}

static void what_does_not_waver_is_not_said_to(void **state)
{
    (void)state;
    es_scenario s = align_scenario(0.0, 40.0, 2);
    azimuth(&s);
    push_wandering(20.0, steady);
    assert_int_equal(wavers, 0);
    assert_int_equal(bench.now.state, ES_TRIM_READING);
    assert_true(shown > 300);
    align_stop(&bench);
}

static void what_drifts_is_looked_at_first(void **state)
{
    (void)state;
    es_scenario s = align_scenario(0.0, 40.0, 2);
    azimuth(&s);
    push_wandering(25.0, drifting);
    assert_int_equal(bench.now.state, ES_TRIM_LOOK_FIRST);
    assert_string_equal(bench.now.reason, "drift");
    says("drifts by +4");
    says("us a minute");
    align_stop(&bench);
}

static void a_steady_swing_is_taken_off_and_no_nudge(void **state)
{
    (void)state;
    es_scenario s = align_scenario(0.0, 40.0, 2);
    azimuth(&s);
    push_wandering(12.0, steadily_swinging);
    assert_int_equal(wavers, 0);
    assert_int_equal(bench.now.state, ES_TRIM_READING);
    assert_near(bench.now.error_percent, 20.0, 1.0);
    assert_int_equal(bench.now.nudge_count, 0);
    align_stop(&bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_a_delay_within_its_uncertainty_and_in_time),
        cmocka_unit_test(works_at_every_sample_rate),
        cmocka_unit_test(a_turn_in_a_gap_is_found),
        cmocka_unit_test(tells_tilt_phase_and_sum),
        cmocka_unit_test(words_name_the_late_channel),
        cmocka_unit_test(a_low_tone_is_enough),
        cmocka_unit_test(a_high_tone_warns_that_it_may_be_a_whole_turn_off),
        cmocka_unit_test(what_the_broadband_sound_said_settles_a_tones_turn),
        cmocka_unit_test(a_dead_channel_is_named),
        cmocka_unit_test(silence_is_told_and_so_is_its_end),
        cmocka_unit_test(channels_with_nothing_in_common_are_told),
        cmocka_unit_test(one_and_the_same_sound_in_both_is_a_mono_input),
        cmocka_unit_test(reversed_polarity_stops_the_hand),
        cmocka_unit_test(dropouts_show_no_figure_and_move_nothing),
        cmocka_unit_test(fifty_hands_come_within_the_tolerance),
        cmocka_unit_test(a_nudge_is_found_with_its_size),
        cmocka_unit_test(u95_keeps_its_promise_on_a_restless_tape),
        cmocka_unit_test(what_wavers_too_much_is_looked_at_first),
        cmocka_unit_test(what_does_not_waver_is_not_said_to),
        cmocka_unit_test(what_drifts_is_looked_at_first),
        cmocka_unit_test(a_steady_swing_is_taken_off_and_no_nudge),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
