#include "cm.h"

#include "alloc_sweep.h"
#include "evenspool/base/units.h"
#include "evenspool/task/programme.h"
#include "evenspool/task/programme_sound.h"

#include <stdlib.h>
#include <string.h>

#define RATE 48000

static es_programme programme;
static float sound[2 * 40 * RATE];

static void take(const char *name)
{
    assert_int_equal(es_programme_find(name, &programme), ES_OK);
}

static es_programme_sound *new_sound(size_t side, double reference_dbfs)
{
    es_programme_sound *s;
    es_programme_sound_config c = es_programme_sound_defaults();
    c.side = side;
    c.reference_dbfs = reference_dbfs;
    assert_int_equal(es_programme_sound_create(&programme, &c, &s, NULL), ES_OK);
    return s;
}

/* --- the plan ---------------------------------------------------------------------------------- */

/* Playing times: a C60 side 30 min, a C90 side 45 min (the names of the formats). */
static void built_in_programmes_fit_their_tapes(void **state)
{
    (void)state;
    for (size_t i = 0; i < es_programme_builtin_count(); i++) {
        es_error error = {0};
        assert_int_equal(es_programme_builtin(i, &programme), ES_OK);
        assert_int_equal(es_programme_check(&programme, NULL, &error), ES_OK);
        assert_string_equal(programme.name, es_programme_builtin_name(i));
        assert_string_equal(programme.about, es_programme_builtin_about(i));
        assert_int_equal(programme.side_count, 2);
        double most_s = strstr(programme.name, "c90") ? 45 * 60 : 30 * 60;
        for (size_t k = 0; k < 2; k++)
            assert_true(es_programme_side_s(&programme, k) < 0.985 * most_s);
    }
    take("cassette");
    assert_true(es_programme_side_s(&programme, 0) > 28 * 60);
    take("cassette-c90");
    assert_true(es_programme_side_s(&programme, 0) > 42 * 60);
    assert_string_equal(es_programme_builtin_name(99), "");
    assert_int_equal(es_programme_builtin(99, &programme), ES_ERR_ARG);
    assert_int_equal(es_programme_find("wire", &programme), ES_ERR_ARG);
    assert_string_equal(programme.name, "cassette");
}

/* What the middle of the tape is for: equal packs. */
static void the_middle_of_the_tape_is_a_speed_tone(void **state)
{
    (void)state;
    static const char *const names[] = {"cassette", "cassette-c90", "cassette-70"};
    for (size_t i = 0; i < COUNT(names); i++) {
        take(names[i]);
        es_programme_place p = es_programme_at(&programme, 0, 0.5 * programme.side_most_s);
        assert_int_equal(p.part, ES_PART_OF_BODY);
        assert_string_equal(programme.side[0].section[p.section].name, "speed-middle");
    }
}

/* The ladder the job asks for: -20 dB, 31.5 Hz to 16 kHz, or 20 kHz on a fast reel. */
static void everything_an_alignment_needs_is_there(void **state)
{
    (void)state;
    for (size_t i = 0; i < es_programme_builtin_count(); i++) {
        int seen[ES_SECTION_KIND_COUNT] = {0};
        double low = HUGE_VAL, high = 0.0;
        assert_int_equal(es_programme_builtin(i, &programme), ES_OK);
        const es_programme_side *side = &programme.side[1];
        for (size_t k = 0; k < side->section_count; k++) {
            const es_programme_section *s = &side->section[k];
            seen[s->kind]++;
            for (size_t n = 0; n < s->step_count && s->kind == ES_SECTION_RESPONSE; n++) {
                low = fmin(low, s->step[n].hz);
                high = fmax(high, s->step[n].hz);
                assert_near(s->step[n].level_db, -20.0, 0.0);
            }
            if (s->kind == ES_SECTION_RESPONSE)
                assert_near(s->step[0].hz, 315.0, 0.0);
        }
        for (int k = 0; k < ES_SECTION_KIND_COUNT; k++)
            assert_true(seen[k] >= 1);
        assert_near(low, 31.5, 0.0);
        assert_near(high,
                    strstr(programme.name, "reel-19") || strstr(programme.name, "reel-38")
                        ? 20000.0
                        : 16000.0,
                    0.0);
    }
}

