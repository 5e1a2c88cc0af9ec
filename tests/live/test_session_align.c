/* Live sessions for azimuth, level and balance: the rehearsal deck's own screws, and what is refused. */
#include "session_help.h"

#include "evenspool/task/sound.h"

/* us of delay for a minute of arc on a cassette: 0.9e-3 x tan(1') / 0.047625. */
#define US_PER_ARCMIN 5.4971

static es_session *opened_for(const char *source, es_adjust adjust, int channel, double reference)
{
    es_session_config c = config_for(source, 1);
    c.adjust = adjust;
    c.channel = channel;
    c.tolerance_percent = es_adjust_facts_of(adjust)->tolerance;
    c.reference_dbfs = reference;
    c.seconds = 16.0;
    return opened(&c);
}

static void listen_until(es_session *s, uint64_t *cursor, double time_s, es_trim_snapshot *now)
{
    uint64_t skipped;
    do
        assert_int_equal(es_session_next(s, cursor, 30.0, now, &skipped), 1);
    while (now->time_s < time_s - 0.01);
}

/* 60 arcmin a turn, half of 4 degrees of play; scenarios.md. */
static void turns_of_the_azimuth_screw_reach_the_deck_and_the_coach(void **state)
{
    (void)state;
    es_session *s = opened_for("rehearse:leaning-head", ES_ADJUST_AZIMUTH, 0, (double)NAN);
    es_trim_snapshot now;
    uint64_t cursor = 0;
    listen_until(s, &cursor, 8.0, &now);
    assert_int_equal(now.adjust, ES_ADJUST_AZIMUTH);
    assert_near(now.error_percent, 9.1 * US_PER_ARCMIN, 0.5);
    assert_int_equal(es_session_facts_of(s).has_trimmer, 1);
    assert_int_equal(es_session_turn(s, -0.1), ES_OK);
    listen_until(s, &cursor, 13.0, &now);
    double moved = -(0.1 - 2.0 / 360.0) * 60.0 * US_PER_ARCMIN;
    assert_int_equal(now.nudge_count, 1);
    assert_near(now.nudges[0].size_percent, moved, 0.5);
    assert_near(now.error_percent, 9.1 * US_PER_ARCMIN + moved, 0.5);
    static es_trim_session record;
    es_session_record(s, &record);
    assert_int_equal(record.adjust, ES_ADJUST_AZIMUTH);
    assert_near(record.as_found.error_percent, 9.1 * US_PER_ARCMIN, 0.5);
    assert_int_equal(es_session_aim(s, 300.0, 5.0), ES_ERR_ARG);
    assert_int_equal(es_session_aim(s, 17.0, 2.0), ES_OK);
    listen_until(s, &cursor, 13.5, &now);
    assert_near(now.target_percent, 17.0, 1e-9);
    es_session_close(s);
}

/* 16 dB a turn, half of 3 degrees of play; the channel that is followed is the one that is turned. */
static void turns_of_a_level_trimmer_reach_its_channel(void **state)
{
    (void)state;
    for (int channel = 1; channel <= 2; channel++) {
        es_session *s = opened_for("rehearse:uneven-levels", ES_ADJUST_LEVEL, channel, -10.0);
        es_trim_snapshot now;
        uint64_t cursor = 0;
        listen_until(s, &cursor, 8.0, &now);
        double found = channel == 1 ? -3.4 : -5.6;
        assert_near(now.error_percent, found, 0.05);
        assert_int_equal(es_session_turn(s, 0.1), ES_OK);
        listen_until(s, &cursor, 12.0, &now);
        double moved = (0.1 - 1.5 / 360.0) * 16.0;
        assert_near(now.error_percent, found + moved, 0.1);
        assert_near(now.pair.balance_db, -2.2 + (channel == 1 ? -moved : moved), 0.1);
        es_session_close(s);
    }
}

static void there_is_no_reference_tone_for_heads(void **state)
{
    (void)state;
    es_session *s = opened_for("rehearse:leaning-head", ES_ADJUST_AZIMUTH, 0, (double)NAN);
    es_error error = {0};
    assert_int_equal(es_session_sound(s, ES_SOUNDER_REFERENCE, -20.0, "", &error), ES_ERR_ARG);
    assert_non_null(strstr(error.text, "beat or guide"));
    es_session_close(s);
}

static void a_channel_that_is_neither_is_refused(void **state)
{
    (void)state;
    es_session_config c = config_for("rehearse:leaning-head", 1);
    es_session *s = NULL;
    es_error error = {0};
    c.adjust = ES_ADJUST_LEVEL;
    c.channel = 3;
    c.tolerance_percent = 0.5;
    assert_int_equal(es_session_open(&c, &s, &error), ES_ERR_ARG);
    assert_null(s);
    assert_string_equal(error.code, "no-channel");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(turns_of_the_azimuth_screw_reach_the_deck_and_the_coach),
        cmocka_unit_test(turns_of_a_level_trimmer_reach_its_channel),
        cmocka_unit_test(there_is_no_reference_tone_for_heads),
        cmocka_unit_test(a_channel_that_is_neither_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
