/* What goes wrong at the bench: tone and input that are lost, decks that can't be
 * set by turning. */
#include "trim_player.h"

/* --- losses ----------------------------------------------------------------------------- */

static void a_dropout_takes_the_number_away_and_is_over_soon(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_run(9.0);
    size_t from = deck.count;
    deck.level = 0.001;
    player_run(0.35);
    assert_int_equal(player_now()->state, ES_TRIM_LISTENING);
    assert_string_equal(player_now()->reason, "dropout");
    deck.level = 0.3;
    player_until(ES_TRIM_READING, 1.0);
    assert_near(player_now()->error_percent, 1.0, 0.05);
    player_run(2.0);
    assert_int_equal(player_now()->nudge_count, 0);
    assert_false(player_saw(ES_TRIM_TURNING, from));
    player_check_rules();
    player_stop();
}

static void a_stopped_tape_takes_the_number_away_until_it_plays_again(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_run(9.0);
    deck.heading = -1.0; /* runs down */
    deck.motor_s = 0.08;
    player_run(2.0);
    assert_int_equal(player_now()->state, ES_TRIM_LISTENING);
    assert_string_equal(player_now()->reason, "gone");
    assert_non_null(strstr(player_now()->advice, "still running"));
    size_t from = deck.count;
    deck.heading = 0.01;
    player_until(ES_TRIM_READING, 6.0);
    player_run(5.0);
    assert_true(player_saw(ES_TRIM_UNSTEADY, from));
    assert_near(player_now()->error_percent, 1.0, 0.03);
    assert_int_equal(player_now()->nudge_count, 0); /* the same speed as before: no nudge */
    player_check_rules();
    player_stop();
}

static void lost_input_is_counted_and_never_bridged(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_run(9.0);
    assert_true(player_now()->averaged_s > 4.0);
    es_trim_gap(deck.trim, 1600); /* 0.1 s */
    player_keep();
    deck.time_s += 0.1;
    assert_int_equal(player_now()->overruns, 1);
    assert_true(isnan(player_now()->error_percent));
    double since = deck.time_s;
    while (player_now()->state != ES_TRIM_READING)
        player_run(0.05);
    assert_true(player_now()->averaged_s <= deck.time_s - since);
    player_run(4.0);
    assert_near(player_now()->error_percent, 1.0, 0.03);
    assert_int_equal(player_now()->nudge_count, 0);
    player_check_rules();
    player_stop();
}

static void a_turn_made_during_lost_input_is_a_nudge(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_run(9.0);
    es_trim_gap(deck.trim, 8000);
    player_keep();
    deck.heading = 0.004;
    player_run(5.0);
    assert_int_equal(player_now()->nudge_count, 1);
    assert_near(player_now()->nudges[0].size_percent, -0.6, 0.04);
    player_stop();
}

static void samples_that_are_not_numbers_are_silence(void **state)
{
    (void)state;
    static float frames[PLAYER_BLOCK];
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_run(6.0);
    for (int k = 0; k < PLAYER_BLOCK; k++)
        frames[k] = k % 2 ? NAN : INFINITY;
    for (int i = 0; i < 20; i++) {
        es_trim_push(deck.trim, frames, PLAYER_BLOCK);
        player_keep();
    }
    assert_int_equal(player_now()->state, ES_TRIM_LISTENING);
    assert_near(player_now()->input_peak_fs, 0.0, 0.0);
    deck.time_s += 1.0;
    player_until(ES_TRIM_READING, 6.0);
    player_stop();
}

/* --- look first ------------------------------------------------------------------------- */

static void a_drift_says_look_first(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    for (int i = 0; i < 600; i++) { /* -1.2 % a minute */
        deck.heading -= 1e-5;
        player_run(0.05);
    }
    assert_int_equal(player_now()->state, ES_TRIM_LOOK_FIRST);
    assert_string_equal(player_now()->reason, "drift");
    assert_non_null(strstr(player_now()->advice, "-1.2 % a minute"));
    assert_int_equal(player_now()->nudge_count, 0);
    player_check_rules();
    player_stop();
}

/* A wavering without any rate to it: every quarter of a second another speed. */
static void too_much_wavering_says_look_first(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    c.tolerance = 0.0003;
    player_start(&c, 0.01);
    deck.motor_s = 0.1;
    for (int i = 0; i < 160; i++) {
        deck.heading = 0.01 + 0.012 * (test_uniform(&deck.seed) - 0.5);
        player_run(0.25);
    }
    assert_true(player_saw(ES_TRIM_LOOK_FIRST, 0));
    int flutter = 0;
    for (size_t i = 0; i < deck.count; i++)
        flutter += strcmp(deck.shot[i].reason, "flutter") == 0;
    assert_true(flutter > 20);
    player_check_rules();
    player_stop();
}

static void a_trimmer_at_its_end_says_look_first(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    player_start(&c, -0.03);
    player_run(9.0);
    deck.heading = -0.025; /* half a per cent: five of them wanted */
    player_run(2.0);
    assert_near(player_now()->move_factor, 5.0, 1.0);
    deck.heading = -0.0245; /* and then it does next to nothing */
    player_run(2.0);
    assert_int_equal(player_now()->state, ES_TRIM_READING);
    player_until(ES_TRIM_LOOK_FIRST, 20.0);
    assert_string_equal(player_now()->reason, "range");
    deck.heading = -0.01; /* the fault is mended: it goes on */
    player_run(3.0);
    assert_int_equal(player_now()->state, ES_TRIM_READING);
    player_check_rules();
    player_stop();
}

static void many_turns_without_getting_there_say_look_first(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    c.limits.nudges_most = 4;
    player_start(&c, 0.01);
    player_run(9.0);
    for (int i = 0; i < 4; i++) {
        deck.heading = i % 2 ? 0.01 : -0.01;
        player_run(2.0);
    }
    assert_int_equal(player_now()->state, ES_TRIM_LOOK_FIRST);
    assert_string_equal(player_now()->reason, "no-progress");
    player_stop();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_dropout_takes_the_number_away_and_is_over_soon),
        cmocka_unit_test(a_stopped_tape_takes_the_number_away_until_it_plays_again),
        cmocka_unit_test(lost_input_is_counted_and_never_bridged),
        cmocka_unit_test(a_turn_made_during_lost_input_is_a_nudge),
        cmocka_unit_test(samples_that_are_not_numbers_are_silence),
        cmocka_unit_test(a_drift_says_look_first),
        cmocka_unit_test(too_much_wavering_says_look_first),
        cmocka_unit_test(a_trimmer_at_its_end_says_look_first),
        cmocka_unit_test(many_turns_without_getting_there_say_look_first),
    };
    return cmocka_run_group_tests_name("task/trim_loss", tests, NULL, NULL);
}
