/* The coach as a piece of machinery: settings, memory, blocks, queue, session; and its promise of
 * u95. */
#include "trim_player.h"

#include "alloc_probe.h"
#include "evenspool/tape/rehearsal.h"
#include "trim_settings.h"

/* --- settings --------------------------------------------------------------------------- */

static void refuses_settings_out_of_range(void **state)
{
    (void)state;
    es_trim_config good = player_config(), c;
    c = good, c.rate_hz = 4000.0, refuses(c, "bad-rate");
    c = good, c.rate_hz = (double)NAN, refuses(c, "bad-rate");
    c = good, c.channels = 0, refuses(c, "bad-channels");
    c = good, c.channels = 65, refuses(c, "bad-channels");
    c = good, c.channel = 2, refuses(c, "no-channel");
    c = good, c.nominal_hz = 7000.0, refuses(c, "bad-tone");
    c = good, c.target = 0.2, refuses(c, "bad-target");
    c = good, c.target = (double)NAN, refuses(c, "bad-target");
    c = good, c.tolerance = 0.0, refuses(c, "bad-tolerance");
    c = good, c.hold_s = 0.0, refuses(c, "bad-hold");
    c = good, c.limits.nudges_most = 0, refuses(c, "bad-limits");
    c = good, c.limits.patience_s = (double)NAN, refuses(c, "bad-limits");
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    survives_want_of_memory_with(player_config());
    es_trim_destroy(NULL);
}

static void working_never_allocates(void **state)
{
    (void)state;
    static es_trim_session session;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    alloc_probe_reset();
    player_run(9.0);
    deck.heading = 0.0;
    player_run(6.0);
    deck.level = 0.0;
    player_run(1.0);
    deck.level = 0.3;
    player_run(2.0);
    es_trim_gap(deck.trim, 1000);
    player_keep();
    player_run(2.0);
    es_trim_session_of(deck.trim, &session);
    assert_int_equal(alloc_probe_calls(), 0);
    player_stop();
}

/* --- blocks ----------------------------------------------------------------------------- */

#define SCENE_SECONDS 14
#define SCENE_SHOTS (20 * SCENE_SECONDS)

static float scene[SCENE_SECONDS * (int)PLAYER_RATE];

static void make_scene(void)
{
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_fill(scene, (size_t)(8 * PLAYER_RATE));
    deck.heading = 0.004;
    player_fill(scene + (size_t)(8 * PLAYER_RATE), (size_t)(3 * PLAYER_RATE));
    deck.heading = 0.0;
    player_fill(scene + (size_t)(11 * PLAYER_RATE), (size_t)(3 * PLAYER_RATE));
    player_stop();
}

static int same_double(double a, double b)
{
    return memcmp(&a, &b, sizeof a) == 0;
}

static void assert_same(const es_trim_snapshot *a, const es_trim_snapshot *b)
{
    assert_true(same_double(a->time_s, b->time_s));
    assert_int_equal(a->state, b->state);
    assert_true(same_double(a->error_percent, b->error_percent));
    assert_true(same_double(a->u95_percent, b->u95_percent));
    assert_true(same_double(a->live_percent, b->live_percent));
    assert_true(same_double(a->input_peak_fs, b->input_peak_fs));
    assert_true(same_double(a->snr_db, b->snr_db));
    assert_true(same_double(a->scatter_percent, b->scatter_percent));
    assert_int_equal(a->nudge_count, b->nudge_count);
    for (size_t i = 0; i < a->nudge_count; i++)
        assert_true(same_double(a->nudges[i].size_percent, b->nudges[i].size_percent) &&
                    same_double(a->nudges[i].time_s, b->nudges[i].time_s));
    assert_string_equal(a->advice, b->advice);
}

