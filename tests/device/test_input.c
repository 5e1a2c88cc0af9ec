/* Inputs that lose sound, vanish, return, are busy or refuse a rate, at appointed times. */
#include "cm.h"

#include "alloc_probe.h"
#include "device/fake.h"

#include <math.h>
#include <string.h>

#define ROOM 4096
#define COUNTER 8388608

static es_fake *fake;
static es_sound *sound;

static es_input *start_with(const char *script, const es_input_settings *settings)
{
    es_error e = {0};
    es_input *in = NULL;
    if (es_fake_open(script, &sound, &fake, &e) != ES_OK ||
        es_input_open(sound, "line", settings, &in, &e) != ES_OK || es_input_start(in, &e) != ES_OK)
        fail_msg("%s", e.text);
    return in;
}

static void end(es_input *in)
{
    es_input_close(in);
    assert_int_equal(es_fake_streams(fake), 0);
    es_sound_close(sound);
}

/* What a listener sees over some time: it watches and takes every 20 ms. */
typedef struct heard {
    int64_t frames;
    int64_t breaks; /* of the counter in channel 2, that no gap told    */
    int64_t last;   /* counter of the last frame; -1: none yet          */
    size_t gaps;
    es_gap gap[16];
    int64_t at[16]; /* counter of the first frame after the gap         */
    double lost_at_s, back_at_s;
} heard;

static const heard nothing_heard = {.last = -1, .lost_at_s = (double)NAN, .back_at_s = (double)NAN};

static void note(heard *h, const es_gap *gap, const float *frames, size_t got)
{
    for (size_t i = 0; i < got; i++) {
        int64_t counter = (int64_t)((double)frames[2 * i + 1] * COUNTER);
        int told = i == 0 && gap->reasons;
        if (told && h->gaps < COUNT(h->gap)) {
            h->at[h->gaps] = counter;
            h->gap[h->gaps++] = *gap;
        }
        if (h->last >= 0 && counter != h->last + 1 && !told)
            h->breaks++;
        h->last = counter;
    }
    h->frames += (int64_t)got;
}

static void listen(es_input *in, heard *h, double seconds)
{
    static float frames[2 * ROOM];
    double until = es_fake_now_s(fake) + seconds;
    es_line_state before = es_input_watch(in);
    while (es_fake_now_s(fake) < until - 1e-9) {
        es_fake_run(fake, 0.02);
        es_line_state now = es_input_watch(in);
        if (before == ES_LINE_RUNNING && now == ES_LINE_LOST)
            h->lost_at_s = es_fake_now_s(fake);
        if (before == ES_LINE_LOST && now == ES_LINE_RUNNING)
            h->back_at_s = es_fake_now_s(fake);
        before = now;
        es_gap gap;
        int64_t frame = es_input_frame(in);
        for (size_t got; (got = es_input_take(in, frames, ROOM, &gap)) > 0;
             frame = es_input_frame(in)) {
            if (gap.reasons)
                assert_int_equal(gap.frame, frame);
            note(h, &gap, frames, got);
        }
    }
}

static void every_frame_comes_in_order(void **state)
{
    (void)state;
    es_input *in = start_with("place 2 0 44100 line\ntone 3150 0.5\n", NULL);
    es_line_facts facts = es_input_facts(in);
    assert_near(facts.rate_hz, 48000.0, 0.0); /* whatever the list tells */
    assert_int_equal(facts.channels, 2);
    assert_string_equal(facts.name, "line");
    heard h = nothing_heard;
    listen(in, &h, 10.0);
    assert_int_equal(h.frames, 480000);
    assert_int_equal(h.breaks, 0);
    assert_int_equal(h.gaps, 0);
    assert_int_equal(es_input_counts_now(in).frames, 480000);
    end(in);
}

static void an_overflow_that_was_told_is_a_gap_at_its_frame(void **state)
{
    (void)state;
    es_input *in = start_with("place 2 0 48000 line\nat 1 overflow\nat 1 lose 960\n", NULL);
    heard h = nothing_heard;
    listen(in, &h, 4.0);
    assert_int_equal(h.breaks, 0);
    assert_int_equal(h.gaps, 1);
    assert_int_equal(h.gap[0].reasons, ES_GAP_OVERFLOW);
    assert_int_equal(h.gap[0].frame, 48000);
    assert_int_equal(h.gap[0].lost, -1);
    assert_int_equal(h.at[0], 48960);
    assert_int_equal(es_input_counts_now(in).overflows, 1);
    assert_int_equal(h.frames, 4 * 48000 - 960);
    end(in);
}

