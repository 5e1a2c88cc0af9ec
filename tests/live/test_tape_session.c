/* A test tape read while it plays: what is told meanwhile, how it ends, from a file and with a recording. */
#include "tape_session_help.h"

#include "alloc_probe.h"
#include "live/tape_write.h"
#include "wave/reader.h"

/* --- the whole side ------------------------------------------------------------------------ */

static void a_side_ends_with_its_end_marker(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_all_is_read();
    assert_int_equal(last.ending, ES_TAPE_END_MARKER);
    assert_int_equal(last.standing.phase, ES_SESSION_ENDED);
    assert_in_range(last.standing.frames, (uint64_t)(32.2 * RATE), (uint64_t)(33.5 * RATE));
    assert_null(es_notes_find(&result.warnings, "input-lost"));
    for (size_t i = SPEED; i < END; i++)
        assert_int_equal(es_tape_state_of(&last, i), ES_TAPE_HEARD);
}

static void figures_come_as_the_sections_end(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.until = 0;
    es_tape_session *s = open_tape(&t, &programme);
    let_play_until(&t, 2.0);
    assert_int_equal(look(s)->so_far.side, 0);
    assert_true(isnan(now.left_s));
    let_play_until(&t, 7.0);
    assert_int_equal(look(s)->so_far.side, 1);
    assert_int_equal(es_tape_state_of(&now, SPEED), ES_TAPE_NOW);
    assert_int_equal(es_tape_state_of(&now, LEVEL), ES_TAPE_TO_COME);
    assert_true(now.measuring);
    assert_near(now.left_s, 32.64 - now.time_s, 0.1);
    let_play_until(&t, 19.0);
    assert_int_equal(es_tape_state_of(look(s), SPEED), ES_TAPE_HEARD);
    assert_int_equal(es_tape_state_of(&now, LEVEL), ES_TAPE_HEARD);
    assert_int_equal(es_tape_state_of(&now, AZIMUTH), ES_TAPE_NOW);
    assert_false(now.measuring); /* its marker */
    assert_string_equal(words_of(LEVEL), "level -12.00 and -12.00 dB full scale");
    assert_string_equal(words_of(AZIMUTH), "");
    assert_near(now.error_percent, 0.0, 0.01);
    let_play(&t);
    let_go(&t, s);
}

static void the_tapes_and_the_clocks_error_are_taken_off(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    uint64_t news = 0;
    es_session_ground ground = {.who = &t, .wait = wait_for_test, .source = give_source};
    es_tape_session_config config = es_tape_session_defaults();
    es_tape_session *s;
    config.reading.programme = &programme;
    config.reading.tape_percent = 0.4;
    config.reading.clock_ppm = 100.0;
    assert_int_equal(es_tape_session_open_on(&ground, &config, &s, NULL), ES_OK);
    while (es_tape_session_next(s, &news, 30.0, &last) >= 0)
        ;
    assert_int_equal(es_tape_session_result(s, &result, NULL), ES_OK);
    /* true ratio = heard ratio x (1 + tape) x (1 + clock): 1.004 x 1.0001 - 1 = 0.41004 % */
    assert_near(result.check.speed.error_percent, 0.41004, 0.002);
    assert_near(result.sections[SPEED].error_percent, 0.41004, 0.002);
    assert_near(last.error_percent, 0.41004, 0.02);
    let_go(&t, s);
}

/* --- ends ---------------------------------------------------------------------------------- */

static void stopped_early_what_was_heard_is_measured(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.until = 0;
    es_tape_session *s = open_tape(&t, &programme);
    let_play_until(&t, 19.0);
    t.away_at = t.at; /* nothing comes any more, so that it can't end by itself */
    t.away_takes = INT_MAX;
    let_play(&t);
    es_tape_session_stop(s);
    es_tape_session_stop(s);
    assert_int_equal(es_tape_session_result(s, &result, NULL), ES_OK);
    assert_int_equal(look(s)->ending, ES_TAPE_STOPPED);
    assert_int_equal(es_tape_state_of(&now, AZIMUTH), ES_TAPE_MISSED);
    assert_near(result.channels[0].level_db, ES_PROGRAMME_REFERENCE_DBFS, 0.01);
    let_go(&t, s);
}

