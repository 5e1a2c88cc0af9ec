/* From a file to its result: the rehearsal deck's truth is what it must tell. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "evenspool/task/check.h"
#include "live/measure.h"
#include "live/rehearse.h"
#include "live/text_file.h"
#include "near.h"
#include "wave/reader.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char folder[64], capture[96];
static es_rehearsed rehearsed;

static int render(void **state)
{
    (void)state;
    es_rehearse_settings settings = es_rehearse_defaults();
    es_error error = {0};
    snprintf(folder, sizeof folder, "/tmp/evenspool-test-XXXXXX");
    if (!mkdtemp(folder))
        return 1;
    snprintf(capture, sizeof capture, "%s/capture.wav", folder);
    settings.scenario = "slow-but-steady";
    settings.path = capture;
    settings.seconds = 20.0;
    if (es_rehearse(&settings, &rehearsed, &error) == ES_OK)
        return 0;
    print_error("%s\n", error.text);
    return 1;
}

static int clear(void **state)
{
    (void)state;
    remove(capture);
    return rmdir(folder);
}

static void measures_what_was_rendered(void **state)
{
    (void)state;
    static es_check_result result;
    es_measure_settings settings = es_measure_defaults();
    es_error error = {0};
    if (es_measure(capture, &settings, &result, &error) != ES_OK)
        fail_msg("%s", error.text);
    assert_near(result.capture.duration_s, 20.0, 1e-9);
    assert_int_equal(result.capture.samplerate_hz, 48000);
    assert_int_equal(result.capture.bits, 24);
    double truth = 100.0 * rehearsed.truth.deck_error;
    assert_near(result.speed.error_percent, truth, 0.01); /* 20 s of it, with flutter */
    assert_true(truth < -1.0);
}

/* The same samples pushed in one piece and another size, without a thread. */
static void does_not_depend_on_threads_or_blocks(void **state)
{
    (void)state;
    static es_check_result threaded, direct;
    es_measure_settings settings = es_measure_defaults();
    assert_int_equal(es_measure(capture, &settings, &threaded, NULL), ES_OK);

    es_wave_reader *reader;
    assert_int_equal(es_wave_reader_open(capture, NULL, &reader, NULL), ES_OK);
    es_check_config config = es_check_defaults(48000.0, 2);
    config.bits = 24;
    es_check *check;
    assert_int_equal(es_check_create(&config, &check, NULL), ES_OK);
    float frames[2 * 777];
    size_t count;
    do {
        assert_int_equal(es_wave_reader_read(reader, frames, 777, &count, NULL), ES_OK);
        es_check_push(check, frames, count);
    } while (count > 0);
    assert_int_equal(es_check_finish(check, &direct, NULL), ES_OK);
    es_check_destroy(check);
    es_wave_reader_close(reader);
    assert_memory_equal(&threaded.speed, &direct.speed, sizeof direct.speed);
    assert_memory_equal(&threaded.flutter, &direct.flutter, sizeof direct.flutter);
    assert_memory_equal(&threaded.tone, &direct.tone, sizeof direct.tone);
    assert_memory_equal(&threaded.trace, &direct.trace, sizeof direct.trace);
}

/* (1 + heard)(1 + tape)(1 + clock) - 1, worked by hand from the figure heard. */
static void takes_tape_and_clock_off(void **state)
{
    (void)state;
    static es_check_result result;
    es_measure_settings settings = es_measure_defaults();
    settings.tape_percent = 0.4;
    settings.tape_u95_percent = 0.1;
    settings.clock_ppm = 50.0;
    assert_int_equal(es_measure(capture, &settings, &result, NULL), ES_OK);
    double heard = result.speed.heard_percent / 100.0;
    double wanted = 100.0 * ((1.0 + heard) * 1.004 * 1.00005 - 1.0);
    assert_near(result.speed.error_percent, wanted, 1e-9);
    assert_near(result.speed.tape_error_percent, 0.4, 1e-12);
    assert_true(result.speed.u95_percent > 0.098 && result.speed.u95_percent < 0.12);
}

typedef struct witness {
    size_t calls, samples;
    double last_s, last_share;
    size_t stop_after;
} witness;

static void see_progress(void *who, double done_s, double share)
{
    witness *w = who;
    w->calls++;
    assert_true(done_s > 0.0 && share > w->last_share && share <= 1.0);
    w->last_share = share;
}

