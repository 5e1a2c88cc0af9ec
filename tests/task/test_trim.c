/* The coach's states: what is heard, what is shown, and when. The speeds are those put in. */
#include "trim_player.h"

/* --- no number -------------------------------------------------------------------------- */

static void all_is(es_trim_state state, const char *reason, size_t from)
{
    for (size_t i = from; i < deck.count; i++) {
        assert_int_equal(deck.shot[i].state, state);
        assert_string_equal(deck.shot[i].reason, reason);
        assert_true(isnan(deck.shot[i].error_percent));
    }
}

static void silence_gives_no_number(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.0);
    deck.level = deck.noise_rms = 0.0;
    player_run(2.0);
    all_is(ES_TRIM_LISTENING, "silence", 0);
    assert_true(isnan(player_now()->live_percent) && isnan(player_now()->snr_db));
    assert_non_null(strstr(player_now()->advice, "Nothing is heard"));
    player_check_rules();
    player_stop();
}

static void noise_gives_no_number(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.0);
    deck.level = 0.0;
    deck.noise_rms = 0.1;
    player_run(2.0);
    all_is(ES_TRIM_LISTENING, "other-sound", 10);
    player_check_rules();
    player_stop();
}

static void the_wrong_tone_gives_no_number(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.0);
    deck.tone_hz = 1000.0;
    player_run(2.0);
    all_is(ES_TRIM_LISTENING, "wrong-tone", 10);
    assert_non_null(strstr(player_now()->advice, "1000 Hz"));
    assert_non_null(strstr(player_now()->advice, "3150 Hz"));
    player_check_rules();
    player_stop();
}

static void a_tone_that_is_no_test_tone_gives_no_number(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    c.nominal_hz = 0.0;
    player_start(&c, 0.0);
    deck.tone_hz = 2000.0;
    player_run(2.0);
    all_is(ES_TRIM_LISTENING, "unusual-tone", 10);
    assert_non_null(strstr(player_now()->advice, "2000 Hz"));
    assert_true(isnan(player_now()->nominal_hz));
    player_check_rules();
    player_stop();
}

/* 3075 Hz: 2.5 % above 3000 Hz, 2.4 % below 3150 Hz; who turned by either could turn the wrong way. */
static void a_tone_that_may_be_two_is_asked_for(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    c.nominal_hz = 0.0;
    player_start(&c, 0.0);
    deck.tone_hz = 3075.0;
    player_run(2.0);
    all_is(ES_TRIM_LISTENING, "tone-unsure", 10);
    assert_non_null(strstr(player_now()->advice, "Don't turn yet"));
    assert_true(isnan(player_now()->nominal_hz));
    player_check_rules();
    player_stop();
    c.nominal_hz = 3150.0; /* named, there is no doubt */
    player_start(&c, 0.0);
    deck.tone_hz = 3075.0;
    player_run(4.0);
    assert_near(player_now()->error_percent, 100.0 * (3075.0 / 3150.0 - 1.0), 0.05);
    player_stop();
}

static void two_tones_give_no_number(void **state)
{
    (void)state;
    static float frames[PLAYER_BLOCK];
    es_trim_config c = player_config();
    player_start(&c, 0.0);
    for (int i = 0; i < 40; i++) {
        player_fill(frames, PLAYER_BLOCK);
        for (int k = 0; k < PLAYER_BLOCK; k++)
            frames[k] += 0.3f * sinf((float)TONE_TWO_PI * 0.125f * (float)k); /* 2000 Hz */
        es_trim_push(deck.trim, frames, PLAYER_BLOCK);
        player_keep();
    }
    all_is(ES_TRIM_LISTENING, "two-tones", 10);
    player_check_rules();
    player_stop();
}

/* --- a figure --------------------------------------------------------------------------- */

static void the_nearest_test_tone_is_taken_and_the_doubt_is_said(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    c.nominal_hz = 0.0;
    player_start(&c, -0.013);
    player_until(ES_TRIM_READING, 5.0);
    assert_near(player_now()->nominal_hz, 3150.0, 0.0);
    assert_near(player_now()->error_percent, -1.3, 0.1);
    assert_non_null(strstr(player_now()->note, "3000 Hz")); /* it could be that tape, too */
    player_stop();
}

