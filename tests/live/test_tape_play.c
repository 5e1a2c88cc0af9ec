/* A side played to the sound system of the tests (device/fake.h); the time is the script's. */
#include "cm.h"

#include "alloc_probe.h"
#include "device/fake.h"
#include "evenspool/base/units.h"
#include "evenspool/task/programme_sound.h"
#include "live/tape_play_inside.h"
#include "tiny_programme.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define RATE 48000
#define HEARD_MOST (80 * RATE)
#define STEP_S 0.05

static es_programme programme = {
    TINY_PROGRAMME, .side = {{.section_count = 4,
                              .section = {{ES_SECTION_LEADER, "leader", 1, {{0, 0, 2}}},
                                          {ES_SECTION_LEVEL, "level", 1, {{400, 0, 3}}},
                                          {ES_SECTION_LEFT_ONLY, "left-only", 1, {{1000, -10, 2}}},
                                          {ES_SECTION_END, "end", 0, {{0, 0, 0}}}}}}};

static es_fake *fake;
static es_sound *sound;
static float heard[2 * HEARD_MOST];
static size_t heard_count;

static void hear(void *who, const float *frames, size_t count, int channels)
{
    (void)who;
    assert_int_equal(channels, 2);
    for (size_t i = 0; i < count && heard_count < HEARD_MOST; i++, heard_count++)
        memcpy(&heard[2 * heard_count], &frames[2 * i], 2 * sizeof *heard);
}

static es_tape_play *playing(const char *script)
{
    es_error error = {0};
    es_tape_play *p;
    es_tape_play_config config = es_tape_play_defaults();
    heard_count = 0;
    if (es_fake_open(script, &sound, &fake, &error) != ES_OK)
        fail_msg("%s", error.text);
    es_fake_hear(fake, hear, NULL);
    if (es_tape_play_on(sound, &programme, &config, &p, &error) != ES_OK)
        fail_msg("%s", error.text);
    return p;
}

static void end(es_tape_play *p)
{
    es_tape_play_close(p);
    assert_int_equal(es_fake_streams(fake), 0);
    es_sound_close(sound);
}

static es_tape_play_now go_on(es_tape_play *p, double seconds)
{
    es_tape_play_now now = es_tape_play_feed(p);
    for (double done = 0.0; done < seconds - 1e-9; done += STEP_S) {
        es_fake_run(fake, STEP_S);
        now = es_tape_play_feed(p);
    }
    return now;
}

static double peak(size_t from, size_t to, size_t channel)
{
    double most = 0.0;
    for (size_t i = from; i < to; i++)
        most = fmax(most, fabs((double)heard[2 * i + channel]));
    return most;
}

/* --- the three acts ---------------------------------------------------------------------------- */

/* The level by its definition: the peak of a sine, -12 dB against full scale. */
static void the_level_tone_goes_on_until_told(void **state)
{
    (void)state;
    es_tape_play *p = playing("place 0 2 48000 card\n");
    assert_string_equal(es_tape_play_output(p), "card");
    assert_near(es_tape_play_rate(p), 48000.0, 0.0);
    assert_near(es_tape_play_level_hz(p), 400.0, 0.0);
    es_tape_play_now now = go_on(p, 20.0);
    assert_int_equal(now.act, ES_TAPE_LEVEL);
    assert_true(isnan(now.left_s));
    for (size_t c = 0; c < 2; c++)
        assert_near(20.0 * log10(peak(RATE, 19 * RATE, c)), -12.0, 0.001);
    size_t crossings = 0;
    for (size_t i = RATE; i < 11 * RATE; i++)
        crossings += heard[2 * i] < 0.0f && heard[2 * i + 2] >= 0.0f;
    assert_in_range(crossings, 3999, 4001); /* 10 s of 400 Hz */
    end(p);
}

