/* A test tape read while it plays, with input missing: gaps, and a device that vanishes (device/fake.h). */
#include "tape_session_help.h"

#include "device/fake.h"

#include <stdio.h>

/* --- input that is missing -------------------------------------------------------------------- */

static void lost_input_is_a_gap_and_is_named(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.gap_at = 7 * RATE;
    t.gap = t.lost = 24000;
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_all_is_read(); /* at the same times, too */
    assert_int_equal(last.standing.gaps, 1);
    assert_int_equal(last.standing.lost_frames, 24000);
    const es_note *note = es_notes_find(&result.warnings, "input-lost");
    assert_non_null(note);
    assert_non_null(strstr(note->text, "1 time, 0.5 s"));
    assert_null(es_notes_find(&result.warnings, "interrupted"));
}

static void a_loss_of_unknown_length_is_put_right_by_the_next_marker(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.gap_at = 8 * RATE;
    t.gap = 24000;
    t.lost = -1;
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_near(result.sections[LEVEL].start_s, 15.616 - 0.5, 0.02);
    assert_near(result.channels[0].level_db, ES_PROGRAMME_REFERENCE_DBFS, 0.01);
    assert_true(result.sections[END].found);
    assert_non_null(es_notes_find(&result.warnings, "input-lost"));
}

/* A tone measured across the gap would be half a tone and half nothing. */
static void what_was_being_measured_begins_anew_after_a_gap(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.gap_at = (int64_t)(16.3 * RATE);
    t.gap = t.lost = 4811; /* no whole number of periods */
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_all_is_read();
}

static void a_section_that_was_lost_is_not_heard(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.gap_at = (int64_t)(15.7 * RATE);
    t.gap = t.lost = (int64_t)(2.0 * RATE);
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_false(result.sections[LEVEL].found);
    assert_true(isnan(result.channels[0].level_db));
    assert_true(result.sections[AZIMUTH].found);
    assert_non_null(strstr(es_notes_find(&result.warnings, "sections-missing")->text, "level"));
}

static void let_it_hold(tape *t)
{
    pthread_mutex_lock(&t->lock);
    while (!t->waits || t->away_takes != t->hold_at)
        pthread_cond_wait(&t->change, &t->lock);
    pthread_mutex_unlock(&t->lock);
}

static void a_device_that_vanishes_is_waited_for(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    uint64_t news = 0;
    t.away_at = t.gap_at = 7 * RATE;
    t.away_takes = 50;
    t.hold_at = 25;
    t.gap = t.lost = RATE;
    es_tape_session *s = open_tape(&t, &programme);
    let_it_hold(&t);
    assert_int_equal(look(s)->standing.phase, ES_SESSION_WAITING);
    assert_non_null(strstr(now.standing.sentence, "\"Line in\" is gone"));
    assert_near(now.time_s, 7.0, 0.3);
    pthread_mutex_lock(&t.lock);
    t.hold_at = 0;
    pthread_mutex_unlock(&t.lock);
    let_play_until(&t, 10.0);
    assert_int_equal(look(s)->standing.phase, ES_SESSION_RUNNING);
    assert_string_equal(now.standing.sentence, "");
    assert_int_equal(now.standing.gaps, 1);
    assert_near(now.time_s, 10.0, 0.3);
    let_play(&t);
    while (es_tape_session_next(s, &news, 30.0, &last) >= 0)
        ;
    assert_int_equal(es_tape_session_result(s, &result, NULL), ES_OK);
    assert_all_is_read();
    let_go(&t, s);
}

/* --- the sound system of the tests ------------------------------------------------------------ */

static es_fake *fake;
static const char *script;

static es_status borrow(void *who, es_sound **out, es_error *error)
{
    (void)who;
    return es_fake_open(script, out, &fake, error);
}

static void give_back(void *who, es_sound *sound)
{
    (void)who;
    es_sound_close(sound);
}

static void run_script(void *who, double seconds)
{
    (void)who;
    es_fake_run(fake, seconds);
}

static void a_device_that_loses_input_is_read_all_the_same(void **state)
{
    (void)state;
    static float side[2 * 33 * RATE];
    char path[200], text[400];
    uint64_t news = 0;
    es_tape_session *s;
    es_error error = {0};
    tape t = tape_of(&programme);
    es_programme_sound_render(t.sound, side, 33 * RATE);
    es_programme_sound_destroy(t.sound);
    in_folder(path, sizeof path, "", "side.raw");
    FILE *file = fopen(path, "wb");
    assert_int_equal(fwrite(side, sizeof *side, 2 * 33 * RATE, file), 2 * 33 * RATE);
    fclose(file);
    es_text words = es_text_over(text, sizeof text);
    es_text_add(&words,
                "place 2 0 48000 Line in\nraw %s\nat 8 overflow\nat 21 unplug\nat 22 plug\n", path);
    script = text;
    es_session_ground ground = {.borrow = borrow, .give_back = give_back, .wait = run_script};
    es_tape_session_config config = es_tape_session_defaults();
    memcpy(config.source, "device:line", 12);
    config.reading.programme = &programme;
    assert_int_equal(es_tape_session_open_on(&ground, &config, &s, &error), ES_OK);
    while (es_tape_session_next(s, &news, 30.0, &last) >= 0)
        ;
    assert_int_equal(es_tape_session_result(s, &result, &error), ES_OK);
    es_tape_session_close(s);
    assert_string_equal(last.standing.device, "Line in");
    assert_int_equal(last.ending, ES_TAPE_END_MARKER);
    assert_true(last.standing.gaps >= 2);
    assert_near(result.channels[0].level_db, ES_PROGRAMME_REFERENCE_DBFS, 0.01);
    assert_non_null(es_notes_find(&result.warnings, "input-lost"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lost_input_is_a_gap_and_is_named),
        cmocka_unit_test(a_loss_of_unknown_length_is_put_right_by_the_next_marker),
        cmocka_unit_test(what_was_being_measured_begins_anew_after_a_gap),
        cmocka_unit_test(a_section_that_was_lost_is_not_heard),
        cmocka_unit_test(a_device_that_vanishes_is_waited_for),
        cmocka_unit_test(a_device_that_loses_input_is_read_all_the_same),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