static void a_start_is_unsteady_then_settles_then_is_read(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.006);
    deck.level = 0.0;
    player_run(1.0);
    deck.level = 0.3;
    deck.speed = -0.08; /* coming up to speed */
    deck.motor_s = 0.25;
    size_t from = deck.count;
    player_until(ES_TRIM_READING, 5.0);
    assert_true(player_saw(ES_TRIM_UNSTEADY, from) && player_saw(ES_TRIM_SETTLING, from));
    assert_false(player_saw(ES_TRIM_TURNING, from));
    assert_near(player_now()->error_percent, 0.6, player_now()->u95_percent);
    assert_int_equal(player_now()->nudge_count, 0);
    player_check_rules();
    player_stop();
}

/* FACTS of the trade: a tape made at +0.40 % on a deck at -0.65 % reads 3117.05677 Hz, -1.045817 %
 * (own arithmetic: (1 - 0.0065) / (1 + 0.004)). */
static void certificate_and_clock_are_taken_off(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    c.tape_error = 0.004;
    c.tape_u = 0.0002;
    c.clock_ppm = 60.0;
    player_start(&c, 0.9935 / 1.004 / (1.0 + 60e-6) - 1.0);
    player_until(ES_TRIM_READING, 5.0);
    player_run(8.0);
    const es_trim_snapshot *s = player_now();
    assert_near(s->error_percent, -0.65, 0.005);
    assert_near(s->tape_error_percent, 0.4, 1e-12);
    assert_near(s->reference_hz, 3150.0 / 1.004 / 1.00006, 1e-6);
    assert_true(s->u95_percent >= 1.95 * 0.02); /* no surer than the certificate */
    player_stop();
}

static void u95_shrinks_as_the_average_grows(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.004);
    player_until(ES_TRIM_READING, 5.0);
    double first = player_now()->u95_percent, averaged = player_now()->averaged_s;
    player_run(3.5);
    assert_true(player_now()->u95_percent < 0.7 * first);
    assert_near(player_now()->averaged_s, averaged + 3.5, 0.2);
    assert_true(player_now()->u95_percent > 0.0095); /* an unmeasured clock, +-0.01 %, stays */
    player_stop();
}

static void the_better_channel_is_followed(void **state)
{
    (void)state;
    static float mono[PLAYER_BLOCK], stereo[2 * PLAYER_BLOCK];
    es_trim_config c = player_config();
    c.channels = 2;
    player_start(&c, -0.003);
    for (int i = 0; i < 100; i++) {
        player_fill(mono, PLAYER_BLOCK);
        for (int k = 0; k < PLAYER_BLOCK; k++) {
            stereo[2 * k] = (float)(1e-3 * test_gauss(&deck.seed));
            stereo[2 * k + 1] = mono[k];
        }
        es_trim_push(deck.trim, stereo, PLAYER_BLOCK);
        player_keep();
    }
    assert_int_equal(player_now()->state, ES_TRIM_READING);
    assert_near(player_now()->error_percent, -0.3, 0.05);
    player_stop();
}

/* --- nudges ----------------------------------------------------------------------------- */

static void known_steps_are_read_as_nudges(void **state)
{
    (void)state;
    static const double step[] = {0.001, -0.003, 0.01, -0.02, 0.0015};
    es_trim_config c = player_config();
    player_start(&c, 0.02);
    player_until(ES_TRIM_READING, 5.0);
    player_run(7.0);
    deck.motor_s = 0.05;
    for (size_t i = 0; i < COUNT(step); i++) {
        size_t from = deck.count;
        double at = deck.time_s;
        deck.heading += step[i];
        player_run(3.0);
        const es_trim_snapshot *s = player_now();
        assert_int_equal(s->state, ES_TRIM_READING);
        assert_int_equal(s->nudge_count, i + 1);
        assert_near(s->nudges[i].size_percent, 100.0 * step[i], 0.025);
        assert_near(s->nudges[i].time_s, at, 0.15);
        assert_near(s->error_percent, 100.0 * deck.heading, s->u95_percent + 0.005);
        assert_true(player_saw(ES_TRIM_TURNING, from) && player_saw(ES_TRIM_SETTLING, from));
    }
    player_check_rules();
    player_stop();
}