/* 0.25 s vanish at 3 s; the gap covers the place, and its size is right. */
static void a_loss_without_a_word_is_found(void **state)
{
    (void)state;
    es_input *in = start_with("place 2 0 48000 line\nat 3 lose 12000\n", NULL);
    heard h = nothing_heard;
    listen(in, &h, 8.0);
    assert_int_equal(h.gaps, 1);
    assert_int_equal(h.gap[0].reasons, ES_GAP_SILENT);
    assert_true(h.gap[0].since_frame <= 144000);
    assert_true(h.gap[0].since_frame >= 144000 - 4800);
    assert_true(h.gap[0].frame > 144000 && h.gap[0].frame <= 144000 + 2 * 48000);
    assert_near((double)h.gap[0].lost, 12000.0, 480.0);
    assert_near((double)es_input_counts_now(in).silent, 12000.0, 480.0);
    assert_int_equal(h.breaks, 1); /* the loss itself, between since_frame and frame */
    end(in);
}

static void late_sound_is_not_lost(void **state)
{
    (void)state;
    es_input *in = start_with("place 2 0 48000 line\nat 2 stall 1\nat 6 stall 0.4\n", NULL);
    heard h = nothing_heard;
    listen(in, &h, 10.0);
    assert_int_equal(h.frames, 480000);
    assert_int_equal(h.breaks, 0);
    assert_int_equal(h.gaps, 0);
    assert_int_equal(es_input_facts(in).losses, 0);
    end(in);
}

static void a_device_that_is_pulled_out_is_lost_and_comes_back(void **state)
{
    (void)state;
    es_input *in = start_with("place 2 0 48000 line\nat 2 unplug\nat 7.5 plug\n", NULL);
    heard h = nothing_heard;
    listen(in, &h, 5.0);
    assert_near(h.lost_at_s, 2.02, 0.03);
    assert_int_equal(h.frames, 96000); /* all that had come is kept */
    assert_near(es_input_facts(in).lost_s, 3.0, 0.05);
    assert_int_equal(es_input_watch(in), ES_LINE_LOST);
    listen(in, &h, 7.0);
    assert_true(h.back_at_s >= 7.5 && h.back_at_s <= 8.6);
    assert_int_equal(h.gaps, 1);
    assert_int_equal(h.gap[0].reasons, ES_GAP_AWAY);
    assert_int_equal(h.gap[0].frame, 96000);
    assert_near((double)h.gap[0].lost, (double)(h.at[0] - 96000), 960.0);
    assert_int_equal(h.breaks, 0);
    assert_int_equal(es_input_facts(in).losses, 1);
    assert_near(es_input_facts(in).lost_s, 0.0, 0.0);
    end(in);
}

static void a_device_that_falls_silent_is_lost_within_two_seconds(void **state)
{
    (void)state;
    es_input *in = start_with("place 2 0 48000 line\nat 2 silent\nat 30 plug\n", NULL);
    heard h = nothing_heard;
    listen(in, &h, 20.0);
    assert_true(h.lost_at_s <= 4.0);
    assert_true(isnan(h.back_at_s)); /* it opens, but nothing comes: not back */
    listen(in, &h, 20.0);
    assert_true(h.back_at_s >= 30.0 && h.back_at_s <= 33.0);
    assert_int_equal(es_input_facts(in).losses, 1);
    assert_int_equal(h.gaps, 1);
    assert_near((double)h.gap[0].lost, (double)(h.at[0] - 96000), 960.0);
    end(in);
}

/* The other stream on the way to a new list is interrupted and says so. */
static void looking_again_for_one_interrupts_the_other(void **state)
{
    (void)state;
    es_input *in = start_with(
        "place 2 0 48000 line\nplace 2 0 48000 other\nat 2 unplug other\nat 20 plug other\n", NULL);
    es_input *other;
    assert_int_equal(es_input_open(sound, "other", NULL, &other, NULL), ES_OK);
    assert_int_equal(es_input_start(other, NULL), ES_OK);
    heard h = nothing_heard;
    for (int i = 0; i < 500; i++) {
        listen(in, &h, 0.06);
        es_input_watch(other);
    }
    assert_int_equal(es_input_watch(other), ES_LINE_RUNNING);
    assert_int_equal(h.breaks, 0);
    assert_true(h.gaps >= 1 && h.gaps <= 5); /* every 5 s at most */
    for (size_t i = 0; i < h.gaps; i++)
        assert_int_equal(h.gap[i].reasons, ES_GAP_AWAY);
    assert_int_equal(es_input_facts(in).losses, 0);
    assert_int_equal(es_input_facts(other).losses, 1);
    es_input_close(other);
    end(in);
}