static void every_programme_has_an_id_of_its_own(void **state)
{
    (void)state;
    unsigned ids[16];
    static es_programme found;
    for (size_t i = 0; i < es_programme_builtin_count(); i++) {
        assert_int_equal(es_programme_builtin(i, &programme), ES_OK);
        ids[i] = es_programme_id(&programme);
        assert_true(ids[i] <= 0xFFFF);
        for (size_t k = 0; k < i; k++)
            assert_true(ids[k] != ids[i]);
        assert_int_equal(es_programme_of_id(ids[i], &found), ES_OK);
        assert_string_equal(found.name, programme.name);
    }
    take("cassette");
    unsigned id = es_programme_id(&programme);
    strcpy(programme.about, "Said in other words.");
    assert_int_equal(es_programme_id(&programme), id);
    programme.side[1].section[3].step[1].seconds += 0.5;
    assert_true(es_programme_id(&programme) != id);
    assert_int_equal(es_programme_of_id(es_programme_id(&programme), &found), ES_ERR_ARG);
}

static void kinds_are_known_by_their_names(void **state)
{
    (void)state;
    es_section_kind kind;
    for (int k = 0; k < ES_SECTION_KIND_COUNT; k++) {
        assert_int_equal(es_section_kind_from_name(es_section_kind_name((es_section_kind)k), &kind),
                         ES_OK);
        assert_int_equal(kind, k);
    }
    assert_int_equal(es_section_kind_from_name("music", &kind), ES_ERR_ARG);
    assert_string_equal(es_section_kind_name((es_section_kind)99), "");
}

/* Worked by hand: leader 12 s; marker 2.208 s, gap 0.4 s; speed 240 s; gap 0.4 s; marker. */
static void times_add_up(void **state)
{
    (void)state;
    take("cassette");
    es_section_times leader = es_programme_times(&programme, 0, 0);
    assert_true(isnan(leader.marker_s));
    assert_near(leader.body_s, 0.0, 0.0);
    assert_near(leader.next_s, 12.0, 0.0);
    es_section_times speed = es_programme_times(&programme, 0, 1);
    assert_near(speed.marker_s, 12.0, 1e-12);
    assert_near(speed.body_s, 14.608, 1e-12);
    assert_near(speed.end_s, 254.608, 1e-12);
    assert_near(speed.next_s, 255.008, 1e-12);
    assert_near(es_programme_times(&programme, 0, 2).start_s, 255.008, 1e-12);
    assert_near(es_programme_step_s(&programme, 0, 3, 2) - es_programme_step_s(&programme, 0, 3, 0),
                10.0, 1e-9);
    size_t last = programme.side[0].section_count - 1;
    assert_near(es_programme_times(&programme, 0, last).next_s, es_programme_side_s(&programme, 0),
                0.0);
}

static void tells_what_stands_at_a_time(void **state)
{
    (void)state;
    static const struct {
        double time_s;
        es_programme_part part;
        size_t section;
        double left_s;
    } places[] = {{3.0, ES_PART_OF_BODY, 0, 9.0},    {12.0, ES_PART_OF_MARKER, 1, 2.208},
                  {14.3, ES_PART_OF_GAP, 1, 0.308},  {15.0, ES_PART_OF_BODY, 1, 239.608},
                  {254.708, ES_PART_OF_GAP, 1, 0.3}, {255.1, ES_PART_OF_MARKER, 2, 2.116}};
    take("cassette");
    for (size_t i = 0; i < COUNT(places); i++) {
        es_programme_place p = es_programme_at(&programme, 0, places[i].time_s);
        assert_int_equal(p.part, places[i].part);
        assert_int_equal(p.section, places[i].section);
        assert_near(p.left_s, places[i].left_s, 1e-9);
    }
    assert_int_equal(es_programme_at(&programme, 0, -1.0).part, ES_PART_OF_NOTHING);
    assert_int_equal(es_programme_at(&programme, 0, 1e6).part, ES_PART_OF_NOTHING);
    assert_int_equal(es_programme_at(&programme, 0, (double)NAN).part, ES_PART_OF_NOTHING);
    double step_s = es_programme_step_s(&programme, 0, 3, 2);
    assert_int_equal(es_programme_at(&programme, 0, step_s + 0.1).step, 2);
}

/* --- what is refused ------------------------------------------------------------------------------ */