static void the_way_the_speed_goes_is_said(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.0);
    player_run(9.0);
    deck.motor_s = 0.2;
    deck.heading = 0.03;
    player_until(ES_TRIM_TURNING, 1.0);
    player_run(0.2);
    assert_non_null(strstr(player_now()->advice, "faster"));
    player_run(3.0);
    deck.heading = -0.01;
    player_until(ES_TRIM_TURNING, 1.0);
    player_run(0.2);
    assert_non_null(strstr(player_now()->advice, "slower"));
    player_stop();
}

static void a_slow_turn_is_one_nudge(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, -0.012);
    player_run(9.0);
    for (int i = 0; i < 40; i++) { /* two seconds of it */
        deck.heading += 0.0002;
        player_run(0.05);
    }
    player_run(2.5);
    assert_int_equal(player_now()->nudge_count, 1);
    assert_near(player_now()->nudges[0].size_percent, 0.8, 0.03);
    player_stop();
}

/* A motor that takes two steps to its new speed: nobody turns again a tenth of a second after a
 * figure appeared. */
static void a_change_too_soon_for_a_hand_belongs_to_the_last_nudge(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.02);
    player_run(9.0);
    deck.heading = 0.01;
    player_until(ES_TRIM_TURNING, 1.0);
    player_until(ES_TRIM_READING, 2.0);
    deck.heading = 0.007;
    player_run(3.0);
    assert_int_equal(player_now()->nudge_count, 1);
    assert_near(player_now()->nudges[0].size_percent, -1.3, 0.03);
    deck.heading = 0.004; /* a second later it is a hand's */
    player_run(3.0);
    assert_int_equal(player_now()->nudge_count, 2);
    player_stop();
}

static void an_overshoot_is_seen(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, -0.012);
    player_run(9.0);
    deck.heading = 0.002; /* 1.4 % and back by 0.4 % */
    player_run(0.4);
    deck.heading = -0.002;
    player_run(2.5);
    assert_int_equal(player_now()->nudge_count, 1);
    assert_near(player_now()->nudges[0].size_percent, 1.0, 0.03);
    assert_near(player_now()->nudges[0].overshoot, 0.4, 0.08);
    player_stop();
}

static void left_alone_no_nudge_is_seen(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.004);
    player_run(90.0);
    assert_int_equal(player_now()->nudge_count, 0);
    assert_int_equal(player_now()->state, ES_TRIM_READING);
    assert_false(player_saw(ES_TRIM_TURNING, 0));
    player_check_rules();
    player_stop();
}

/* --- what to do ------------------------------------------------------------------------- */

static void the_first_turn_is_asked_for_when_the_deck_is_known(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_until(ES_TRIM_READING, 5.0);
    assert_non_null(strstr(player_now()->advice, "Too fast"));
    assert_non_null(strstr(player_now()->advice, "hands off"));
    player_run(8.0);
    assert_non_null(strstr(player_now()->advice, "turn a little either way"));
    assert_true(isnan(player_now()->move_factor));
    player_stop();
}

/* From 1.0 % fast, a first turn takes off 0.25 %: three such turns are left to go. */
static void the_next_turn_is_a_share_of_the_last(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_run(9.0);
    deck.heading = 0.0075;
    player_run(2.0);
    assert_near(player_now()->move_factor, 3.0, 0.6);
    assert_non_null(strstr(player_now()->advice, "three"));
    assert_non_null(strstr(player_now()->advice, "the same way"));
    deck.heading = -0.003; /* four times: too far */
    player_run(2.0);
    assert_near(player_now()->move_factor, -0.3, 0.08);
    assert_non_null(strstr(player_now()->advice, "Too slow"));
    assert_non_null(strstr(player_now()->advice, "the other way"));
    player_check_rules();
    player_stop();
}

static void a_turn_without_effect_is_spoken_of(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_run(9.0);
    deck.heading = -0.005;
    player_run(2.0);
    assert_true(isnan(player_now()->unseen_factor));
    player_run(6.0); /* nothing moves: the play of a reversal */
    assert_near(player_now()->unseen_factor, 1.0, 0.0);
    assert_non_null(strstr(player_now()->advice, "that was play"));
    player_stop();
}

/* --- there ------------------------------------------------------------------------------ */