/* Nobody watches while nothing comes: a second more of nothing is no loss either. */
static void a_program_that_was_halted_finds_its_sound(void **state)
{
    (void)state;
    es_input *in = start_with("place 2 0 48000 line\nat 2 stall 8.2\n", NULL);
    heard h = nothing_heard;
    listen(in, &h, 2.0);
    es_fake_run(fake, 8.0);
    assert_int_equal(es_input_watch(in), ES_LINE_RUNNING);
    listen(in, &h, 2.0);
    assert_int_equal(h.frames, 12 * 48000);
    assert_int_equal(h.breaks, 0);
    assert_int_equal(h.gaps, 0);
    end(in);
}

static void a_reader_that_tarries_too_long_is_told_what_it_missed(void **state)
{
    (void)state;
    es_input_settings settings = es_input_defaults();
    settings.ring_s = 1.0;
    es_input *in = start_with("place 2 0 48000 line\n", &settings);
    heard h = nothing_heard;
    es_fake_run(fake, 3.0);
    listen(in, &h, 1.0);
    es_input_counts counts = es_input_counts_now(in);
    assert_int_equal(counts.frames, 4 * 48000);
    assert_int_equal(counts.dropped, 3 * 48000 + 960 - 65536); /* the ring holds 2^16 */
    assert_int_equal(h.gaps, 1);
    assert_int_equal(h.gap[0].reasons, ES_GAP_FULL);
    assert_int_equal(h.gap[0].lost, counts.dropped);
    assert_int_equal(h.frames + counts.dropped, counts.frames);
    assert_int_equal(h.breaks, 0);
    end(in);
}

static void stopping_and_starting_is_a_gap(void **state)
{
    (void)state;
    es_input *in = start_with("place 2 0 48000 line\n", NULL);
    heard h = nothing_heard;
    listen(in, &h, 1.0);
    es_fake_run(fake, 0.1);
    es_input_stop(in);
    assert_int_equal(es_input_watch(in), ES_LINE_STOPPED); /* asked for: not lost */
    es_fake_run(fake, 2.0);
    assert_int_equal(es_input_start(in, NULL), ES_OK);
    listen(in, &h, 1.0);
    assert_int_equal(h.gaps, 1);
    assert_int_equal(h.gap[0].reasons, ES_GAP_AWAY);
    assert_int_equal(h.gap[0].frame, 52800); /* what was not taken before the stop came too */
    assert_int_equal(h.gap[0].lost, 96000);
    assert_int_equal(es_input_facts(in).losses, 0);
    end(in);
}

/* --- opening ------------------------------------------------------------------------------- */

static void open_fails(const char *script, const es_input_settings *settings, es_status status,
                       const char *code)
{
    es_input *in;
    es_error e = {0};
    assert_int_equal(es_fake_open(script, &sound, &fake, &e), ES_OK);
    es_fake_run(fake, 0.1);
    assert_int_equal(es_input_open(sound, "line", settings, &in, &e), status);
    assert_string_equal(e.code, code);
    assert_null(in);
    assert_int_equal(es_fake_streams(fake), 0);
    es_sound_close(sound);
}

static void says_why_an_input_can_not_be_used(void **state)
{
    (void)state;
    es_input_settings s = es_input_defaults();
    open_fails("place 2 0 48000 line\nat 0 busy\n", NULL, ES_ERR_DEVICE, "device-busy");
    open_fails("place 2 0 48000 line\nat 0 unplug\n", NULL, ES_ERR_DEVICE, "device-gone");
    open_fails("place 2 0 8000 line\nonly 22050\n", NULL, ES_ERR_DEVICE, "device-rate");
    s.rate_hz = 96000.0;
    open_fails("place 2 0 48000 line\nonly 48000\n", &s, ES_ERR_DEVICE, "device-rate");
    s.rate_hz = 0.0;
    s.channels = 4;
    open_fails("place 2 0 48000 line\n", &s, ES_ERR_DEVICE, "device-channels");
    s.channels = 9;
    open_fails("place 16 0 48000 line\n", &s, ES_ERR_ARG, "input-settings");
    s = es_input_defaults();
    s.ring_s = (double)NAN;
    open_fails("place 2 0 48000 line\n", &s, ES_ERR_ARG, "input-settings");
    open_fails("place 0 2 48000 line\n", NULL, ES_ERR_DEVICE, "no-input");
}

