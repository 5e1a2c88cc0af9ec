/* The system and its places, over the sound system that is played from a script. */
#include "cm.h"

#include "alloc_probe.h"
#include "device/fake.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static es_fake *fake;

static es_sound *new_sound(const char *script)
{
    es_sound *s;
    es_error e = {0};
    if (es_fake_open(script, &s, &fake, &e) != ES_OK)
        fail_msg("%s", e.text);
    return s;
}

static const char cards[] = "# two cards\n"
                            "place 2 2 48000 Card: Line (hw:1,0)\n"
                            "place 1 0 44100 Card: Microphone (hw:1,1)\n"
                            "place 0 2 44100 Loudspeaker\n"
                            "tone 3150 0.5\n";

static void lists_the_places(void **state)
{
    (void)state;
    es_sound *s = new_sound(cards);
    const es_place *p = es_sound_place(s, 0);
    assert_string_equal(p->name, "Card: Line (hw:1,0)");
    assert_int_equal(p->inputs, 2);
    assert_true(p->first_in && p->first_out);
    p = es_sound_place(s, 1);
    assert_near(p->listed_rate_hz, 44100.0, 0.0);
    assert_true(!p->first_in && !p->first_out);
    assert_int_equal(es_sound_place(s, 2)->inputs, 0);
    assert_null(es_sound_place(s, 3));
    es_sound_close(s);
}

static const char *name_found(const es_sound *s, const char *name, int with_inputs, es_error *e)
{
    const es_place *p;
    *e = (es_error){0};
    if (es_sound_find(s, name, with_inputs, &p, e) == ES_OK)
        return p->name;
    assert_null(p);
    assert_int_equal(e->status, ES_ERR_DEVICE);
    return NULL;
}

static void finds_by_the_whole_name_or_a_part_that_one_has(void **state)
{
    (void)state;
    es_error e;
    es_sound *s = new_sound(cards);
    assert_string_equal(name_found(s, "Loudspeaker", 0, &e), "Loudspeaker");
    assert_string_equal(name_found(s, "microPHONE", 1, &e), "Card: Microphone (hw:1,1)");
    assert_string_equal(name_found(s, "card", 0, &e), "Card: Line (hw:1,0)");
    assert_string_equal(name_found(s, "", 1, &e), "Card: Line (hw:1,0)");
    assert_null(name_found(s, "card", 1, &e));
    assert_string_equal(e.code, "several-devices");
    assert_string_equal(e.text,
                        "Several sound inputs are called like \"card\": \"Card: Line "
                        "(hw:1,0)\", \"Card: Microphone (hw:1,1)\"; give more of the name.");
    assert_null(name_found(s, "tuner", 0, &e));
    assert_string_equal(e.code, "no-such-device");
    assert_string_equal(e.text, "No sound output is called \"tuner\"; there are: \"Card: Line "
                                "(hw:1,0)\", \"Loudspeaker\".");
    assert_null(name_found(s, "Loudspeaker", 1, &e)); /* it has no input */
    es_sound_close(s);
}

/* A whole name is that place even when it is a part of another name. */
static void a_whole_name_goes_before_parts(void **state)
{
    (void)state;
    es_error e;
    es_sound *s = new_sound("place 2 0 48000 line 2\nplace 2 0 48000 line\nplace 2 0 48000 Line\n");
    assert_string_equal(name_found(s, "line", 1, &e), "line");
    assert_string_equal(name_found(s, "Line", 1, &e), "Line");
    assert_string_equal(name_found(s, "line 2", 1, &e), "line 2");
    assert_null(name_found(s, "lin", 1, &e));
    es_sound_close(s);
}

static void says_when_there_is_nothing(void **state)
{
    (void)state;
    es_error e;
    es_sound *s = new_sound("");
    assert_null(es_sound_place(s, 0));
    assert_null(name_found(s, "", 1, &e));
    assert_string_equal(e.code, "no-input");
    assert_null(name_found(s, "x", 0, &e));
    assert_string_equal(e.code, "no-output");
    es_sound_close(s);
}

static void many_long_names_fit_the_sentence(void **state)
{
    (void)state;
    char script[2000] = "";
    es_error e;
    for (int i = 0; i < 8; i++)
        snprintf(script + strlen(script), sizeof script - strlen(script),
                 "place 2 0 48000 %c a sound card whose maker is proud of a very long name\n",
                 'a' + i);
    es_sound *s = new_sound(script);
    assert_null(name_found(s, "card", 1, &e));
    assert_non_null(strstr(e.text, "...; give more of the name."));
    es_sound_close(s);
}