static int see_speed(void *who, double time_s, double error_percent)
{
    witness *w = who;
    (void)error_percent;
    assert_true(time_s > w->last_s);
    w->last_s = time_s;
    return ++w->samples != w->stop_after;
}

static void tells_what_happens_on_the_way(void **state)
{
    (void)state;
    static es_check_result result;
    witness w = {0};
    es_measure_settings settings = es_measure_defaults();
    settings.watch = (es_measure_watch){&w, see_progress, see_speed};
    assert_int_equal(es_measure(capture, &settings, &result, NULL), ES_OK);
    assert_true(w.calls > 10);
    assert_near(w.last_share, 1.0, 1e-12);
    assert_true(w.samples > 1150 * 15 && w.last_s > 18.0); /* about 1200 a second */
}

static void stops_when_asked(void **state)
{
    (void)state;
    static es_check_result result;
    witness w = {.stop_after = 2000};
    es_error error = {0};
    es_measure_settings settings = es_measure_defaults();
    settings.watch = (es_measure_watch){&w, NULL, see_speed};
    assert_int_equal(es_measure(capture, &settings, &result, &error), ES_ERR_IO);
    assert_string_equal(error.code, "stopped");
    assert_int_equal(w.samples, 2000);
}

static void measures_only_the_part_asked_for(void **state)
{
    (void)state;
    static es_check_result result;
    es_measure_settings settings = es_measure_defaults();
    settings.start_s = 4.0;
    settings.end_s = 12.0;
    assert_int_equal(es_measure(capture, &settings, &result, NULL), ES_OK);
    assert_near(result.capture.duration_s, 20.0, 1e-9); /* still that of the whole */
    assert_true(result.speed.error_percent < -1.0);
}

static void refuses_settings_that_make_no_sense(void **state)
{
    (void)state;
    es_measure_settings good = es_measure_defaults(), bad = good;
    assert_int_equal(es_measure_check(&good, NULL), ES_OK);
    es_error error = {0};
    bad.raw = "s17,1,1";
    assert_int_equal(es_measure_check(&bad, &error), ES_ERR_ARG);
    assert_string_equal(error.code, "raw");
    bad = good;
    bad.transport = "wire";
    error = (es_error){0};
    assert_int_equal(es_measure_check(&bad, &error), ES_ERR_ARG);
    assert_string_equal(error.code, "class");
    bad = good;
    bad.start_s = 5.0;
    bad.end_s = 5.0;
    error = (es_error){0};
    assert_int_equal(es_measure_check(&bad, &error), ES_ERR_ARG);
    assert_string_equal(error.code, "start-end");
}

static void refuses_what_this_capture_does_not_have(void **state)
{
    (void)state;
    static es_check_result result;
    es_measure_settings settings = es_measure_defaults();
    es_error error = {0};
    settings.channel = 3;
    assert_int_equal(es_measure(capture, &settings, &result, &error), ES_ERR_ARG);
    assert_string_equal(error.code, "no-channel");
    assert_int_equal(es_measure("/nowhere.wav", &settings, &result, NULL), ES_ERR_IO);
}

static void refuses_a_scenario_that_is_none(void **state)
{
    (void)state;
    static es_rehearsed out;
    es_rehearse_settings settings = es_rehearse_defaults();
    es_error error = {0};
    settings.scenario = "no-such-deck";
    settings.path = "/tmp/never.wav";
    assert_int_equal(es_rehearse(&settings, &out, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "no-scenario");
    assert_int_not_equal(access("/tmp/never.wav", F_OK), 0);
    error = (es_error){0};
    settings.scenario = capture; /* a file, but not of that kind */
    assert_int_equal(es_rehearse(&settings, &out, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "scenario-text");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(measures_what_was_rendered),
        cmocka_unit_test(does_not_depend_on_threads_or_blocks),
        cmocka_unit_test(takes_tape_and_clock_off),
        cmocka_unit_test(tells_what_happens_on_the_way),
        cmocka_unit_test(stops_when_asked),
        cmocka_unit_test(measures_only_the_part_asked_for),
        cmocka_unit_test(refuses_settings_that_make_no_sense),
        cmocka_unit_test(refuses_what_this_capture_does_not_have),
        cmocka_unit_test(refuses_a_scenario_that_is_none),
    };
    return cmocka_run_group_tests(tests, render, clear);
}