static void takes_another_rate_when_48000_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *script;
        double rate_hz;
    } cases[] = {{"place 2 0 48000 line\nonly 44100\n", 44100.0},
                 {"place 2 0 48000 line\nonly 96000\n", 96000.0},
                 {"place 2 0 32000 line\nonly 32000\n", 32000.0},
                 {"place 2 0 192000 line\n", 48000.0}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        es_input *in = start_with(cases[i].script, NULL);
        heard h = nothing_heard;
        listen(in, &h, 2.0);
        assert_near(es_input_facts(in).rate_hz, cases[i].rate_hz, 0.0);
        assert_near((double)h.frames, 2.0 * cases[i].rate_hz, 1.0);
        assert_int_equal(h.breaks, 0);
        end(in);
    }
}

static void opens_one_channel_only_where_there_is_one(void **state)
{
    (void)state;
    es_input *in = start_with("place 1 0 48000 line\ntone 1000 0.25\n", NULL);
    assert_int_equal(es_input_facts(in).channels, 1);
    end(in);
    in = start_with("place 32 0 48000 line\n", NULL);
    assert_int_equal(es_input_facts(in).channels, 2);
    end(in);
}

static void stamps_say_how_much_came_by_when(void **state)
{
    (void)state;
    es_input *in = start_with("place 2 0 48000 line\nclock 500\nat 12 lose 480\n", NULL);
    int64_t frames, when_ns, first, first_ns;
    assert_int_equal(es_input_stamp(in, &frames, &when_ns), 0);
    es_fake_run(fake, 2.0);
    assert_int_equal(es_input_stamp(in, &first, &first_ns), 1);
    assert_int_equal(first_ns, 2000000000);
    es_fake_run(fake, 8.0);
    assert_int_equal(es_input_stamp(in, &frames, &when_ns), 1);
    assert_int_equal(when_ns, 10000000000);
    assert_int_equal(frames - first, 8 * 48024); /* 500 ppm of 48000 are 24 */
    es_fake_run(fake, 8.0);
    assert_int_equal(es_input_stamp(in, &frames, &when_ns), 1);
    assert_int_equal(frames, 18 * 48024 - 480); /* what was lost did not come */
    end(in);
}

static void taking_never_allocates(void **state)
{
    (void)state;
    static float frames[2 * ROOM];
    es_input *in = start_with("place 2 0 48000 line\nat 0.5 overflow\n", NULL);
    es_gap gap;
    alloc_probe_reset();
    for (int i = 0; i < 50; i++) {
        es_fake_run(fake, 0.02); /* the callback's side */
        es_input_take(in, frames, ROOM, &gap);
    }
    assert_int_equal(alloc_probe_calls(), 0);
    end(in);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_frame_comes_in_order),
        cmocka_unit_test(an_overflow_that_was_told_is_a_gap_at_its_frame),
        cmocka_unit_test(a_loss_without_a_word_is_found),
        cmocka_unit_test(late_sound_is_not_lost),
        cmocka_unit_test(a_device_that_is_pulled_out_is_lost_and_comes_back),
        cmocka_unit_test(a_device_that_falls_silent_is_lost_within_two_seconds),
        cmocka_unit_test(looking_again_for_one_interrupts_the_other),
        cmocka_unit_test(a_program_that_was_halted_finds_its_sound),
        cmocka_unit_test(a_reader_that_tarries_too_long_is_told_what_it_missed),
        cmocka_unit_test(stopping_and_starting_is_a_gap),
        cmocka_unit_test(says_why_an_input_can_not_be_used),
        cmocka_unit_test(takes_another_rate_when_48000_is_refused),
        cmocka_unit_test(opens_one_channel_only_where_there_is_one),
        cmocka_unit_test(stamps_say_how_much_came_by_when),
        cmocka_unit_test(taking_never_allocates),
    };
    return cmocka_run_group_tests_name("device/input", tests, NULL, NULL);
}