/* Fades of 20 ms: no step larger than a sine of 400 Hz makes, 0.25 x 2 pi 400 / 48000 = 0.0132. */
static void the_tone_sets_in_and_ends_softly_and_soon(void **state)
{
    (void)state;
    es_tape_play *p = playing("place 0 2 48000 card\n");
    go_on(p, 2.0);
    size_t told = heard_count;
    es_tape_play_go(p);
    es_tape_play_go(p); /* a second time changes nothing */
    go_on(p, 2.0);
    assert_true(peak(told + RATE / 2, heard_count, 0) == 0.0);
    double step = 0.0;
    for (size_t i = 1; i < heard_count; i++)
        step = fmax(step, fabs((double)heard[2 * i] - (double)heard[2 * i - 2]));
    assert_true(step < 0.0145);
    end(p);
}

/* The side as it is rendered, from the first frame of the leader to the last of the end. */
static void what_is_heard_is_the_side_sample_for_sample(void **state)
{
    (void)state;
    es_tape_play *p = playing("place 0 2 48000 card\n");
    es_tape_play_go(p); /* ready: no tone at all */
    es_tape_play_now now = go_on(p, 0.05);
    assert_int_equal(now.act, ES_TAPE_COUNT);
    assert_near(now.left_s, ES_TAPE_COUNT_S - 0.05, 0.06);
    double side_s = es_programme_side_s(&programme, 0);
    now = go_on(p, ES_TAPE_COUNT_S + side_s + 1.5);
    assert_int_equal(now.act, ES_TAPE_DONE);
    es_programme_sound *s;
    es_programme_sound_config config = es_programme_sound_defaults();
    assert_int_equal(es_programme_sound_create(&programme, &config, &s, NULL), ES_OK);
    size_t from = (size_t)(ES_TAPE_COUNT_S * RATE), count = (size_t)es_programme_sound_length(s);
    assert_true(peak(0, from, 0) == 0.0);
    for (size_t i = 0; i < count; i++) {
        float frame[2];
        es_programme_sound_render(s, frame, 1);
        assert_near((double)heard[2 * (from + i)], (double)frame[0], 0.0);
        assert_near((double)heard[2 * (from + i) + 1], (double)frame[1], 0.0);
    }
    assert_true(peak(from + count, heard_count, 0) == 0.0);
    es_programme_sound_destroy(s);
    end(p);
}

static void tells_where_it_is(void **state)
{
    (void)state;
    es_tape_play *p = playing("place 0 2 48000 card\n");
    double side_s = es_programme_side_s(&programme, 0);
    es_tape_play_go(p);
    es_tape_play_now now = go_on(p, ES_TAPE_COUNT_S + 1.0);
    assert_int_equal(now.act, ES_TAPE_SIDE);
    assert_int_equal(now.section, 0);
    assert_near(now.side_s, 1.0, 0.06);
    assert_near(now.section_left_s, 1.0, 0.06);
    assert_near(now.left_s, side_s - 1.0, 0.06);
    for (size_t i = 1; i < 4; i++) {
        es_section_times t = es_programme_times(&programme, 0, i);
        now = go_on(p, t.start_s + 0.5 - now.side_s);
        assert_int_equal(now.act, ES_TAPE_SIDE);
        assert_int_equal(now.section, i);
        assert_near(now.section_left_s, t.next_s - t.start_s - 0.5, 0.06);
    }
    end(p);
}

/* --- trouble ------------------------------------------------------------------------------------- */

static es_tape_play_now broken_by(const char *script, double seconds)
{
    es_tape_play *p = playing(script);
    es_tape_play_go(p);
    es_tape_play_now now = go_on(p, seconds);
    end(p);
    return now;
}

static void a_device_that_vanishes_spoils_the_side(void **state)
{
    (void)state;
    es_tape_play_now now = broken_by("place 0 2 48000 card\nat 8 unplug\n", 10.0);
    assert_int_equal(now.act, ES_TAPE_BROKEN);
    assert_int_equal(now.trouble.status, ES_ERR_DEVICE);
    assert_string_equal(now.trouble.code, "device-gone");
    assert_non_null(strstr(now.trouble.text, "card has vanished"));
    assert_non_null(strstr(now.trouble.text, "from the start"));
    now = broken_by("place 0 2 48000 card\nat 8 silent\nat 11 plug\n", 12.0);
    assert_string_equal(now.trouble.code, "device-gone"); /* back or not */
}