/* A sine of peak 0.5 has the rms 0.5 / sqrt 2; the counter of 0.3 s stays below 14400 / 2^23. */
static void listens_to_an_input(void **state)
{
    (void)state;
    es_error e = {0};
    es_level level;
    es_sound *s = new_sound(cards);
    assert_int_equal(es_sound_listen(s, "Line", 0.3, &level, &e), ES_OK);
    assert_int_equal(level.channels, 2);
    assert_near(level.rate_hz, 48000.0, 0.0);
    assert_near(level.seconds, 0.3, 1e-9);
    assert_near(level.peak_fs[0], 0.5, 1e-3);
    assert_near(level.rms_fs[0], 0.5 / sqrt(2.0), 1e-3);
    assert_true(level.peak_fs[1] > 0.0 && level.peak_fs[1] <= 14400.0 / 8388608.0);
    assert_true(isnan(level.peak_fs[2]) && isnan(level.rms_fs[2]));
    assert_int_equal(es_fake_streams(fake), 0);
    assert_int_equal(es_sound_listen(s, "Microphone", 0.3, &level, &e), ES_OK);
    assert_int_equal(level.channels, 1);
    assert_int_equal(es_sound_listen(s, "Line", 0.0, &level, &e), ES_ERR_ARG);
    assert_int_equal(es_sound_listen(s, "Line", (double)NAN, &level, &e), ES_ERR_ARG);
    es_sound_close(s);
}

static void a_silent_input_has_no_level(void **state)
{
    (void)state;
    es_error e = {0};
    es_level level;
    es_sound *s = new_sound("place 2 0 48000 line\nat 0 silent\n");
    es_fake_run(fake, 0.1);
    double before = es_fake_now_s(fake);
    assert_int_equal(es_sound_listen(s, "line", 0.3, &level, &e), ES_OK);
    assert_true(isnan(level.peak_fs[0]));
    assert_near(level.seconds, 0.0, 0.0);
    assert_true(es_fake_now_s(fake) - before <= 1.8);
    es_sound_close(s);
}

static void plays_a_file(void **state)
{
    (void)state;
    char path[] = "/tmp/es_fake_XXXXXX", script[200];
    float frames[2 * 960], out[2 * 2000];
    for (int i = 0; i < 2 * 960; i++)
        frames[i] = (float)(i + 1) / 4096.0f;
    int fd = mkstemp(path);
    assert_int_equal(write(fd, frames, sizeof frames), (ssize_t)sizeof frames);
    close(fd);
    snprintf(script, sizeof script, "place 2 0 48000 line\nraw %s\n", path);
    es_sound *s = new_sound(script);
    es_input *in;
    es_gap gap;
    assert_int_equal(es_input_open(s, "line", NULL, &in, NULL), ES_OK);
    assert_int_equal(es_input_start(in, NULL), ES_OK);
    es_fake_run(fake, 0.03);
    assert_int_equal(es_input_take(in, out, 2000, &gap), 1440);
    assert_memory_equal(out, frames, sizeof frames);
    for (int i = 2 * 960; i < 2 * 1440; i++)
        assert_true(out[i] == 0.0f); /* beyond its end */
    es_input_close(in);
    es_sound_close(s);
    unlink(path);
    es_error e = {0};
    assert_int_equal(es_fake_open(script, &s, &fake, &e), ES_ERR_IO);
    assert_null(s);
}

static void refuses_scripts_it_does_not_understand(void **state)
{
    (void)state;
    static const char *const scripts[] = {
        "plaice 2 0 48000 line",
        "place 2 0 48000",
        "only 44100",
        "at 1 unplug",
        "place 2 0 48000 line\nat 1 explode",
        "place 2 0 48000 line\nat -1 unplug",
        "place 2 0 48000 line\nat 1 lose",
        "place 2 0 48000 line\nat 1 lose 0",
        "place 2 0 48000 line\nat 1 unplug other",
        "tone 3150",
        "clock 20",
        "place 2 0 48000 line\nclock fast",
    };
    for (size_t i = 0; i < COUNT(scripts); i++) {
        es_sound *s;
        es_error e = {0};
        assert_int_equal(es_fake_open(scripts[i], &s, &fake, &e), ES_ERR_ARG);
        assert_string_equal(e.code, "script");
        assert_null(s);
        assert_null(fake);
    }
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_sound *s = NULL;
    es_level level;
    long n = 0;
    for (;; n++) {
        alloc_probe_fail_after(n);
        es_status status = es_fake_open(cards, &s, &fake, NULL);
        if (status == ES_OK)
            status = es_sound_listen(s, "Line", 0.1, &level, NULL);
        es_sound_close(s);
        s = NULL;
        assert_int_equal(alloc_probe_live(), 0);
        if (status == ES_OK)
            break;
        assert_int_equal(status, ES_ERR_NOMEM);
    }
    assert_true(n >= 7); /* fake, sound, list; input, stream, ring's three */
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lists_the_places),
        cmocka_unit_test(finds_by_the_whole_name_or_a_part_that_one_has),
        cmocka_unit_test(a_whole_name_goes_before_parts),
        cmocka_unit_test(says_when_there_is_nothing),
        cmocka_unit_test(many_long_names_fit_the_sentence),
        cmocka_unit_test(listens_to_an_input),
        cmocka_unit_test(a_silent_input_has_no_level),
        cmocka_unit_test(plays_a_file),
        cmocka_unit_test(refuses_scripts_it_does_not_understand),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("device/fake", tests, NULL, NULL);
}