static void the_final_reading_is_taken_when_all_is_quiet(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_run(9.0);
    deck.heading = 0.0002;
    double took = player_until(ES_TRIM_THERE, 4.0);
    assert_true(took < 3.0);
    assert_non_null(strstr(player_now()->advice, "take the tool away"));
    assert_false(player_now()->final);
    player_run(2.5);
    assert_false(player_now()->final);
    assert_near(player_now()->held_s, 2.5, 0.2);
    player_run(1.0);
    const es_trim_snapshot *s = player_now();
    assert_true(s->final);
    assert_near(s->final_percent, 0.02, s->final_u95_percent);
    assert_non_null(strstr(s->advice, "Done: +0.0"));
    player_check_rules();
    player_stop();
}

static void just_outside_is_not_there(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_run(9.0);
    deck.heading = 0.00105;
    player_run(8.0);
    assert_false(player_saw(ES_TRIM_THERE, 0));
    assert_true(player_now()->move_factor < 0.2);
    player_check_rules();
    player_stop();
}

static void letting_go_that_moves_it_is_noticed(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_run(9.0);
    deck.heading = 0.0;
    player_until(ES_TRIM_THERE, 4.0);
    player_run(1.0);
    deck.heading = 0.0025; /* the tool slips */
    player_run(2.0);
    assert_int_equal(player_now()->state, ES_TRIM_READING);
    assert_int_equal(player_now()->nudge_count, 2);
    assert_false(player_now()->final);
    deck.heading = 0.0;
    player_run(6.0);
    assert_true(player_now()->final);
    deck.heading = -0.003; /* and even after the final reading */
    player_until(ES_TRIM_TURNING, 1.0);
    assert_false(player_now()->final);
    player_run(2.0);
    assert_false(player_now()->final);
    assert_int_equal(player_now()->state, ES_TRIM_READING);
    player_check_rules();
    player_stop();
}

static void another_target_is_aimed_at(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.005);
    player_run(9.0);
    assert_int_equal(player_now()->state, ES_TRIM_READING);
    assert_int_equal(es_trim_aim(deck.trim, 0.005, 0.001), ES_OK);
    player_run(5.0);
    assert_true(player_now()->final);
    assert_near(player_now()->target_percent, 0.5, 1e-12);
    assert_near(player_now()->reference_hz, 3150.0 * 1.005, 1e-6);
    assert_int_equal(es_trim_aim(deck.trim, 0.5, 0.001), ES_ERR_ARG);
    assert_int_equal(es_trim_aim(deck.trim, 0.0, (double)NAN), ES_ERR_ARG);
    player_run(0.1);
    assert_near(player_now()->target_percent, 0.5, 1e-12);
    player_stop();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(silence_gives_no_number),
        cmocka_unit_test(noise_gives_no_number),
        cmocka_unit_test(the_wrong_tone_gives_no_number),
        cmocka_unit_test(a_tone_that_is_no_test_tone_gives_no_number),
        cmocka_unit_test(a_tone_that_may_be_two_is_asked_for),
        cmocka_unit_test(two_tones_give_no_number),
        cmocka_unit_test(the_nearest_test_tone_is_taken_and_the_doubt_is_said),
        cmocka_unit_test(a_start_is_unsteady_then_settles_then_is_read),
        cmocka_unit_test(certificate_and_clock_are_taken_off),
        cmocka_unit_test(u95_shrinks_as_the_average_grows),
        cmocka_unit_test(the_better_channel_is_followed),
        cmocka_unit_test(known_steps_are_read_as_nudges),
        cmocka_unit_test(the_way_the_speed_goes_is_said),
        cmocka_unit_test(a_slow_turn_is_one_nudge),
        cmocka_unit_test(a_change_too_soon_for_a_hand_belongs_to_the_last_nudge),
        cmocka_unit_test(an_overshoot_is_seen),
        cmocka_unit_test(left_alone_no_nudge_is_seen),
        cmocka_unit_test(the_first_turn_is_asked_for_when_the_deck_is_known),
        cmocka_unit_test(the_next_turn_is_a_share_of_the_last),
        cmocka_unit_test(a_turn_without_effect_is_spoken_of),
        cmocka_unit_test(the_final_reading_is_taken_when_all_is_quiet),
        cmocka_unit_test(just_outside_is_not_there),
        cmocka_unit_test(letting_go_that_moves_it_is_noticed),
        cmocka_unit_test(another_target_is_aimed_at),
    };
    return cmocka_run_group_tests_name("task/trim", tests, NULL, NULL);
}
