/* The coach for level and balance, against the decibels put in; and the life of all but the speed's. */
#include "align_play.h"
#include "alloc_probe.h"
#include "trim_settings.h"

/* --- level and balance ----------------------------------------------------------------------- */

static es_scenario level_scenario(double dbfs, double balance_db, uint64_t seed)
{
    es_scenario s = tone_scenario(315.0, 0.0);
    s.seed = seed;
    s.level_dbfs = dbfs;
    s.balance_db = balance_db;
    s.level_trimmer.anticlockwise_is_more = (int)(seed % 2);
    return s;
}

static void reads_each_channel_against_the_reference(void **state)
{
    (void)state;
    es_scenario s = level_scenario(-13.4, -2.2, 3);
    for (int channel = 1; channel <= 2; channel++) {
        begin(&s, ES_ADJUST_LEVEL, channel, -10.0);
        align_run(&bench, 3.0);
        assert_int_equal(bench.now.state, ES_TRIM_READING);
        assert_near(bench.now.error_percent, channel == 1 ? -3.4 : -5.6, 0.05);
        assert_int_equal(bench.now.pair.channel, channel);
        assert_near(bench.now.pair.level_dbfs[0], -13.4, 0.05);
        assert_near(bench.now.pair.balance_db, -2.2, 0.02);
        says(channel == 1 ? "Left too soft" : "Right too soft");
        align_stop(&bench);
    }
}

static void when_one_channel_is_done_the_other_is_named(void **state)
{
    (void)state;
    es_scenario s = level_scenario(-10.1, -2.2, 3);
    begin(&s, ES_ADJUST_LEVEL, 1, -10.0);
    comes(ES_TRIM_THERE, 6.0);
    align_run(&bench, 4.0);
    assert_int_equal(bench.now.final, 1);
    says("Next the right: 2.3 dB too soft.");
    align_stop(&bench);
}

static void without_a_reference_what_is_heard_first_is_nought(void **state)
{
    (void)state;
    es_scenario s = level_scenario(-17.0, 0.0, 3);
    begin(&s, ES_ADJUST_LEVEL, 1, (double)NAN);
    align_run(&bench, 3.0);
    assert_near(bench.now.live_percent, 0.0, 0.05);
    assert_near(bench.now.pair.reference_dbfs, -17.0, 0.1);
    align_stop(&bench);
}

static void hands_come_within_half_a_decibel(void **state)
{
    (void)state;
    static const es_adjust which[] = {ES_ADJUST_LEVEL, ES_ADJUST_BALANCE};
    for (size_t k = 0; k < COUNT(which); k++)
        for (uint64_t seed = 1; seed <= 10; seed++) {
            es_scenario s = level_scenario(-12.0, seed % 2 ? 2.5 : -3.0, seed);
            begin(&s, which[k], 2, -10.0);
            if (!align_coached(&bench, 0.05, 120.0))
                fail_msg("%d, seed %d is not done: %s", (int)which[k], (int)seed, bench.now.advice);
            es_rehearsal_truth t = es_rehearsal_truth_of(bench.deck);
            double left_db = 20.0 * log10(t.level_fs[1]) + 10.0;
            if (which[k] == ES_ADJUST_BALANCE)
                left_db = t.level_difference_db;
            assert_near(left_db, 0.0, 0.5);
            assert_near(bench.now.final_percent, left_db, bench.now.final_u95_percent);
            assert_true(bench.now.nudge_count <= 8);
            align_stop(&bench);
        }
}

static void balance_needs_both_but_level_does_not(void **state)
{
    (void)state;
    es_scenario s = level_scenario(-12.0, 0.0, 4);
    s.dead = ES_DEAD_RIGHT;
    s.snr_db = 60.0;
    begin(&s, ES_ADJUST_BALANCE, 0, (double)NAN);
    stays_listening("right-dead", "Only the left channel", 2.0);
    begin(&s, ES_ADJUST_LEVEL, 1, -10.0);
    align_run(&bench, 3.0);
    assert_int_equal(bench.now.state, ES_TRIM_READING);
    align_stop(&bench);
    begin(&s, ES_ADJUST_LEVEL, 2, -10.0);
    stays_listening("silence", "Nothing is heard", 2.0);
}

/* --- life ------------------------------------------------------------------------------------ */

