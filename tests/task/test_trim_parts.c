/* What the coach is made of: words, hand, scatter, swings, curve. */
#include "cm.h"
#include "task/trim_curve.h"
#include "task/trim_hand.h"
#include "task/trim_scatter.h"
#include "task/trim_swing.h"
#include "task/trim_words.h"
#include "tone.h"

#include <stdlib.h>
#include <string.h>

/* --- words ------------------------------------------------------------------------------ */

/* English number words, read as a person would. */
static double share_meant(const char *words)
{
    static const struct {
        const char *words;
        double share;
    } known[] = {{"one and a half times", 1.5},
                 {"one and three quarter times", 1.75},
                 {"two and a half times", 2.5},
                 {"three and a half times", 3.5},
                 {"a quarter more than", 1.25},
                 {"a little less than", 0.875},
                 {"as much as", 1.0},
                 {"twice", 2.0},
                 {"three quarters of", 3.0 / 4.0},
                 {"two thirds of", 2.0 / 3.0},
                 {"three fifths of", 3.0 / 5.0},
                 {"two fifths of", 2.0 / 5.0},
                 {"half of", 1.0 / 2.0},
                 {"a third of", 1.0 / 3.0},
                 {"a quarter of", 1.0 / 4.0},
                 {"a fifth of", 1.0 / 5.0},
                 {"a sixth of", 1.0 / 6.0},
                 {"an eighth of", 1.0 / 8.0},
                 {"a tenth of", 1.0 / 10.0},
                 {"a twelfth of", 1.0 / 12.0},
                 {"a fifteenth of", 1.0 / 15.0},
                 {"a twentieth of", 1.0 / 20.0},
                 {"a thirtieth of", 1.0 / 30.0},
                 {"a fortieth of", 1.0 / 40.0},
                 {"three times", 3.0},
                 {"four times", 4.0},
                 {"five times", 5.0},
                 {"six times", 6.0},
                 {"seven times", 7.0},
                 {"eight times", 8.0},
                 {"nine times", 9.0},
                 {"ten times", 10.0}};
    for (size_t i = 0; i < COUNT(known); i++)
        if (strcmp(known[i].words, words) == 0)
            return known[i].share;
    return (double)NAN;
}

static void words_and_share_say_the_same(void **state)
{
    (void)state;
    for (double factor = 0.025; factor < 10.5; factor *= 1.01) {
        double share = es_share_of_turn(factor);
        assert_near(share_meant(es_share_words(share)), share, 1e-12);
        assert_true(fabs(log(share / factor)) < log(1.25));
        assert_near(es_share_of_turn(-factor), -share, 0.0);
    }
    assert_true(isnan(es_share_of_turn((double)NAN)));
}

static void the_sentence_has_the_share_the_way_and_the_side(void **state)
{
    (void)state;
    es_trim_scene scene = {0};
    es_trim_snapshot s = {.state = ES_TRIM_READING,
                          .error_percent = -0.3,
                          .move_factor = -1.0 / 3.0,
                          .unseen_factor = (double)NAN};
    es_trim_say(&s, &scene);
    assert_string_equal(s.advice, "Too slow: about a third of your last turn, the other way.");
    s.target_percent = -0.5;
    s.move_factor = 0.5;
    s.move_of_first = 1;
    es_trim_say(&s, &scene);
    assert_string_equal(s.advice, "Too fast: about half of your very first turn, the same way.");
}

/* --- hand ------------------------------------------------------------------------------- */

