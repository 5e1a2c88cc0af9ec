#include "cm.h"

#include "alloc_sweep.h"
#include "device/fake.h"

#include <math.h>
#include <string.h>

#define RATE 48000
#define HEARD_MOST (10 * RATE)

static es_fake *fake;
static es_sound *sound;
static float heard[HEARD_MOST], heard_right[HEARD_MOST];
static size_t heard_count;
static int channels_differ;

static void hear(void *who, const float *frames, size_t count, int channels)
{
    (void)who;
    for (size_t i = 0; i < count && heard_count < HEARD_MOST; i++) {
        const float *frame = frames + i * (size_t)channels;
        channels_differ |= channels == 2 && frame[0] != frame[1];
        heard_right[heard_count] = frame[channels - 1];
        heard[heard_count++] = frame[0];
    }
}

static es_output *new_output_as(const char *script, int stereo)
{
    es_output_settings settings = es_output_defaults();
    settings.stereo = stereo;
    es_error e = {0};
    es_output *o = NULL;
    heard_count = 0;
    channels_differ = 0;
    if (es_fake_open(script, &sound, &fake, &e) != ES_OK ||
        es_output_open(sound, "", &settings, &o, &e) != ES_OK)
        fail_msg("%s", e.text);
    es_fake_hear(fake, hear, NULL);
    return o;
}

static es_output *new_output(const char *script)
{
    return new_output_as(script, 0);
}

static void end(es_output *o)
{
    es_output_close(o);
    assert_int_equal(es_fake_streams(fake), 0);
    es_sound_close(sound);
}

static float tone(int64_t i)
{
    return (float)(0.5 * sin(6.283185307179586 * 440.0 * (double)i / RATE));
}

/* Keeps the room full. Returns the samples written so far. */
static int64_t feed(es_output *o, int64_t at)
{
    float samples[256];
    for (size_t room = es_output_room(o); room > 0; room = es_output_room(o)) {
        size_t count = room < 256 ? room : 256;
        for (size_t i = 0; i < count; i++)
            samples[i] = tone(at + (int64_t)i);
        assert_int_equal(es_output_write(o, samples, count), count);
        at += (int64_t)count;
    }
    return at;
}

static double largest_step(size_t from)
{
    double largest = 0.0;
    for (size_t i = from + 1; i < heard_count; i++)
        largest = fmax(largest, fabs((double)heard[i] - (double)heard[i - 1]));
    return largest;
}

static void plays_every_sample_on_both_channels(void **state)
{
    (void)state;
    es_output *o = new_output("place 0 2 44100 loud\n");
    assert_near(es_output_facts(o).rate_hz, 48000.0, 0.0);
    assert_int_equal(es_output_room(o), 4800);
    int64_t at = feed(o, 0);
    assert_int_equal(es_output_write(o, heard, 10), 0); /* no room */
    assert_int_equal(es_output_start(o, NULL), ES_OK);
    for (int i = 0; i < 100; i++) {
        es_fake_run(fake, 0.02);
        at = feed(o, at);
    }
    assert_int_equal(heard_count, 2 * RATE);
    for (size_t i = 0; i < heard_count; i++)
        assert_near((double)heard[i], (double)tone((int64_t)i), 0.0);
    assert_false(channels_differ);
    assert_int_equal(es_output_missed(o), 0);
    end(o);
}

static void left_and_right_stay_apart(void **state)
{
    (void)state;
    es_output *o = new_output_as("place 0 2 48000 pair\n", 1);
    float frames[2 * 480];
    int64_t at = 0;
    assert_int_equal(es_output_start(o, NULL), ES_OK);
    for (int i = 0; i < 100; i++) {
        for (int k = 0; k < 480; k++, at++) {
            frames[2 * k] = tone(at);
            frames[2 * k + 1] = at % 97 == 50 ? 0.25f : 0.0f;
        }
        assert_int_equal(es_output_waiting(o), 0);
        assert_int_equal(es_output_write(o, frames, 480), 480);
        assert_int_equal(es_output_waiting(o), 480);
        es_fake_run(fake, 0.01);
    }
    assert_int_equal(heard_count, RATE);
    for (size_t i = 0; i < heard_count; i++) {
        assert_near((double)heard[i], (double)tone((int64_t)i), 0.0);
        assert_near((double)heard_right[i], i % 97 == 50 ? 0.25 : 0.0, 0.0);
    }
    es_fake_run(fake, 0.1); /* dry: each fades from where it was, none clicks */
    assert_true(largest_step(RATE) < 0.0330);
    end(o);
}