static void a_tape_that_stops_in_the_middle_is_told(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.over_at = 19 * RATE;
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_int_equal(last.ending, ES_TAPE_SOURCE_OVER);
    assert_int_equal(es_tape_state_of(&last, LEVEL), ES_TAPE_HEARD);
    assert_int_equal(es_tape_state_of(&last, AZIMUTH), ES_TAPE_MISSED);
    const es_note *note = es_notes_find(&result.warnings, "sections-missing");
    assert_non_null(note);
    assert_non_null(strstr(note->text, "azimuth, silence, end"));
}

static void the_sides_time_being_over_ends_it(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.cut_at = (int64_t)(29.9 * RATE);
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_int_equal(last.ending, ES_TAPE_TIME_OVER);
    assert_near(last.time_s, 32.64 + 3.0, 0.5);
    assert_false(result.sections[END].found);
    assert_true(result.sections[SILENCE].found);
}

static void half_a_minute_of_silence_ends_it(void **state)
{
    (void)state;
    static es_programme longer;
    longer = programme;
    longer.side[0].section[SPEED].step[0].seconds = 100.0;
    tape t = tape_of(&longer);
    t.cut_at = 30 * RATE;
    assert_int_equal(play_out(&t, &longer, NULL), ES_OK);
    assert_int_equal(last.ending, ES_TAPE_FELL_SILENT);
    assert_near(last.time_s, 60.0, 0.6);
    assert_true(result.sections[SPEED].found);
}

static void silence_before_the_tape_is_waited_through(void **state)
{
    (void)state;
    es_error error = {0};
    tape t = tape_of(&programme);
    t.cut_at = 0;
    t.over_at = 100 * RATE;
    assert_int_equal(play_out(&t, &programme, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "silence");
    assert_int_equal(last.ending, ES_TAPE_SOURCE_OVER);
    assert_string_equal(last.standing.level_words,
                        "Nothing is heard: check the cable, and that the tape plays.");
}

static void a_programme_that_is_not_known_is_told_at_once(void **state)
{
    (void)state;
    es_error error = {0};
    tape t = tape_of(&programme);
    t.over_at = 12 * RATE;
    assert_int_equal(play_out(&t, NULL, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "unknown-programme");
    assert_int_equal(last.strange_id, es_programme_id(&programme));
    assert_int_equal(last.so_far.side, 0);
}

static void a_source_that_fails_leaves_what_was_heard(void **state)
{
    (void)state;
    tape t = tape_of(&programme);
    t.over_at = 19 * RATE;
    t.fails = 1;
    assert_int_equal(play_out(&t, &programme, NULL), ES_OK);
    assert_int_equal(last.standing.phase, ES_SESSION_FAILED);
    assert_int_equal(last.standing.status, ES_ERR_INPUT);
    assert_string_equal(last.standing.sentence, "The file is broken.");
    assert_near(result.channels[1].level_db, ES_PROGRAMME_REFERENCE_DBFS, 0.01);
}

/* --- files ---------------------------------------------------------------------------------------- */

static void write_side(const char *path)
{
    es_tape_settings settings = es_tape_defaults();
    es_tape_file *file;
    settings.path = path;
    settings.replace = 1;
    assert_int_equal(es_tape_file_open(&programme, &settings, &file, NULL), ES_OK);
    assert_int_equal(es_tape_file_render(file, NULL, NULL, NULL), ES_OK);
    assert_int_equal(es_tape_file_keep(file, NULL), ES_OK);
}

static void a_file_is_listened_to_and_recorded(void **state)
{
    (void)state;
    char path[200];
    uint64_t news = 0;
    es_wave_reader *reader;
    es_tape_session *s;
    es_error error = {0};
    es_tape_session_config config = es_tape_session_defaults();
    in_folder(path, sizeof path, "", "side.wav");
    write_side(path);
    in_folder(config.source, sizeof config.source, "file:", "side.wav");
    in_folder(config.record_path, sizeof config.record_path, "", "kept.wav");
    config.unpaced = 1;
    config.reading.programme = &programme;
    assert_int_equal(es_tape_session_open(&config, &s, &error), ES_OK);
    while (es_tape_session_next(s, &news, 30.0, &last) >= 0)
        ;
    assert_int_equal(es_tape_session_result(s, &result, &error), ES_OK);
    assert_all_is_read();
    assert_string_equal(last.standing.record_sentence, "");
    es_tape_session_close(s);
    assert_int_equal(es_wave_reader_open(config.record_path, NULL, &reader, &error), ES_OK);
    assert_int_equal(es_wave_reader_facts(reader).frames, last.standing.frames);
    es_wave_reader_close(reader);
    assert_int_equal(es_tape_session_open(&config, &s, &error), ES_ERR_IO); /* it is there */
    assert_null(s);
}

static void what_is_no_source_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *source;
        es_status status;
    } wrong[] = {{"rehearse:", ES_ERR_ARG},
                 {"rehearse:no-such-deck", ES_ERR_INPUT},
                 {"rehearse:microcassette", ES_ERR_INPUT}, /* no programme is built in for it */
                 {"somewhere", ES_ERR_ARG},
                 {"file:", ES_ERR_ARG},
                 {"file:/no/such/file.wav", ES_ERR_INPUT},
                 {"device:", ES_ERR_ARG}}; /* unpaced */
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        es_tape_session_config config = es_tape_session_defaults();
        es_tape_session *s;
        es_error error = {0};
        es_text text = es_text_over(config.source, sizeof config.source);
        es_text_add(&text, "%s", wrong[i].source);
        config.unpaced = 1;
        assert_int_equal(es_tape_session_open(&config, &s, &error), wrong[i].status);
        assert_null(s);
        assert_true(strlen(error.text) > 20);
    }
}