static void any_block_size_gives_the_same_snapshots(void **state)
{
    (void)state;
    static es_trim_snapshot first[SCENE_SHOTS], shot;
    static const size_t block[] = {480, 1, 7, 4099, 37777};
    size_t all = sizeof scene / sizeof *scene;
    make_scene();
    for (size_t k = 0; k < COUNT(block); k++) {
        es_trim_config c = player_config();
        es_trim *trim;
        assert_int_equal(es_trim_create(&c, &trim, NULL), ES_OK);
        size_t got = 0;
        for (size_t at = 0; at < all; at += block[k]) {
            size_t take = all - at < block[k] ? all - at : block[k];
            es_trim_push(trim, scene + at, take);
            for (; es_trim_take(trim, &shot); got++) {
                assert_true(got < SCENE_SHOTS);
                if (k == 0)
                    first[got] = shot;
                else
                    assert_same(&first[got], &shot);
            }
        }
        assert_int_equal(got, SCENE_SHOTS);
        assert_int_equal(shot.nudge_count, 2);
        es_trim_destroy(trim);
    }
}

static void snapshots_not_taken_are_dropped_oldest_first(void **state)
{
    (void)state;
    es_trim_config c = player_config();
    es_trim *trim;
    es_trim_snapshot shot;
    assert_int_equal(es_trim_create(&c, &trim, NULL), ES_OK);
    make_scene();
    assert_int_equal(es_trim_push(trim, scene, 799), 0);
    assert_int_equal(es_trim_take(trim, &shot), 0);
    assert_int_equal(es_trim_push(trim, scene + 799, 1), 1);
    assert_int_equal(es_trim_push(trim, scene + 800, 4 * 16000 - 800), ES_TRIM_QUEUE);
    assert_int_equal(es_trim_take(trim, &shot), 1);
    assert_near(shot.time_s, 4.0 - 0.05 * (ES_TRIM_QUEUE - 1), 1e-9);
    for (int i = 1; i < ES_TRIM_QUEUE; i++)
        assert_int_equal(es_trim_take(trim, &shot), 1);
    assert_near(shot.time_s, 4.0, 1e-9);
    assert_int_equal(es_trim_take(trim, &shot), 0);
    es_trim_snapshot now;
    es_trim_now(trim, &now);
    assert_near(now.time_s, 4.0, 1e-9);
    es_trim_destroy(trim);
}

/* --- the session ------------------------------------------------------------------------ */

static void the_session_is_kept(void **state)
{
    (void)state;
    static es_trim_session s;
    es_trim_config c = player_config();
    c.tape_error = 0.001;
    player_start(&c, 0.01);
    player_run(10.0);
    deck.heading = -0.001;
    player_run(8.0);
    assert_true(player_now()->final);
    es_trim_session_of(deck.trim, &s);
    assert_near(s.duration_s, 18.0, 1e-9);
    assert_near(s.nominal_hz, 3150.0, 0.0);
    assert_near(s.tape_error_percent, 0.1, 1e-12);
    assert_near(s.as_found.error_percent, 1.1, 0.02); /* 1.01 x 1.001 */
    assert_near(s.as_left.error_percent, 0.0, 0.02);
    assert_true(s.final);
    assert_near(s.as_left.error_percent, player_now()->final_percent, 0.0);
    assert_int_equal(s.nudge_count, 1);
    assert_near(s.nudges[0].size_percent, -1.1, 0.02);
    assert_int_equal(s.trace_count, 360);
    assert_near(s.trace_from_s, 0.05, 1e-9);
    for (size_t i = 0; i < s.trace_count; i++)
        assert_true(isnan(deck.shot[i].live_percent)
                        ? isnan(s.trace_percent[i])
                        : fabs((double)s.trace_percent[i] - deck.shot[i].live_percent) < 1e-6);
    assert_int_equal(s.course_count, 360);
    player_stop();
}

static void a_long_session_keeps_two_minutes_and_the_whole_thinned(void **state)
{
    (void)state;
    static es_trim_session s;
    es_trim_config c = player_config();
    player_start(&c, 0.01);
    player_run(130.0);
    deck.heading = 0.0;
    player_run(6.0);
    es_trim_session_of(deck.trim, &s);
    assert_int_equal(s.trace_count, ES_TRACE_POINTS);
    assert_near(s.trace_from_s, 136.0 - 119.95, 1e-6);
    for (size_t i = 0; i < s.trace_count; i++) {
        size_t k = deck.count - ES_TRACE_POINTS + i;
        assert_near((double)s.trace_percent[i], deck.shot[k].live_percent, 1e-6);
    }
    assert_near(s.course_step_s, 0.2, 1e-12);
    assert_int_equal(s.course_count, 680);
    for (size_t i = 20; i < 640; i++) { /* the curve lies within */
        double low = HUGE_VAL, high = -HUGE_VAL;
        for (size_t k = 4 * i; k < 4 * i + 4; k++) {
            low = fmin(low, deck.shot[k].live_percent);
            high = fmax(high, deck.shot[k].live_percent);
        }
        assert_near((double)s.course_low_percent[i], low, 1e-6);
        assert_near((double)s.course_high_percent[i], high, 1e-6);
    }
    player_stop();
}

