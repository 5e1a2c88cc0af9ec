/* Where the tape stands: sections missing, markers missing, tapes of other kinds, no tape at all. */
#include "tape_bench.h"

#include <stdio.h>

static es_status play(const tape_player *side, const tape_fault *fault)
{
    es_tape_read_config config = defaults();
    return play_read(side, fault, &config, 4096, &result, &error);
}

static size_t index_of(const char *name)
{
    for (size_t i = 0; i < programme.side[0].section_count; i++)
        if (strcmp(programme.side[0].section[i].name, name) == 0)
            return i;
    fail_msg("no section %s", name);
    return 0;
}

static es_section_times times_of(const char *name)
{
    return es_programme_times(&programme, 0, index_of(name));
}

static const es_tape_section *section(const char *name)
{
    return &result.sections[index_of(name)];
}

static int warned(const char *code)
{
    return es_notes_find(&result.warnings, code) != NULL;
}

/* --- what was not heard ------------------------------------------------------------------------ */

static void tells_where_every_section_lay(void **state)
{
    (void)state;
    tape_fault fault = {.speed = 1.01, .noise_fs = 1e-4};
    assert_int_equal(play(side_a, &fault), ES_OK);
    assert_string_equal(result.programme, "bench");
    assert_int_equal(result.side, 1);
    for (size_t i = 1; i < result.section_count; i++) {
        es_section_times t = es_programme_times(&programme, 0, i);
        assert_near(result.sections[i].start_s, t.body_s / 1.01, 0.02);
        assert_near(result.sections[i].end_s, t.end_s / 1.01, 0.02);
        assert_true(result.sections[i].found && result.sections[i].marker);
    }
    assert_false(warned("sections-missing"));
}

static void a_late_start_loses_only_what_went_before(void **state)
{
    (void)state;
    tape_fault fault = {.from_s = times_of("level").start_s + 1.6, .noise_fs = 1e-4};
    assert_int_equal(play(side_a, &fault), ES_OK);
    assert_false(result.speed_known);
    assert_false(section("speed")->found);
    assert_false(section("level")->found);
    assert_true(isnan(section("level")->start_s));
    assert_true(section("azimuth")->found);
    assert_non_null(strstr(es_notes_find(&result.warnings, "sections-missing")->text,
                           "Not heard: speed, level."));
    assert_near(result.channels[0].level_db, -12.0, 0.02); /* from the stepped levels */
    assert_true(warned("reference-elsewhere"));
}

static void an_early_end_keeps_what_went_before(void **state)
{
    (void)state;
    tape_fault fault = {.to_s = times_of("response").body_s + 9.0, .noise_fs = 1e-4};
    assert_int_equal(play(side_a, &fault), ES_OK);
    assert_true(result.speed_known && result.azimuth.known);
    assert_int_equal(section("response")->steps_heard, 4);
    assert_near(result.channels[0].response[2].db, 0.0, 0.05);
    assert_true(isnan(result.channels[0].response[6].db));
    assert_false(section("silence")->found);
    assert_true(isnan(result.channels[0].noise.a));
    assert_true(warned("sections-in-part") && warned("sections-missing"));
}

/* The marker of a section is lost: its time follows from those around it. */
static void a_lost_marker_loses_nothing_else(void **state)
{
    (void)state;
    es_section_times level = times_of("level"), left = times_of("left");
    tape_fault fault = {.speed = 0.97,
                        .noise_fs = 1e-4,
                        .mute = {{level.start_s, level.body_s}, {left.start_s, left.body_s}}};
    assert_int_equal(play(side_a, &fault), ES_OK);
    assert_true(section("level")->found && !section("level")->marker);
    assert_true(section("left")->found && !section("left")->marker);
    assert_near(section("level")->start_s, level.body_s / 0.97, 0.05);
    assert_near(result.channels[1].level_db, -12.0, 0.02);
    assert_true(result.channels[0].separation[1].limit);
    assert_false(warned("sections-missing") || warned("interrupted"));
}