static void the_gain_is_learned_and_the_rest_is_asked_for(void **state)
{
    (void)state;
    es_hand h = {0};
    assert_true(isnan(es_hand_advise(&h, 0.01).factor));
    es_hand_take(&h, -0.002, (double)NAN, 0.2); /* a first turn: 0.2 % slower */
    assert_near(es_hand_advise(&h, -0.006).factor, 3.0, 1e-9);
    assert_near(es_hand_advise(&h, 0.001).factor, -0.5, 1e-9);
    assert_near(es_hand_advise(&h, -0.5).factor, 10.0, 0.0); /* no wilder leap than that */
    es_hand_turn made = es_hand_take(&h, -0.0066, 3.0, 0.2);
    assert_true(made.followed && !made.reversal);
    /* 10 % more than foreseen: both, weighted with the turns' squares: (1 x .2 + 3 x .66) / 10 */
    assert_near(es_hand_advise(&h, -0.00218).factor, 1.0 / 3.0, 1e-6);
}

static void play_is_learned_from_reversals(void **state)
{
    (void)state;
    es_hand h = {0};
    static const double turn[] = {-0.5, -1.0, 2.0, 1.0, -3.0, 1.5, -0.7, -1.0, 1.0, 2.0, -2.5, 0.8};
    double last = 1.0;
    es_hand_take(&h, 0.01, (double)NAN, 0.2); /* 1 % for a turn */
    assert_true(isnan(es_hand_backlash(&h)));
    for (size_t i = 0; i < COUNT(turn); i++) { /* each reversal eats 0.1 % */
        double loss = turn[i] * last < 0.0 ? copysign(0.001, turn[i]) : 0.0;
        es_hand_turn made = es_hand_take(&h, 0.01 * turn[i] - loss, turn[i] / last, 0.2);
        assert_true(made.followed);
        assert_int_equal(made.reversal, loss != 0.0);
        last = turn[i];
    }
    assert_near(es_hand_backlash(&h), 0.001, 0.0003); /* the careful side of it */
    /* 0.4 % back takes half a turn: 0.4 and what is lost */
    assert_near(es_hand_advise(&h, -0.004).factor * last, -0.5, 0.03);
    assert_near(es_hand_advise(&h, 0.004).factor * last, 0.4, 0.01);
}

static void a_hand_that_does_something_else_is_taken_at_its_effect(void **state)
{
    (void)state;
    es_hand h = {0};
    es_hand_take(&h, 0.002, (double)NAN, 0.2);
    es_hand_turn made = es_hand_take(&h, -0.02, 2.0, 0.2); /* the wrong way, and far */
    assert_false(made.followed);
    assert_true(made.reversal);
    assert_near(es_hand_advise(&h, 0.01).factor, -0.5, 0.02);
}

static void turns_that_do_next_to_nothing_are_counted(void **state)
{
    (void)state;
    es_hand h = {0};
    es_hand_take(&h, 0.005, (double)NAN, 0.2);
    es_hand_take(&h, 0.0003, 4.0, 0.2);
    assert_int_equal(h.short_turns, 1);
    es_hand_take(&h, 0.0003, 20.0, 0.2);
    assert_int_equal(h.short_turns, 2);
    es_hand_take(&h, 0.005, 10.0, 0.2);
    assert_int_equal(h.short_turns, 0);
}

static void a_hairs_breadth_is_no_measure(void **state)
{
    (void)state;
    es_hand h = {0};
    es_hand_take(&h, 0.005, (double)NAN, 0.2);
    es_hand_take(&h, -0.0005, -0.1, 0.2);
    es_hand_advice a = es_hand_advise(&h, 0.0025);
    assert_int_equal(a.of_first, 1);
    assert_near(a.factor, -0.5, 0.05); /* half of the first turn, against the last */
    assert_near(es_hand_of_last(&h, a), -5.0, 0.5);
}

/* --- scatter ---------------------------------------------------------------------------- */

#define TICKS 4000

static es_curve curve_of(double (*value)(int tick, uint64_t *seed))
{
    es_curve c;
    uint64_t seed = 99;
    assert_int_equal(es_curve_create(&c), ES_OK);
    for (int i = 0; i < TICKS; i++) {
        double v = value(i, &seed);
        for (int k = 0; k < ES_TICK_READINGS; k++)
            es_curve_push(&c, v, 1, 0.01 * i);
    }
    assert_int_equal(c.end, TICKS);
    return c;
}