static void without_a_tone_the_session_knows_nothing(void **state)
{
    (void)state;
    static es_trim_session s;
    es_trim_config c = es_trim_defaults(PLAYER_RATE, 1);
    player_start(&c, 0.0);
    deck.level = 0.0;
    player_run(1.0);
    es_trim_session_of(deck.trim, &s);
    assert_true(isnan(s.nominal_hz) && isnan(s.as_found.error_percent));
    assert_true(isnan(s.as_left.u95_percent) && isnan(s.tape_error_percent));
    assert_int_equal(s.course_count, 20);
    assert_true(isnan((double)s.course_low_percent[5]) && isnan((double)s.trace_percent[5]));
    player_stop();
}

/* --- u95 -------------------------------------------------------------------------------- */

/*
 * Decks of the rehearsal's own making with noise-like and periodic flutter, left alone. Their
 * settled speed is known exactly. Of moments half a second apart, u95 should hold 95 of 100; with
 * 40 decks the share itself is uncertain by some per cent, since moments of one deck hang together.
 */
static void u95_keeps_its_promise(void **state)
{
    (void)state;
    static float frames[2 * PLAYER_BLOCK];
    size_t shown = 0, kept = 0;
    double narrowest = HUGE_VAL;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        es_scenario s = es_scenario_defaults();
        s.seed = seed;
        s.length_s = 60.0;
        s.speed_error = 0.0004 * (double)seed - 0.008;
        s.flutter[ES_PART_CAPSTAN][0] = 0.0006;
        s.flutter[ES_PART_PINCH_ROLLER][0] = 0.0004;
        s.flutter[ES_PART_TAKE_UP][0] = 0.0002;
        s.random.rms = 0.0006;
        s.random.low_hz = 0.2;
        s.random.high_hz = 40.0;
        s.snr_db = 40.0;
        es_rehearsal *reel;
        es_trim *trim;
        es_trim_config c = player_config();
        c.channels = 2;
        assert_int_equal(es_rehearsal_create(&s, PLAYER_RATE, &reel), ES_OK);
        assert_int_equal(es_trim_create(&c, &trim, NULL), ES_OK);
        for (int i = 0; i < 20 * 12; i++) {
            es_trim_snapshot shot;
            es_rehearsal_render(reel, frames, PLAYER_BLOCK);
            es_trim_push(trim, frames, PLAYER_BLOCK);
            while (es_trim_take(trim, &shot))
                if (i % 10 == 0 && !isnan(shot.error_percent)) {
                    double truth = 100.0 * es_rehearsal_settled_error(reel);
                    shown++;
                    kept += fabs(shot.error_percent - truth) <= shot.u95_percent;
                    narrowest = fmin(narrowest, shot.u95_percent);
                }
        }
        es_trim_destroy(trim);
        es_rehearsal_destroy(reel);
    }
    assert_true(shown > 600);
    assert_true((double)kept >= 0.92 * (double)shown);
    assert_true(narrowest < 0.03); /* and it is not kept by saying nothing */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(refuses_settings_out_of_range),
        cmocka_unit_test(survives_every_allocation_failure),
        cmocka_unit_test(working_never_allocates),
        cmocka_unit_test(any_block_size_gives_the_same_snapshots),
        cmocka_unit_test(snapshots_not_taken_are_dropped_oldest_first),
        cmocka_unit_test(the_session_is_kept),
        cmocka_unit_test(a_long_session_keeps_two_minutes_and_the_whole_thinned),
        cmocka_unit_test(without_a_tone_the_session_knows_nothing),
        cmocka_unit_test(u95_keeps_its_promise),
    };
    return cmocka_run_group_tests_name("task/trim_life", tests, NULL, NULL);
}