static void a_tape_that_was_stopped_and_wound_is_read_on(void **state)
{
    (void)state;
    tape_fault fault = {.stop_s = times_of("azimuth-tones").body_s + 4.0,
                        .resume_s = times_of("response").start_s - 2.0,
                        .noise_fs = 1e-4};
    assert_int_equal(play(side_a, &fault), ES_OK);
    assert_true(warned("interrupted"));
    assert_in_range(section("azimuth-tones")->steps_heard, 1, 2);
    assert_false(section("azimuth")->found);
    assert_int_equal(section("response")->steps_heard, 7);
    assert_near(result.azimuth.delay_us, 0.0, 0.5); /* by one low tone alone */
    assert_true(result.azimuth.sure);
    assert_near(result.played_speed, 1.0, 1e-3);
}

static void silence_that_was_interrupted_is_no_silence(void **state)
{
    (void)state;
    tape_fault fault = {.stop_s = times_of("silence").body_s + 5.0,
                        .resume_s = times_of("distortion").start_s - 4.0,
                        .noise_fs = 1e-4};
    assert_int_equal(play(side_a, &fault), ES_OK);
    assert_true(warned("interrupted"));
    assert_true(isnan(result.channels[0].noise.a));
    assert_false(section("silence")->found);
}

/* Without low tones, 60 us at 6300 Hz look like a reversed channel half a period (79.4 us) earlier. */
static void high_tones_alone_may_be_whole_turns_off(void **state)
{
    (void)state;
    es_section_times tones = times_of("azimuth-tones"), broad = times_of("azimuth");
    tape_fault fault = {.delay_s = 60e-6,
                        .noise_fs = 1e-4,
                        .mute = {{tones.body_s, tones.body_s + 6.0}, {broad.body_s, broad.end_s}}};
    es_tape_read_config config = defaults();
    config.label = "cassette-c90";
    assert_int_equal(play_read(side_a, &fault, &config, 4096, &result, &error), ES_OK);
    assert_true(result.azimuth.known);
    assert_true(fabs(result.azimuth.delay_us - 60.0) > 20.0);
    assert_false(result.azimuth.sure);
    assert_true(warned("other-tape"));
}

/* --- channels ----------------------------------------------------------------------------------- */

static void swapped_channels_are_said(void **state)
{
    (void)state;
    tape_fault fault = {.swapped = 1, .gain_db = {-1.0, 0.0}, .noise_fs = 1e-4};
    assert_int_equal(play(side_a, &fault), ES_OK);
    assert_true(result.swapped && warned("swapped"));
    assert_near(result.channels[0].level_db, -13.0, 0.02); /* as they arrive */
    assert_true(result.channels[0].separation_count && result.channels[1].separation_count);
    assert_true(result.channels[0].separation[0].db > 40.0);
}

static void a_dead_channel_is_said_and_the_other_measured(void **state)
{
    (void)state;
    tape_fault fault = {.dead = 1, .noise_fs = 1e-4};
    assert_int_equal(play(side_a, &fault), ES_OK);
    assert_true(warned("left-dead"));
    assert_false(result.channels[0].heard);
    assert_true(isnan(result.channels[0].level_db) && isnan(result.balance_db));
    assert_near(result.channels[1].level_db, -12.0, 0.02);
    assert_false(result.azimuth.known);
    assert_near(result.check.speed.error_percent, 0.0, 0.003);
}

static void one_channel_is_measured_alone(void **state)
{
    (void)state;
    tape_fault fault = {.mono = 1, .speed = 1.002, .noise_fs = 1e-4};
    assert_int_equal(play(side_a, &fault), ES_OK);
    assert_true(warned("mono"));
    assert_int_equal(result.channel_count, 1);
    assert_near(result.check.speed.error_percent, 0.2, 0.003);
    assert_near(result.channels[0].response[3].db, 0.0, 0.02);
    assert_false(result.azimuth.known);
    assert_int_equal(result.polarity, ES_POLARITY_UNKNOWN);
    assert_int_equal(result.channels[0].separation_count, 0);
}

/* --- other tapes ---------------------------------------------------------------------------------- */

static void knows_side_b(void **state)
{
    (void)state;
    tape_fault fault = {.noise_fs = 1e-4};
    assert_int_equal(play(side_b, &fault), ES_OK);
    assert_int_equal(result.side, 2);
    assert_int_equal(result.section_count, 5);
    assert_near(result.channels[0].level_db, -12.0, 0.02);
    assert_false(result.speed_known);
}

static void play_both(void *who, const float *frames, size_t count)
{
    es_tape_read_push(who, frames, count);
}