static void left_and_right_want_two_channels(void **state)
{
    (void)state;
    es_error e = {0};
    es_output *o;
    es_output_settings settings = es_output_defaults();
    settings.stereo = 1;
    assert_int_equal(es_fake_open("place 0 1 48000 single\n", &sound, &fake, &e), ES_OK);
    assert_int_equal(es_output_open(sound, "", &settings, &o, &e), ES_ERR_DEVICE);
    assert_string_equal(e.code, "device-channels");
    assert_null(o);
    end(o);
}

/* 440 Hz of peak 0.5 moves by at most 0.5 x 2 pi 440 / 48000 = 0.029 a sample; a fade from 0.5
 * with 3 ms begins with 0.5 / 144 = 0.0035. A click would be up to 0.5. */
static void running_dry_and_setting_in_does_not_click(void **state)
{
    (void)state;
    es_output *o = new_output("place 0 2 48000 loud\n");
    int64_t at = feed(o, 0);
    assert_int_equal(es_output_start(o, NULL), ES_OK);
    for (int i = 0; i < 9; i++) {
        es_fake_run(fake, 0.1317); /* dry after 0.1 s */
        at = feed(o, at);
    }
    assert_true(largest_step(0) < 0.0330);
    assert_true(es_output_missed(o) > 8 * 1000 && es_output_missed(o) < 9 * 1600);
    assert_near((double)heard[4800 + 1400], 0.0, 1e-3); /* silence, not a held value */
    end(o);
}

static void silence_before_the_first_sound_is_not_missed(void **state)
{
    (void)state;
    es_output *o = new_output("place 0 1 48000 loud\n");
    assert_int_equal(es_output_facts(o).channels, 1);
    assert_int_equal(es_output_start(o, NULL), ES_OK);
    es_fake_run(fake, 1.0);
    assert_int_equal(es_output_missed(o), 0);
    assert_near(largest_step(0), 0.0, 0.0);
    end(o);
}

static void running_dry_in_the_sound_system_is_counted(void **state)
{
    (void)state;
    es_output *o = new_output("place 0 2 48000 loud\nat 0.5 overflow\n");
    assert_int_equal(es_output_start(o, NULL), ES_OK);
    es_fake_run(fake, 0.5);
    assert_int_equal(es_output_ran_dry(o), 0);
    es_fake_run(fake, 0.5);
    assert_int_equal(es_output_ran_dry(o), 1);
    end(o);
}

static void what_is_old_when_it_returns_is_not_played(void **state)
{
    (void)state;
    es_output *o = new_output("place 0 2 48000 loud\nat 1 unplug\nat 3 plug\n");
    int64_t at = 0;
    size_t broken_off = 0;
    double lost_s = (double)NAN, back_s = (double)NAN;
    assert_int_equal(es_output_start(o, NULL), ES_OK);
    for (int i = 0; i < 250; i++) {
        es_fake_run(fake, 0.02);
        es_line_state now = es_output_watch(o);
        if (now == ES_LINE_LOST && isnan(lost_s))
            lost_s = es_fake_now_s(fake), broken_off = heard_count;
        if (now == ES_LINE_RUNNING && !isnan(lost_s) && isnan(back_s)) {
            back_s = es_fake_now_s(fake);
            assert_int_equal(es_output_room(o), 4800);
        }
        if (now == ES_LINE_RUNNING)
            at = feed(o, at);
    }
    assert_near(lost_s, 1.02, 0.03);
    assert_true(back_s >= 3.0 && back_s <= 4.1);
    assert_true(heard_count > broken_off + RATE / 2);
    assert_near((double)heard[broken_off], 0.0, 0.0);
    assert_true(largest_step(broken_off) < 0.0330);
    end(o);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_error e = {0};
    es_output *o = NULL;
    assert_int_equal(es_fake_open("place 0 2 48000 loud\n", &sound, &fake, &e), ES_OK);
    long n;
    ALLOC_SWEEP(n, es_output_open(sound, "loud", NULL, &o, NULL), o);
    assert_int_equal(n, 5); /* output, stream, the ring's three */
    alloc_probe_reset();
    es_output_settings bad = es_output_defaults();
    bad.ahead_s = 0.0;
    es_output *none;
    assert_int_equal(es_output_open(sound, "loud", &bad, &none, &e), ES_ERR_ARG);
    assert_null(none);
    end(o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plays_every_sample_on_both_channels),
        cmocka_unit_test(left_and_right_stay_apart),
        cmocka_unit_test(left_and_right_want_two_channels),
        cmocka_unit_test(running_dry_and_setting_in_does_not_click),
        cmocka_unit_test(silence_before_the_first_sound_is_not_missed),
        cmocka_unit_test(running_dry_in_the_sound_system_is_counted),
        cmocka_unit_test(what_is_old_when_it_returns_is_not_played),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("device/output", tests, NULL, NULL);
}