static void refused(const char *word)
{
    es_error error = {0};
    assert_int_equal(es_programme_check(&programme, NULL, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "programme");
    if (!strstr(error.text, word))
        fail_msg("\"%s\" does not speak of \"%s\"", error.text, word);
    take("cassette");
}

static void a_bad_programme_is_refused_in_words(void **state)
{
    (void)state;
    take("cassette");
    es_programme_section *s = programme.side[0].section;
    strcpy(programme.name, "Two Words");
    refused("name");
    strcpy(programme.about, "two\nlines");
    refused("one line");
    strcpy(programme.equalisation, "bright");
    refused("equalisation");
    programme.reference_nwb_m = (double)NAN;
    refused("flux");
    programme.marker_db = 3.0;
    refused("markers");
    programme.broad_low_hz = 200.5;
    refused("whole");
    programme.broad_high_hz = 700;
    refused("octaves");
    programme.side_most_s = 1000.0;
    refused("only 1000.0 s");
    programme.side_count = 3;
    refused("sides");
    strcpy(programme.transport, "wire");
    refused("class");
    programme.side[1].section_count = 0;
    refused("Side 2");
    s[2].kind = (es_section_kind)77;
    refused("section 3");
    strcpy(s[2].name, s[1].name);
    refused("twice");
    s[3].name[0] = '-';
    refused("hyphens");
    s[4].kind = ES_SECTION_LEADER;
    refused("first");
    programme.side[0].section_count--;
    refused("end");
    s[1].step_count = 2;
    refused("1 step");
    s[5].step_count = 0;
    refused("1 to 24");
    s[1].step[0].hz = 1e5;
    refused("22000");
    s[0].step[0].hz = 100.0;
    refused("no tone");
    s[1].step[0].level_db = (double)NAN;
    refused("dB");
    s[0].step[0].level_db = -3.0;
    refused("nothing is recorded");
    s[1].step[0].seconds = 0.1;
    refused("7200");
    assert_int_equal(es_programme_check(&programme, NULL, NULL), ES_OK);
}

/* So that whoever read it from a text can tell where. */
static void the_place_of_what_is_refused_is_told(void **state)
{
    (void)state;
    es_programme_spot spot;
    take("cassette");
    assert_int_equal(es_programme_check(&programme, &spot, NULL), ES_OK);
    assert_null(spot.field);
    programme.side[1].section[5].step[3].hz = 5.0;
    assert_int_equal(es_programme_check(&programme, &spot, NULL), ES_ERR_INPUT);
    assert_true(spot.side == 1 && spot.section == 5 && spot.step == 3);
    assert_string_equal(spot.field, "hz");
    take("cassette");
    programme.side[0].section[7].name[0] = 'A';
    assert_int_equal(es_programme_check(&programme, &spot, NULL), ES_ERR_INPUT);
    assert_true(spot.side == 0 && spot.section == 7 && spot.step == ES_SPOT_NONE);
    assert_string_equal(spot.field, "name");
    take("cassette");
    programme.broad_high_hz = 1e5;
    assert_int_equal(es_programme_check(&programme, &spot, NULL), ES_ERR_INPUT);
    assert_true(spot.side == ES_SPOT_NONE);
    assert_string_equal(spot.field, "broad_high_hz");
    take("cassette");
    programme.side_most_s = 900.0;
    assert_int_equal(es_programme_check(&programme, &spot, NULL), ES_ERR_INPUT);
    assert_true(spot.side == 0 && spot.section == ES_SPOT_NONE);
    assert_string_equal(spot.field, "sections");
}

static void unusable_settings_are_refused_in_words(void **state)
{
    (void)state;
    static const struct {
        double rate_hz;
        size_t side;
        double reference_dbfs;
        const char *word;
    } bad[] = {{8000, 0, -12, "whole"},        {44100.5, 0, -12, "whole"},
               {(double)NAN, 0, -12, "whole"}, {48000, 2, -12, "side 3"},
               {48000, 0, 3, "-40"},           {48000, 0, -3, "loudest"},
               {32000, 0, -12, "too low"}};
    take("cassette");
    for (size_t i = 0; i < COUNT(bad); i++) {
        es_programme_sound *s;
        es_programme_sound_config c = {bad[i].rate_hz, bad[i].side, bad[i].reference_dbfs};
        es_error error = {0};
        assert_int_equal(es_programme_sound_create(&programme, &c, &s, &error), ES_ERR_ARG);
        assert_null(s);
        if (!strstr(error.text, bad[i].word))
            fail_msg("\"%s\" does not speak of \"%s\"", error.text, bad[i].word);
    }
    programme.side_count = 0;
    es_programme_sound *s;
    es_programme_sound_config c = es_programme_sound_defaults();
    assert_int_equal(es_programme_sound_create(&programme, &c, &s, NULL), ES_ERR_INPUT);
}

/* --- the sound ------------------------------------------------------------------------------------- */

static size_t section_named(const char *name)
{
    for (size_t i = 0; i < programme.side[0].section_count; i++)
        if (strcmp(programme.side[0].section[i].name, name) == 0)
            return i;
    fail_msg("no section %s", name);
    return 0;
}

/* Renders seconds of it from time_s on. */
static size_t render(es_programme_sound *s, double time_s, double seconds)
{
    size_t frames = (size_t)(seconds * RATE);
    es_programme_sound_seek(s, llround(time_s * RATE));
    es_programme_sound_render(s, sound, frames);
    return frames;
}

/* Peak amplitude of the part of a channel that is a sine of hz: the discrete Fourier sum over whole periods. */
static double sine_in(size_t from, size_t count, int channel, double hz)
{
    double re = 0.0, im = 0.0;
    for (size_t i = from; i < from + count; i++) {
        double turn = ES_TWO_PI * hz * (double)i / RATE;
        re += (double)sound[2 * i + (size_t)channel] * cos(turn);
        im += (double)sound[2 * i + (size_t)channel] * sin(turn);
    }
    return 2.0 * hypot(re, im) / (double)count;
}

static void tones_have_their_levels(void **state)
{
    (void)state;
    take("cassette");
    es_programme_sound *s = new_sound(0, -14.0);
    assert_int_equal(es_programme_sound_length(s),
                     llround(es_programme_side_s(&programme, 0) * RATE));
    for (size_t i = 0; i < programme.side[0].section_count; i++) {
        const es_programme_section *at = &programme.side[0].section[i];
        for (size_t k = 0; k < at->step_count && at->step[0].hz > 0.0; k++) {
            render(s, es_programme_step_s(&programme, 0, i, k) + 0.25, 1.0);
            for (int c = 0; c < 2; c++) {
                int off = at->kind == (c ? ES_SECTION_LEFT_ONLY : ES_SECTION_RIGHT_ONLY);
                /* 1 s holds whole periods of every tone but 31.5 Hz, whose odd half costs 0.1 dB */
                double got = sine_in(0, RATE, c, at->step[k].hz);
                if (off)
                    assert_near(got, 0.0, 0.0);
                else
                    assert_near(es_db(got), -14.0 + at->step[k].level_db, 0.11);
            }
        }
    }
    es_programme_sound_destroy(s);
}

/* No step between samples larger than a tone of that strength can make, at every boundary of the side. */
static void edges_do_not_click(void **state)
{
    (void)state;
    take("cassette");
    es_programme_sound *s = new_sound(0, -12.0);
    double reference = es_amplitude(-12.0);
    for (size_t i = 0; i < programme.side[0].section_count; i++) {
        const es_programme_section *at = &programme.side[0].section[i];
        for (size_t k = 0; k < at->step_count && at->step[k].hz > 0.0; k++) {
            double from = es_programme_step_s(&programme, 0, i, k);
            double peak = reference * es_amplitude(at->step[k].level_db);
            double before = k ? reference * es_amplitude(at->step[k - 1].level_db) : 0.0;
            double hz = fmax(at->step[k].hz, k ? at->step[k - 1].hz : 0.0);
            size_t frames = render(s, from - 0.01, 0.02);
            for (size_t n = 1; n < frames; n++)
                for (size_t c = 0; c < 2; c++) {
                    double step = fabs((double)sound[2 * n + c] - (double)sound[2 * n - 2 + c]);
                    assert_true(step <= fmax(peak, before) * (ES_TWO_PI * hz / RATE + 0.01));
                }
            assert_near((double)sound[2 * (size_t)(0.01 * RATE)], 0.0, 1e-3 * peak);
        }
    }
    es_programme_sound_destroy(s);
}

static void silence_is_silent(void **state)
{
    (void)state;
    take("cassette-short");
    es_programme_sound *s = new_sound(1, -12.0);
    es_section_times t = es_programme_times(&programme, 1, section_named("silence"));
    size_t frames = render(s, t.body_s, t.end_s - t.body_s);
    for (size_t i = 0; i < 2 * frames; i++)
        assert_true(sound[i] == 0.0f);
    frames = render(s, es_programme_side_s(&programme, 1), 1.0);
    for (size_t i = 0; i < 2 * frames; i++)
        assert_true(sound[i] == 0.0f);
    es_programme_sound_destroy(s);
}

/* The markers of a whole side, found again, each where it belongs. */
static void markers_say_what_follows(void **state)
{
    (void)state;
    take("cassette-short");
    for (size_t side = 0; side < 2; side++) {
        es_programme_sound *s = new_sound(side, -12.0);
        es_marker_finder *finder;
        es_marker_find f[32];
        assert_int_equal(es_marker_finder_create(RATE, &finder), ES_OK);
        for (int64_t left = es_programme_sound_length(s); left > 0; left -= RATE) {
            es_programme_sound_render(s, sound, RATE);
            es_marker_finder_push(finder, sound, sound + 1, 2, RATE);
        }
        es_marker_finder_finish(finder);
        size_t count = es_marker_finder_take(finder, f, 32);
        assert_int_equal(count, programme.side[side].section_count - 1);
        for (size_t i = 0; i < count; i++) {
            assert_int_equal(f[i].code.programme, es_programme_id(&programme));
            assert_int_equal(f[i].code.side, side + 1);
            assert_int_equal(f[i].code.section, i + 1);
            assert_near(f[i].start_s, es_programme_times(&programme, side, i + 1).marker_s, 0.001);
        }
        es_marker_finder_destroy(finder);
        es_programme_sound_destroy(s);
    }
}

/* Both sides of the reading know the broadband sound: what is rendered is the sum of the sines told. */
static void the_broadband_sound_is_the_sum_it_says(void **state)
{
    (void)state;
    take("cassette");
    size_t count = es_broadband_count(programme.broad_low_hz, programme.broad_high_hz);
    es_programme_sound *s = new_sound(0, -12.0);
    es_section_times t = es_programme_times(&programme, 0, section_named("azimuth-broadband"));
    double gain = es_amplitude(-12.0 - 20.0) * sqrt(0.5), sum = 0.0, power = 0.0;
    int64_t first = llround(t.body_s * RATE);
    es_programme_sound_seek(s, first + 3 * RATE);
    es_programme_sound_render(s, sound, RATE);
    for (size_t i = 0; i < count; i++) {
        es_broadband_sine sine =
            es_broadband_at(programme.broad_low_hz, programme.broad_high_hz, i);
        assert_true(sine.hz >= 200 && sine.hz <= 16000 && sine.hz == floor(sine.hz));
        sum += sine.amplitude * sin(ES_TWO_PI * (sine.hz * 1234.0 / RATE + sine.turns));
        power += 0.5 * sine.amplitude * sine.amplitude;
        if (i % 50 == 0)
            assert_near(sine_in(0, RATE, 1, sine.hz), gain * sine.amplitude, 1e-7);
    }
    assert_near(power, 1.0, 1e-12);
    assert_near((double)sound[2 * 1234], gain * sum, 1e-6);
    for (size_t i = 0; i < RATE; i++)
        assert_true(sound[2 * i] == sound[2 * i + 1] && fabsf(sound[2 * i]) < 1.0f);
    es_programme_sound_destroy(s);
}

static void any_block_size_renders_the_same(void **state)
{
    (void)state;
    static float again[2 * 3000];
    take("cassette-short");
    es_programme_sound *s = new_sound(0, -12.0);
    double from = es_programme_times(&programme, 0, 4).start_s;
    size_t frames = render(s, from, 20.0);
    alloc_probe_reset();
    es_programme_sound_seek(s, -5);
    assert_int_equal(es_programme_sound_tell(s), 0);
    es_programme_sound_seek(s, llround(from * RATE));
    for (size_t at = 0, n = 1; at < frames; at += n, n = n * 3 % 2999 + 1) {
        n = n < frames - at ? n : frames - at;
        es_programme_sound_render(s, again, n);
        assert_memory_equal(again, sound + 2 * at, 2 * n * sizeof *again);
    }
    assert_int_equal(alloc_probe_calls(), 0);
    es_programme_sound_destroy(s);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    take("cassette-short");
    es_programme_sound *s = NULL;
    es_programme_sound_config c = es_programme_sound_defaults();
    long n;
    ALLOC_SWEEP(n, es_programme_sound_create(&programme, &c, &s, NULL), s);
    assert_true(n >= 3);
    es_programme_sound_destroy(s);
    es_programme_sound_destroy(NULL);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(built_in_programmes_fit_their_tapes),
        cmocka_unit_test(the_middle_of_the_tape_is_a_speed_tone),
        cmocka_unit_test(everything_an_alignment_needs_is_there),
        cmocka_unit_test(every_programme_has_an_id_of_its_own),
        cmocka_unit_test(kinds_are_known_by_their_names),
        cmocka_unit_test(times_add_up),
        cmocka_unit_test(tells_what_stands_at_a_time),
        cmocka_unit_test(a_bad_programme_is_refused_in_words),
        cmocka_unit_test(the_place_of_what_is_refused_is_told),
        cmocka_unit_test(unusable_settings_are_refused_in_words),
        cmocka_unit_test(tones_have_their_levels),
        cmocka_unit_test(edges_do_not_click),
        cmocka_unit_test(silence_is_silent),
        cmocka_unit_test(markers_say_what_follows),
        cmocka_unit_test(the_broadband_sound_is_the_sum_it_says),
        cmocka_unit_test(any_block_size_renders_the_same),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("task/programme", tests, NULL, NULL);
}