static void the_other_side_afterwards_is_left_out(void **state)
{
    (void)state;
    es_tape_read *read;
    es_tape_read_config config = defaults();
    tape_fault fault = {.noise_fs = 1e-4}, softer = {.gain_db = {-6.0, -6.0}, .noise_fs = 1e-4};
    assert_int_equal(es_tape_read_create(&config, &read, NULL), ES_OK);
    play_tape(side_b, &fault, 4096, play_both, read);
    play_tape(side_a, &softer, 4096, play_both, read);
    assert_int_equal(es_tape_read_finish(read, &result, &error), ES_OK);
    es_tape_read_destroy(read);
    assert_int_equal(result.side, 2);
    assert_true(warned("other-side"));
    assert_near(result.channels[0].level_db, -12.0, 0.02);
}

static void a_programme_that_is_not_known_is_refused_by_its_number(void **state)
{
    (void)state;
    tape_fault fault = {.noise_fs = 1e-4, .to_s = 30.0};
    es_tape_read_config config = es_tape_read_defaults(PLAY_RATE, 2);
    char number[16];
    snprintf(number, sizeof number, "%u", es_programme_id(&programme));
    assert_int_equal(play_read(side_a, &fault, &config, 4096, &result, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "unknown-programme");
    assert_non_null(strstr(error.text, number));
}

/* Straight from its sound: it needs a higher rate. */
static void read_built_in(const char *name, size_t frames)
{
    es_programme built_in;
    es_programme_sound *sound;
    es_programme_sound_config asked = es_programme_sound_defaults();
    es_tape_read *read;
    es_tape_read_config config = es_tape_read_defaults(asked.rate_hz, 2);
    float room[2 * 4096];
    config.programme = &programme;
    assert_int_equal(es_programme_find(name, &built_in), ES_OK);
    assert_int_equal(es_programme_sound_create(&built_in, &asked, &sound, &error), ES_OK);
    assert_int_equal(es_tape_read_create(&config, &read, NULL), ES_OK);
    for (size_t at = 0; at < frames; at += 4096) {
        es_programme_sound_render(sound, room, 4096);
        es_tape_read_push(read, room, 4096);
    }
    assert_int_equal(es_tape_read_finish(read, &result, &error), ES_OK);
    es_tape_read_destroy(read);
    es_programme_sound_destroy(sound);
}

static void another_programme_than_was_named_is_said(void **state)
{
    (void)state;
    read_built_in("cassette-short", 130 * 48000);
    assert_string_equal(result.programme, "cassette-short");
    assert_true(warned("other-programme"));
    assert_near(result.channels[0].level_db, -12.0, 0.02);
}

/* --- no tape ------------------------------------------------------------------------------------------ */

typedef void make_frame(size_t i, float *out);

static es_status read_made(make_frame *make, double seconds)
{
    es_tape_read *read;
    es_tape_read_config config = es_tape_read_defaults(PLAY_RATE, 2);
    float frames[2 * 800];
    memset(&error, 0, sizeof error);
    assert_int_equal(es_tape_read_create(&config, &read, NULL), ES_OK);
    for (size_t at = 0; (double)at < seconds * PLAY_RATE; at += 800) {
        for (size_t i = 0; i < 800; i++)
            make(at + i, frames + 2 * i);
        es_tape_read_push(read, frames, 800);
    }
    es_status status = es_tape_read_finish(read, &result, &error);
    es_tape_read_destroy(read);
    return status;
}

static void silent(size_t i, float *out)
{
    (void)i;
    out[0] = out[1] = 0.0f;
}

static void one_tone(size_t i, float *out)
{
    out[0] = out[1] = (float)(0.2 * sin(ES_TWO_PI * 3150.0 * (double)i / PLAY_RATE));
}

static void not_finite(size_t i, float *out)
{
    one_tone(i, out);
    if (i % 100 == 7)
        out[1] = (float)NAN;
}

static void what_is_no_test_tape_is_refused(void **state)
{
    (void)state;
    assert_int_equal(read_made(silent, 0.0), ES_ERR_INPUT);
    assert_string_equal(error.code, "empty");
    assert_int_equal(read_made(silent, 60.0), ES_ERR_INPUT);
    assert_string_equal(error.code, "silence");
    assert_int_equal(read_made(one_tone, 30.0), ES_ERR_INPUT);
    assert_string_equal(error.code, "no-markers");
    assert_int_equal(result.side, 0);
    assert_near(result.capture.duration_s, 30.0, 0.03);
    assert_int_equal(read_made(not_finite, 10.0), ES_ERR_INPUT);
    assert_string_equal(error.code, "no-markers");
}

/* A marker that stands in something else: it is believed, but nothing of the programme follows. */
static es_marker_burst burst;

static void marker_in_music(size_t i, float *out)
{
    double s = (double)i / PLAY_RATE, tune = 220.0 * pow(2.0, floor(fmod(s * 3.0, 9.0)) / 12.0);
    double chord = sin(ES_TWO_PI * tune * s) + sin(ES_TWO_PI * 1.498 * tune * s);
    double marker = es_marker_burst_at(&burst, s - 5.0);
    out[0] = out[1] = (float)(marker != 0.0 ? 0.2 * marker : 0.1 * chord);
}

static void a_marker_inside_music_brings_no_figures(void **state)
{
    (void)state;
    es_programme built_in;
    assert_int_equal(es_programme_find("cassette-short", &built_in), ES_OK);
    es_marker_code code = {es_programme_id(&built_in), 1, 7}; /* right-only */
    assert_int_equal(es_marker_burst_make(code, &burst), ES_OK);
    assert_int_equal(read_made(marker_in_music, 30.0), ES_ERR_INPUT);
    assert_string_equal(error.code, "nothing-heard");
    assert_string_equal(result.programme, "cassette-short");
    assert_true(isnan(result.channels[0].level_db));
}

static void says_where_the_tape_stands(void **state)
{
    (void)state;
    es_tape_read *read;
    es_tape_read_config config = defaults();
    tape_fault fault = {.speed = 1.02, .to_s = times_of("response").body_s + 6.0};
    assert_int_equal(es_tape_read_create(&config, &read, NULL), ES_OK);
    assert_int_equal(es_tape_read_now(read).side, 0);
    play_tape(side_a, &fault, 4096, play_into_reader, read);
    es_tape_now now = es_tape_read_now(read);
    assert_int_equal(now.side, 1);
    assert_string_equal(now.programme, "bench");
    assert_string_equal(now.section, "response");
    assert_int_equal(now.step, 2);
    assert_near(now.speed, 1.02, 1e-3);
    assert_near(now.left_s, (es_programme_side_s(&programme, 0) - fault.to_s) / 1.02, 0.2);
    es_tape_read_destroy(read);
}

static void refuses_settings_out_of_range(void **state)
{
    (void)state;
    es_tape_read *read;
    es_tape_read_config config = es_tape_read_defaults(4000, 2);
    assert_int_equal(es_tape_read_create(&config, &read, &error), ES_ERR_ARG);
    assert_null(read);
    config = es_tape_read_defaults(48000, 65);
    assert_int_equal(es_tape_read_create(&config, &read, NULL), ES_ERR_ARG);
    es_programme bad = programme;
    bad.side[0].section[1].step[0].hz = 5.0;
    config = es_tape_read_defaults(48000, 2);
    config.programme = &bad;
    assert_int_equal(es_tape_read_create(&config, &read, NULL), ES_ERR_ARG);
    es_tape_read_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tells_where_every_section_lay),
        cmocka_unit_test(a_late_start_loses_only_what_went_before),
        cmocka_unit_test(an_early_end_keeps_what_went_before),
        cmocka_unit_test(a_lost_marker_loses_nothing_else),
        cmocka_unit_test(a_tape_that_was_stopped_and_wound_is_read_on),
        cmocka_unit_test(silence_that_was_interrupted_is_no_silence),
        cmocka_unit_test(high_tones_alone_may_be_whole_turns_off),
        cmocka_unit_test(swapped_channels_are_said),
        cmocka_unit_test(a_dead_channel_is_said_and_the_other_measured),
        cmocka_unit_test(one_channel_is_measured_alone),
        cmocka_unit_test(knows_side_b),
        cmocka_unit_test(the_other_side_afterwards_is_left_out),
        cmocka_unit_test(a_programme_that_is_not_known_is_refused_by_its_number),
        cmocka_unit_test(another_programme_than_was_named_is_said),
        cmocka_unit_test(what_is_no_test_tape_is_refused),
        cmocka_unit_test(a_marker_inside_music_brings_no_figures),
        cmocka_unit_test(says_where_the_tape_stands),
        cmocka_unit_test(refuses_settings_out_of_range),
    };
    return cmocka_run_group_tests_name("task/tape_course", tests, load, unload);
}