static void refuses_settings_out_of_range(void **state)
{
    (void)state;
    es_trim_config good = es_trim_defaults_for(ES_ADJUST_AZIMUTH, ALIGN_RATE, 2), c;
    assert_near(good.tolerance, 5.0, 0.0);
    c = good, c.channels = 1, refuses(c, "mono");
    c = good, c.target = 201.0, refuses(c, "bad-target");
    c = good, c.tolerance = 0.4, refuses(c, "bad-tolerance");
    c = good, c.tolerance = (double)NAN, refuses(c, "bad-tolerance");
    c = good, c.adjust = (es_adjust)7, refuses(c, "bad-adjust");
    c = es_trim_defaults_for(ES_ADJUST_LEVEL, ALIGN_RATE, 4);
    c.channel = 3, refuses(c, "no-channel");
    c.channel = 1, c.reference_dbfs = 30.0, refuses(c, "bad-reference");
}

static void aims_in_its_own_unit(void **state)
{
    (void)state;
    es_scenario s = align_scenario(20.0, 40.0, 2);
    azimuth(&s);
    align_run(&bench, 3.0);
    assert_int_equal(es_trim_aim(bench.trim, 500.0, 5.0), ES_ERR_ARG);
    assert_int_equal(es_trim_aim(bench.trim, 19.0, 4.0), ES_OK);
    comes(ES_TRIM_THERE, 8.0);
    assert_near(bench.now.target_percent, 19.0, 1e-9);
    assert_near(bench.now.tolerance_percent, 4.0, 1e-9);
    align_stop(&bench);
}

static void survives_want_of_memory(void **state)
{
    (void)state;
    survives_want_of_memory_with(es_trim_defaults_for(ES_ADJUST_AZIMUTH, ALIGN_RATE, 2));
}

static void working_never_allocates(void **state)
{
    (void)state;
    es_scenario s = align_scenario(20.0, 40.0, 2);
    azimuth(&s);
    alloc_probe_reset();
    align_run(&bench, 8.0);
    es_rehearsal_turn(bench.deck, ES_SCREW_AZIMUTH, 0.05);
    align_run(&bench, 3.0);
    es_trim_gap(bench.trim, 1000);
    align_run(&bench, 2.0);
    assert_int_equal(alloc_probe_calls(), 0);
    align_stop(&bench);
}

/* The same frames in blocks of any size. */
static void the_block_size_does_not_matter(void **state)
{
    (void)state;
    enum { FRAMES = 6 * 48000 };
    static float frames[2 * FRAMES];
    static es_trim_snapshot shots[2][130];
    static const size_t blocks[] = {2400, 331};
    es_scenario s = align_scenario(-31.0, 30.0, 9);
    azimuth(&s);
    es_rehearsal_render(bench.deck, frames, FRAMES / 2);
    es_rehearsal_turn(bench.deck, ES_SCREW_AZIMUTH, 0.07);
    es_rehearsal_render(bench.deck, frames + FRAMES, FRAMES / 2);
    align_stop(&bench);
    for (int k = 0; k < 2; k++) {
        azimuth(&s);
        size_t count = 0;
        for (size_t done = 0; done < FRAMES;) {
            size_t take = FRAMES - done < blocks[k] ? FRAMES - done : blocks[k];
            es_trim_push(bench.trim, frames + 2 * done, take);
            while (count < 130 && es_trim_take(bench.trim, &shots[k][count]))
                count++;
            done += take;
        }
        assert_int_equal(count, 120);
        align_stop(&bench);
    }
    assert_memory_equal(shots[0], shots[1], 120 * sizeof shots[0][0]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_each_channel_against_the_reference),
        cmocka_unit_test(when_one_channel_is_done_the_other_is_named),
        cmocka_unit_test(without_a_reference_what_is_heard_first_is_nought),
        cmocka_unit_test(hands_come_within_half_a_decibel),
        cmocka_unit_test(balance_needs_both_but_level_does_not),
        cmocka_unit_test(refuses_settings_out_of_range),
        cmocka_unit_test(aims_in_its_own_unit),
        cmocka_unit_test(survives_want_of_memory),
        cmocka_unit_test(working_never_allocates),
        cmocka_unit_test(the_block_size_does_not_matter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