/* --- memory ------------------------------------------------------------------------------------------ */

static void without_memory_nothing_is_left_behind(void **state)
{
    (void)state;
    es_status status = ES_ERR_NOMEM;
    for (long n = 0; status != ES_OK; n++) {
        tape t = tape_of(&programme);
        es_session_ground ground = {.who = &t, .wait = wait_for_test, .source = give_source};
        es_tape_session_config config = es_tape_session_defaults();
        es_tape_session *s;
        es_error error = {0};
        config.reading.programme = &programme;
        alloc_probe_fail_after(n);
        status = es_tape_session_open_on(&ground, &config, &s, &error);
        if (status != ES_OK) {
            assert_int_equal(status, ES_ERR_NOMEM);
            assert_null(s);
            assert_int_equal(alloc_probe_live(), 0);
        }
        alloc_probe_reset();
        let_go(&t, s);
        assert_true(n < 1000);
    }
}

static void without_memory_there_is_no_practice_tape(void **state)
{
    (void)state;
    es_status status = ES_ERR_NOMEM;
    long n = 0;
    for (; status != ES_OK; n++) {
        es_source source;
        es_error error = {0};
        alloc_probe_fail_after(n);
        status = es_source_rehearsal_tape("skewed-head", &programme, 0, &source, &error);
        if (status == ES_OK)
            source.close(source.self);
        else
            assert_int_equal(status, ES_ERR_NOMEM);
        assert_int_equal(alloc_probe_live(), 0);
        alloc_probe_reset();
        assert_true(n < 100);
    }
    assert_true(n > 5); /* source, tape, its sound and that one's parts, deck, recording */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_side_ends_with_its_end_marker),
        cmocka_unit_test(figures_come_as_the_sections_end),
        cmocka_unit_test(the_tapes_and_the_clocks_error_are_taken_off),
        cmocka_unit_test(stopped_early_what_was_heard_is_measured),
        cmocka_unit_test(a_tape_that_stops_in_the_middle_is_told),
        cmocka_unit_test(the_sides_time_being_over_ends_it),
        cmocka_unit_test(half_a_minute_of_silence_ends_it),
        cmocka_unit_test(silence_before_the_tape_is_waited_through),
        cmocka_unit_test(a_programme_that_is_not_known_is_told_at_once),
        cmocka_unit_test(a_source_that_fails_leaves_what_was_heard),
        cmocka_unit_test(a_file_is_listened_to_and_recorded),
        cmocka_unit_test(what_is_no_source_is_refused),
        cmocka_unit_test(without_memory_nothing_is_left_behind),
        cmocka_unit_test(without_memory_there_is_no_practice_tape),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
