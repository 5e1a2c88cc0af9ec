/* Live sessions that listen to files, and the recordings that sessions keep. */
#include "session_help.h"

#include "evenspool/base/units.h"
#include "live/session_inside.h"
#include "wave/reader.h"
#include "wave/writer.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#define RATE 48000

static char folder[] = "/tmp/evenspool-session-XXXXXX";

static const char *in_folder(const char *name)
{
    static char room[4][256];
    static int next;
    char *at = room[next++ % 4];
    es_text text = es_text_over(at, sizeof room[0]);
    es_text_add(&text, "%s/%s", folder, name);
    return at;
}

static const char *file_source(const char *name)
{
    static char room[300];
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "file:%s", in_folder(name));
    return room;
}

/* A steady tone on the right, silence on the left. */
static void write_tone(const char *name, double hz, double seconds)
{
    es_wave_writer *w;
    es_wave_writer_settings settings = {.rate_hz = RATE, .channels = 2, .replace = 1};
    assert_int_equal(es_wave_writer_open(in_folder(name), &settings, &w, NULL), ES_OK);
    int64_t frames = (int64_t)(seconds * RATE);
    for (int64_t i = 0; i < frames; i++) {
        float frame[2] = {0.0f, (float)(0.5 * sin(ES_TWO_PI * hz * (double)i / RATE))};
        assert_int_equal(es_wave_writer_write(w, frame, 1, NULL), ES_OK);
    }
    assert_int_equal(es_wave_writer_keep(w, NULL), ES_OK);
}

/* --- files ---------------------------------------------------------------------------- */

/* Handbook arithmetic: a tape recorded 0.25 % fast makes a deck that is 0.5 % fast sound
 * (1 + 0.005) / (1 + 0.0025) of the nominal frequency. */
static void takes_the_tapes_error_off(void **state)
{
    (void)state;
    es_trim_snapshot now = {0};
    uint64_t cursor = 0, skipped;
    write_tone("tone.wav", 3150.0 * 1.005 / 1.0025, 12.0);
    es_session_config c = config_for(file_source("tone.wav"), 1);
    c.nominal_hz = 3150.0;
    c.tape_error_percent = 0.25;
    c.tape_u95_percent = 0.04;
    es_session *s = opened(&c);
    while (now.time_s < 11.0)
        assert_int_equal(es_session_next(s, &cursor, 30.0, &now, &skipped), 1);
    assert_int_equal(now.state, ES_TRIM_READING);
    assert_near(now.error_percent, 0.5, 0.001);
    assert_true(now.u95_percent >= 0.04);
    assert_near(now.tape_error_percent, 0.25, 1e-9);
    while (es_session_next(s, &cursor, 30.0, &now, &skipped) > 0)
        ;
    assert_int_equal(cursor, 240);
    assert_int_equal(es_session_facts_of(s).standing.phase, ES_SESSION_ENDED);
    assert_int_equal(es_session_facts_of(s).standing.frames, 12 * RATE);
    es_session_close(s);
}

/* 1000 millionths fast in sampling makes the tone read 0.1 % low. */
static void takes_the_clocks_error_off(void **state)
{
    (void)state;
    es_trim_snapshot now = {0};
    uint64_t cursor = 0, skipped;
    write_tone("tone.wav", 3150.0, 12.0);
    es_session_config c = config_for(file_source("tone.wav"), 1);
    c.clock_ppm = 1000.0;
    es_session *s = opened(&c);
    while (now.time_s < 11.0)
        assert_int_equal(es_session_next(s, &cursor, 30.0, &now, &skipped), 1);
    assert_near(now.error_percent, 0.1, 0.001);
    es_session_close(s);
}

static void says_what_is_wrong_with_a_source(void **state)
{
    (void)state;
    FILE *text = fopen(in_folder("text.wav"), "w");
    assert_non_null(text);
    fputs("no audio at all, only words that go on for a while\n", text);
    fclose(text);
    write_tone("short.wav", 3150.0, 0.2);
    struct {
        const char *source;
        es_status status;
        const char *code;
    } cases[] = {{"file:/nowhere/at/all.wav", ES_ERR_INPUT, "missing"},
                 {"file:/tmp", ES_ERR_INPUT, "directory"},
                 {"file:/dev/zero", ES_ERR_INPUT, "not-a-file"},
                 {"", ES_ERR_INPUT, "not-audio"},
                 {"rehearse:no-such-thing", ES_ERR_INPUT, "no-scenario"},
                 {"rehearse:", ES_ERR_ARG, "bad-source"},
                 {"file:", ES_ERR_ARG, "bad-source"},
                 {"microphone", ES_ERR_ARG, "bad-source"}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        es_session *s;
        es_error error = {0};
        es_session_config c =
            config_for(cases[i].source[0] ? cases[i].source : file_source("text.wav"), 1);
        assert_int_equal(es_session_open(&c, &s, &error), cases[i].status);
        assert_string_equal(error.code, cases[i].code);
        assert_null(s);
    }
}