static void a_moment_without_sound_spoils_the_side(void **state)
{
    (void)state;
    es_tape_play_now now = broken_by("place 0 2 48000 card\nat 8 overflow\n", 8.2);
    assert_int_equal(now.act, ES_TAPE_BROKEN);
    assert_string_equal(now.trouble.code, "sound-gap");
    assert_non_null(strstr(now.trouble.text, "3 s into the side"));
    es_tape_play *p = playing("place 0 2 48000 card\n");
    es_tape_play_go(p);
    assert_int_equal(go_on(p, 8.0).act, ES_TAPE_SIDE);
    es_fake_run(fake, 2.5); /* nobody fed it for longer than it has in store */
    now = es_tape_play_feed(p);
    assert_int_equal(now.act, ES_TAPE_BROKEN);
    assert_string_equal(now.trouble.code, "sound-gap");
    end(p);
}

static void what_goes_wrong_before_the_side_spoils_nothing(void **state)
{
    (void)state;
    es_tape_play *p = playing("place 0 2 48000 card\nat 1 overflow\nat 5 overflow\n");
    go_on(p, 2.0);
    es_fake_run(fake, 1.0);
    go_on(p, 1.0);
    es_tape_play_go(p);
    es_tape_play_now now = go_on(p, ES_TAPE_COUNT_S + es_programme_side_s(&programme, 0) + 2.0);
    assert_int_equal(now.act, ES_TAPE_DONE);
    end(p);
}

/* --- what is refused -------------------------------------------------------------------------------- */

static void refused(const char *script, const es_programme *what, es_tape_play_config config,
                    const char *code)
{
    es_error error = {0};
    es_tape_play *p;
    assert_int_equal(es_fake_open(script, &sound, &fake, &error), ES_OK);
    assert_int_not_equal(es_tape_play_on(sound, what, &config, &p, &error), ES_OK);
    assert_null(p);
    assert_string_equal(error.code, code);
    end(p);
}

static void unusable_outputs_and_settings_are_refused(void **state)
{
    (void)state;
    static es_programme bad;
    const es_tape_play_config usual = es_tape_play_defaults();
    es_tape_play_config other = usual;
    refused("place 0 1 48000 mono\n", &programme, usual, "device-channels");
    refused("place 2 0 48000 input\n", &programme, usual, "no-output");
    strcpy(other.output, "none");
    refused("place 0 2 48000 card\n", &programme, other, "no-such-device");
    other = usual;
    other.side = 1;
    refused("place 0 2 48000 card\n", &programme, other, "setting");
    other = usual;
    other.reference_dbfs = 3.0;
    refused("place 0 2 48000 card\n", &programme, other, "setting");
    other = usual;
    other.rate_hz = 96000.0;
    refused("place 0 2 48000 card\nonly 48000\n", &programme, other, "device-rate");
    refused("place 0 2 48000 card\n", &bad, usual, "programme");
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_tape_play_config config = es_tape_play_defaults();
    es_tape_play *p = NULL;
    assert_int_equal(es_fake_open("place 0 2 48000 card\n", &sound, &fake, NULL), ES_OK);
    for (long n = 0;; n++) {
        alloc_probe_fail_after(n);
        es_error error = {0};
        es_status status = es_tape_play_on(sound, &programme, &config, &p, &error);
        if (status == ES_OK)
            break;
        assert_int_equal(status, ES_ERR_NOMEM);
        assert_null(p);
        assert_int_equal(alloc_probe_live(), 0);
        assert_true(n < 100);
    }
    alloc_probe_reset();
    end(p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_level_tone_goes_on_until_told),
        cmocka_unit_test(the_tone_sets_in_and_ends_softly_and_soon),
        cmocka_unit_test(what_is_heard_is_the_side_sample_for_sample),
        cmocka_unit_test(tells_where_it_is),
        cmocka_unit_test(a_device_that_vanishes_spoils_the_side),
        cmocka_unit_test(a_moment_without_sound_spoils_the_side),
        cmocka_unit_test(what_goes_wrong_before_the_side_spoils_nothing),
        cmocka_unit_test(unusable_outputs_and_settings_are_refused),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("live/tape_play", tests, NULL, NULL);
}