static double white(int tick, uint64_t *seed)
{
    (void)tick;
    return 1e-3 * test_gauss(seed);
}

static void learn_all(es_scatter *s, const es_curve *c, int64_t turn)
{
    es_scatter_reset(s);
    for (int64_t end = turn; end <= c->end; end += turn)
        es_scatter_learn(s, c, 0, end, turn);
}

/* White noise of standard deviation s: a mean of n has s^2 / n; the efficient, parabolic mean 6/5
 * of that (from memory: the weights' sum of squares is 6/5 of 1/n for large n). */
static void the_scatter_of_white_noise_falls_with_the_length(void **state)
{
    (void)state;
    es_curve c = curve_of(white);
    es_scatter s;
    double dof;
    learn_all(&s, &c, 10);
    for (double turns = 1.0; turns <= 64.0; turns *= 2.0) {
        double expected = 1.2 * 1e-6 / (10.0 * turns), got = es_scatter_variance(&s, turns, &dof);
        assert_true(got > 0.7 * expected && got < 2.0 * expected);
        assert_true(dof >= 2.0);
    }
    es_curve_destroy(&c);
}

static double slow(int tick, uint64_t *seed)
{
    return 1e-3 * sin(TONE_TWO_PI * tick / 400.0) + 1e-5 * test_gauss(seed);
}

static void slow_wow_does_not_pass_for_a_quiet_deck(void **state)
{
    (void)state;
    es_curve c = curve_of(slow);
    es_scatter s;
    double dof;
    learn_all(&s, &c, 10);
    /* a mean over a tenth of the swing may lie anywhere on it: near its rms of 0.7e-3 */
    assert_true(sqrt(es_scatter_variance(&s, 4.0, &dof)) > 0.5e-3);
    es_curve_destroy(&c);
}

static void nothing_learned_is_not_known(void **state)
{
    (void)state;
    es_scatter s;
    double dof;
    es_scatter_reset(&s);
    assert_true(isnan(es_scatter_variance(&s, 1.0, &dof)) && isnan(dof));
    assert_true(es_scatter_guess(&s, 1.0) > 0.0);
}

/* --- swings ----------------------------------------------------------------------------- */

/* Three swings and noise along the way, through a step of 3 % in the middle. */
static int points_of(es_swing_point *p, int count)
{
    static const double rate[] = {7.51, 1.52, 0.69}, size[] = {1e-3, 6e-4, 4e-4};
    uint64_t seed = 7;
    double way = 12.0;
    for (int i = 0; i < count; i++) {
        way += (i < count / 2 ? 1.0 : 1.03) / ES_TICKS_HZ;
        p[i] = (es_swing_point){.way = way, .weight = i % 97 > 5}; /* with holes */
        for (int k = 0; k < 3; k++)
            p[i].value += size[k] * sin(TONE_TWO_PI * rate[k] * way + k);
        p[i].value += 2e-4 * test_gauss(&seed);
    }
    return count;
}

static void swings_are_found_through_a_step(void **state)
{
    (void)state;
    static es_swing_point p[ES_SWING_SPAN], again[ES_SWING_SPAN];
    es_swings s;
    int count = points_of(p, ES_SWING_SPAN);
    points_of(again, ES_SWING_SPAN);
    es_swings_find(&s, p, count);
    assert_int_equal(s.count, 3);
    assert_near(s.at[0].rate, 7.51, 0.02);
    assert_near(hypot(s.at[0].along, s.at[0].across), 1e-3, 1e-4);
    assert_near(s.at[1].rate, 1.52, 0.02);
    assert_near(hypot(s.at[1].along, s.at[1].across), 6e-4, 1e-4);
    assert_near(s.at[2].rate, 0.69, 0.03);
    double left = 0.0;
    for (int i = 0; i < count; i++) {
        double rest = again[i].value - es_swings_value(&s, again[i].way);
        left += rest * rest / count;
    }
    assert_near(sqrt(left), 2e-4, 0.5e-4); /* the noise */
}