static void says_which_setting_is_out_of_range(void **state)
{
    (void)state;
    es_session_config c[6];
    for (size_t i = 0; i < COUNT(c); i++)
        c[i] = config_for("rehearse:right-on-speed", 1);
    c[0].channel = 3;
    c[1].nominal_hz = 20.0;
    c[2].tolerance_percent = 0.0;
    c[3].target_percent = (double)NAN;
    c[4].seconds = 0.0;
    c[5].tape_u95_percent = -1.0;
    for (size_t i = 0; i < COUNT(c); i++) {
        es_session *s;
        es_error error = {0};
        assert_int_equal(es_session_open(&c[i], &s, &error), ES_ERR_ARG);
        assert_true(error.text[0]);
        assert_null(s);
    }
}

/* --- recordings ------------------------------------------------------------------------- */

static void record_to(es_session_config *c, const char *path)
{
    es_text text = es_text_over(c->record_path, sizeof c->record_path);
    es_text_add(&text, "%s", path);
    c->record_replace = 1;
}

/* Both files hold the same frames, to half a step of 24 bit. */
static void assert_same_sound(const char *one, const char *other, int64_t frames)
{
    es_wave_reader *a, *b;
    float x[2048], y[2048];
    size_t got_x, got_y;
    int64_t count = 0;
    assert_int_equal(es_wave_reader_open(one, NULL, &a, NULL), ES_OK);
    assert_int_equal(es_wave_reader_open(other, NULL, &b, NULL), ES_OK);
    do {
        assert_int_equal(es_wave_reader_read(a, x, 1024, &got_x, NULL), ES_OK);
        assert_int_equal(es_wave_reader_read(b, y, 1024, &got_y, NULL), ES_OK);
        assert_int_equal(got_x, got_y);
        for (size_t i = 0; i < 2 * got_x; i++)
            assert_near((double)x[i], (double)y[i], 0.6 / 8388608.0);
        count += (int64_t)got_x;
    } while (got_x > 0);
    assert_int_equal(count, frames);
    es_wave_reader_close(a);
    es_wave_reader_close(b);
}

static void keeps_the_raw_capture(void **state)
{
    (void)state;
    static const char *const names[] = {"kept.wav", "kept.flac"};
    es_trim_snapshot last;
    write_tone("tone.wav", 3150.0, 11.5); /* more than the ring of the keeper holds */
    for (size_t i = 0; i < COUNT(names); i++) {
        es_session_config c = config_for(file_source("tone.wav"), 1);
        record_to(&c, in_folder(names[i]));
        es_session *s = opened(&c);
        follow_to_end(s, &last);
        es_session_stop(s);
        assert_string_equal(es_session_facts_of(s).standing.record_sentence, "");
        es_session_close(s);
        assert_same_sound(in_folder("tone.wav"), in_folder(names[i]), 23 * RATE / 2);
    }
}

/* A device that takes nothing: the kernel's own full disk. */
static void a_full_disk_is_told_and_the_session_goes_on(void **state)
{
    (void)state;
    es_trim_snapshot last;
    if (access("/dev/full", W_OK) != 0)
        skip();
    es_session_config c = config_for("rehearse:right-on-speed", 1);
    c.seconds = 20.0;
    record_to(&c, in_folder("full.wav"));
    assert_int_equal(symlink("/dev/full", c.record_path), 0);
    es_session *s;
    es_error error = {0};
    if (es_session_open(&c, &s, &error) != ES_OK) {
        assert_int_equal(error.status, ES_ERR_IO); /* found when it was opened */
        assert_string_equal(error.code, "disk-full");
        return;
    }
    assert_int_equal(follow_to_end(s, &last), 400);
    es_session_facts facts = es_session_facts_of(s);
    assert_int_equal(facts.standing.phase, ES_SESSION_ENDED);
    assert_non_null(strstr(facts.standing.record_sentence, "disk is full"));
    es_session_close(s);
}

static void says_why_a_recording_cannot_be_begun(void **state)
{
    (void)state;
    es_session_config c = config_for("rehearse:right-on-speed", 1);
    const char *const names[] = {"no/such/folder/x.wav", "x.mp4"};
    for (size_t i = 0; i < COUNT(names); i++) {
        es_session *s;
        es_error error = {0};
        record_to(&c, in_folder(names[i]));
        assert_int_not_equal(es_session_open(&c, &s, &error), ES_OK);
        assert_true(error.status == ES_ERR_IO || error.status == ES_ERR_ARG);
        assert_null(s);
    }
    es_session *s;
    es_error error = {0};
    write_tone("there.wav", 3150.0, 0.2);
    record_to(&c, in_folder("there.wav"));
    c.record_replace = 0;
    assert_int_equal(es_session_open(&c, &s, &error), ES_ERR_IO);
    assert_string_equal(error.code, "exists");
}

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    static const char *const names[] = {"tone.wav",  "text.wav",  "short.wav", "kept.wav",
                                        "kept.flac", "there.wav", "full.wav"};
    for (size_t i = 0; i < COUNT(names); i++)
        unlink(in_folder(names[i]));
    return rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(takes_the_tapes_error_off),
        cmocka_unit_test(takes_the_clocks_error_off),
        cmocka_unit_test(says_what_is_wrong_with_a_source),
        cmocka_unit_test(says_which_setting_is_out_of_range),
        cmocka_unit_test(keeps_the_raw_capture),
        cmocka_unit_test(a_full_disk_is_told_and_the_session_goes_on),
        cmocka_unit_test(says_why_a_recording_cannot_be_begun),
    };
    return cmocka_run_group_tests_name("live/session_file", tests, make_folder, remove_folder);
}