static void noise_has_no_swings(void **state)
{
    (void)state;
    static es_swing_point p[ES_SWING_SPAN];
    int found = 0;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        uint64_t chance = seed;
        es_swings s;
        for (int i = 0; i < ES_SWING_SPAN; i++)
            p[i] = (es_swing_point){i / ES_TICKS_HZ, 1e-4 * test_gauss(&chance), 1.0};
        es_swings_find(&s, p, ES_SWING_SPAN);
        found += s.count;
    }
    assert_true(found <= 3);
}

static void too_few_points_have_no_swings(void **state)
{
    (void)state;
    static es_swing_point p[ES_SWING_SPAN];
    es_swings s;
    es_swings_find(&s, p, points_of(p, ES_SWING_LEAST - 1));
    assert_int_equal(s.count, 0);
}

/* --- curve ------------------------------------------------------------------------------ */

static void bad_readings_and_their_neighbours_are_left_out(void **state)
{
    (void)state;
    es_curve c;
    assert_int_equal(es_curve_create(&c), ES_OK);
    for (int i = 0; i < 100 * ES_TICK_READINGS; i++) {
        int tick = i / ES_TICK_READINGS, wild = tick >= 49 && tick <= 51;
        es_curve_push(&c, wild ? 0.5 : 0.001, i != 50 * ES_TICK_READINGS + 3, 0.001 * i);
    }
    assert_near(es_curve_mean(&c, 0, 100), 0.001, 1e-15);
    assert_near(es_curve_fit(&c, 10, 90), 0.001, 1e-15);
    assert_near(es_curve_heard(&c, 0, 100), 0.001, 1e-15);
    assert_true(isnan(es_curve_tick(&c, 50)->value));
    assert_true(isnan(es_curve_mean(&c, 49, 52)));
    assert_true(isnan(es_curve_mean(&c, 90, 101)) && isnan(es_curve_mean(&c, -1, 5)));
    assert_null(es_curve_tick(&c, 100));
    es_curve_destroy(&c);
}

static void what_is_too_old_is_not_known(void **state)
{
    (void)state;
    es_curve c;
    assert_int_equal(es_curve_create(&c), ES_OK);
    for (int i = 0; i < (ES_CURVE_TICKS + 500) * ES_TICK_READINGS; i++)
        es_curve_push(&c, 1e-3 * (i / ES_TICK_READINGS % 2), 1, 0.0);
    assert_true(isnan(es_curve_mean(&c, 400, 600)));
    assert_near(es_curve_mean(&c, 600, 800), 0.5e-3, 1e-12);
    assert_near(es_curve_mean(&c, c.end - 10, c.end), 0.5e-3, 1e-12);
    es_curve_destroy(&c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(words_and_share_say_the_same),
        cmocka_unit_test(the_sentence_has_the_share_the_way_and_the_side),
        cmocka_unit_test(the_gain_is_learned_and_the_rest_is_asked_for),
        cmocka_unit_test(play_is_learned_from_reversals),
        cmocka_unit_test(a_hand_that_does_something_else_is_taken_at_its_effect),
        cmocka_unit_test(turns_that_do_next_to_nothing_are_counted),
        cmocka_unit_test(a_hairs_breadth_is_no_measure),
        cmocka_unit_test(the_scatter_of_white_noise_falls_with_the_length),
        cmocka_unit_test(slow_wow_does_not_pass_for_a_quiet_deck),
        cmocka_unit_test(nothing_learned_is_not_known),
        cmocka_unit_test(swings_are_found_through_a_step),
        cmocka_unit_test(noise_has_no_swings),
        cmocka_unit_test(too_few_points_have_no_swings),
        cmocka_unit_test(bad_readings_and_their_neighbours_are_left_out),
        cmocka_unit_test(what_is_too_old_is_not_known),
    };
    return cmocka_run_group_tests_name("task/trim_parts", tests, NULL, NULL);
}
