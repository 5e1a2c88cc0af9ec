/* The device floor on a real sound server (test_device_sound.sh starts it and sets the environment):
 * what is played into "cable" comes out of "cable_in". */
#include "cm.h"

#include "device/device.h"

#include <errno.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define RATE 48000
#define TONE_HZ 3150.0 /* IEC 60386: the frequency of a flutter measurement */
#define COUNTER 8388608
#define PLAYED (30 * RATE)
#define TRIES 3         /* a machine that stands still starves whoever plays or hears             */
#define PATIENCE_S 30.0 /* for what must come                                                     */
#define TOLD_MOST_S 5.0 /* 2 s, and a busy machine                                                */
#define ROOM 4096

static double now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void wait_s(double seconds)
{
    struct timespec left = {.tv_nsec = (long)(seconds * 1e9)};
    nanosleep(&left, NULL);
}

/* A function of audio.sh, or any command. */
static void shell(const char *command)
{
    char line[600];
    snprintf(line, sizeof line, ". \"$AUDIO_TOOLS\"; %s", command);
    if (system(line) != 0)
        fail_msg("%s failed", command);
}

static es_sound *open_sound(void)
{
    es_sound *s;
    es_error e = {0};
    if (es_sound_open(&s, &e) != ES_OK)
        fail_msg("%s", e.text);
    return s;
}

static es_input *open_input(es_sound *s, const char *name)
{
    es_input *in;
    es_error e = {0};
    if (es_input_open(s, name, NULL, &in, &e) != ES_OK || es_input_start(in, &e) != ES_OK)
        fail_msg("%s", e.text);
    return in;
}

/* --- the sound ----------------------------------------------------------------------------- */

/* Frame k: left a sine, right its number; the numbers begin at 1 so that silence is known. */
static float left_at(int64_t k)
{
    return (float)(0.5 *
                   sin(6.283185307179586476925286766559 * fmod(TONE_HZ * (double)k / RATE, 1.0)));
}

static void write_sound(void)
{
    char path[500];
    snprintf(path, sizeof path, "%s/sound.raw", getenv("AUDIO_FOLDER"));
    FILE *f = fopen(path, "wb");
    for (int64_t k = 1; k <= PLAYED; k++) {
        float frame[2] = {left_at(k), (float)k / COUNTER};
        fwrite(frame, sizeof frame, 1, f);
    }
    assert_int_equal(fclose(f), 0);
}

static void play_sound(void)
{
    shell("pacat --playback -d cable --raw --format=float32le --rate=48000 --channels=2 "
          "--latency-msec=100 \"$AUDIO_FOLDER/sound.raw\" >/dev/null 2>&1 & "
          "echo $! >\"$AUDIO_FOLDER/player.pid\"");
}

static void stop_sound(void)
{
    shell("kill $(cat \"$AUDIO_FOLDER/player.pid\") 2>/dev/null; :");
}

/* --- a listener ---------------------------------------------------------------------------- */

typedef struct heard {
    int64_t frames, sounding;
    int64_t breaks; /* numbers that do not follow each other      */
    int64_t wrong;  /* left samples that are not those played     */
    int64_t last;   /* 0: none yet                                */
    int64_t gaps;
    es_gap gap; /* the last that we were away for, or the last */
} heard;

static void judge(heard *h, const float *frames, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        int64_t k = (int64_t)((double)frames[2 * i + 1] * COUNTER);
        if (k == 0)
            continue;
        h->breaks += h->last != 0 && k != h->last + 1;
        h->wrong += frames[2 * i] != left_at(k);
        h->last = k;
        h->sounding++;
    }
    h->frames += (int64_t)count;
}

static void take_all(es_input *in, heard *h)
{
    static float frames[2 * ROOM];
    es_gap gap;
    for (size_t got; (got = es_input_take(in, frames, ROOM, &gap)) > 0;) {
        if (gap.reasons) {
            h->gaps++;
            if (!(h->gap.reasons & ES_GAP_AWAY) || gap.reasons & ES_GAP_AWAY)
                h->gap = gap;
            h->last = 0;
        }
        judge(h, frames, got);
    }
}

/* Until so many frames of the sound have come, or time is up. */
static void listen(es_input *in, heard *h, int64_t frames, double most_s)
{
    double end = now_s() + most_s;
    while (h->sounding < frames && now_s() < end) {
        wait_s(0.02);
        es_input_watch(in);
        take_all(in, h);
    }
}

/* Seconds until the state is reached; NaN: not in time. */
static double await(es_input *in, es_line_state wanted, double most_s)
{
    double begin = now_s();
    while (now_s() - begin < most_s) {
        if (es_input_watch(in) == wanted)
            return now_s() - begin;
        wait_s(0.02);
    }
    return (double)NAN;
}

/* --- the tests ----------------------------------------------------------------------------- */

static void a_machine_without_sound_has_no_input(void **state)
{
    (void)state;
    char server[300];
    strncpy(server, getenv("PULSE_SERVER"), sizeof server - 1);
    setenv("PULSE_SERVER", "unix:/nowhere", 1);
    es_sound *s = open_sound();
    setenv("PULSE_SERVER", server, 1);
    es_input *in;
    es_error e = {0};
    assert_null(es_sound_place(s, 0));
    assert_int_equal(es_input_open(s, "cable_in", NULL, &in, &e), ES_ERR_DEVICE);
    assert_string_equal(e.code, "no-input");
    assert_int_equal(es_sound_look_again(s, &e), ES_OK); /* the server has been started */
    assert_non_null(es_sound_place(s, 0));
    es_sound_close(s);
}

static void the_sound_libraries_print_nothing(void **state)
{
    (void)state;
    char printed[2000];
    FILE *file = tmpfile();
    fflush(stderr);
    int kept = dup(STDERR_FILENO);
    dup2(fileno(file), STDERR_FILENO);
    es_sound *s = open_sound();
    es_level level;
    es_sound_listen(s, "cable_in", 0.1, &level, NULL);
    es_sound_listen(s, "cable_out", 0.1, &level, NULL); /* refused, see below */
    es_sound_close(s);
    dup2(kept, STDERR_FILENO);
    close(kept);
    rewind(file);
    printed[fread(printed, 1, sizeof printed - 1, file)] = '\0';
    fclose(file);
    assert_string_equal(printed, "");
}

static void finds_the_cable_and_says_what_it_can_not_open(void **state)
{
    (void)state;
    es_sound *s = open_sound();
    const es_place *p;
    es_input *in;
    es_error e = {0};
    assert_int_equal(es_sound_find(s, "", 1, &p, NULL), ES_OK);
    assert_string_equal(p->name, "default");
    assert_int_equal(es_sound_find(s, "able_IN", 1, &p, NULL), ES_OK);
    assert_string_equal(p->name, "cable_in");
    assert_int_equal(es_sound_find(s, "cable", 1, &p, &e), ES_ERR_DEVICE);
    assert_string_equal(e.code, "several-devices");
    e = (es_error){0};
    assert_int_equal(es_input_open(s, "cable_out", NULL, &in, &e), ES_ERR_DEVICE);
    assert_string_equal(e.code, "device-gone"); /* listed by the settings, but no source */
    es_sound_close(s);
}

/* What came in five seconds; a sample that is wrong is never the machine's fault. */
static heard hear_what_is_played(es_input *in, int64_t *dropped)
{
    heard h = {0};
    play_sound();
    listen(in, &h, 5 * RATE, PATIENCE_S);
    stop_sound();
    *dropped = es_input_counts_now(in).dropped;
    assert_near(es_input_facts(in).rate_hz, 48000.0, 0.0);
    assert_true(h.sounding >= 5 * RATE);
    assert_int_equal(h.wrong, 0);
    return h;
}

static void every_sample_comes_as_it_was_played(void **state)
{
    (void)state;
    heard h = {.breaks = 1};
    int64_t dropped = 0;
    for (int i = 0; i < TRIES && h.breaks + h.gaps + dropped > 0; i++) {
        es_sound *s = open_sound();
        es_input *in = open_input(s, "cable_in");
        h = hear_what_is_played(in, &dropped);
        es_input_close(in);
        es_sound_close(s);
    }
    print_message("captured %lld frames, %lld of the tone, %lld breaks, %lld samples wrong\n",
                  (long long)h.frames, (long long)h.sounding, (long long)h.breaks,
                  (long long)h.wrong);
    assert_int_equal(h.breaks, 0);
    assert_int_equal(h.gaps, 0);
    assert_int_equal(dropped, 0);
}

/* Peak of a sine 0.5, rms 0.5 / sqrt 2 = 0.3536. Some tries: a busy machine may starve the player. */
static void the_level_of_an_input_is_heard(void **state)
{
    (void)state;
    es_sound *s = open_sound();
    es_level level = {0};
    es_error e = {0};
    heard h = {0};
    play_sound();
    es_input *in = open_input(s, "cable_in");
    listen(in, &h, RATE / 10, PATIENCE_S);
    es_input_close(in);
    es_status status = ES_OK;
    for (int i = 0; i < 10 && status == ES_OK && !(fabs(level.rms_fs[0] - 0.3536) < 0.01); i++)
        status = es_sound_listen(s, "cable_in", 0.3, &level, &e);
    stop_sound();
    es_sound_close(s);
    assert_int_equal(status, ES_OK);
    assert_near(level.seconds, 0.3, 1e-6);
    assert_near(level.peak_fs[0], 0.5, 0.001);
    assert_near(level.rms_fs[0], 0.5 / sqrt(2.0), 0.01);
    assert_true(level.rms_fs[1] > 0.0 && level.rms_fs[1] < 0.1);
}

typedef struct passed_on {
    int64_t heard, wrong, dry;
} passed_on;

/* Played by our own output, to both channels, heard by our own input, for two seconds. */
static passed_on pass_on(void)
{
    static float frames[2 * ROOM];
    es_sound *s = open_sound();
    es_output *out;
    es_error e = {0};
    assert_int_equal(es_output_open(s, "cable_out", NULL, &out, &e), ES_OK);
    es_input *in = open_input(s, "cable_in");
    assert_int_equal(es_output_start(out, &e), ES_OK);
    int64_t written = 0, heard_from = 0, next = 0, wrong = 0;
    double end = now_s() + PATIENCE_S;
    while (heard_from <= 2 * RATE && now_s() < end) {
        for (float sample = left_at(written); es_output_write(out, &sample, 1) == 1;
             sample = left_at(written))
            written++;
        wait_s(0.01);
        es_output_watch(out);
        es_gap gap;
        for (size_t got; (got = es_input_take(in, frames, ROOM, &gap)) > 0;)
            for (size_t i = 0; i < got; i++) {
                if (!next && frames[2 * i] != left_at(1))
                    continue;
                next = next ? next : 1;
                heard_from++;
                wrong += frames[2 * i] != left_at(next) || frames[2 * i + 1] != left_at(next);
                next++;
            }
    }
    int64_t dry = es_output_missed(out) + es_output_ran_dry(out);
    es_output_close(out);
    es_input_close(in);
    es_sound_close(s);
    return (passed_on){heard_from, wrong, dry};
}

static void what_our_output_plays_our_input_hears(void **state)
{
    (void)state;
    passed_on p = {.wrong = 1};
    for (int i = 0; i < TRIES && p.wrong > 0 && p.dry == 0; i++)
        p = pass_on();
    print_message("own output: %lld heard, %lld wrong, ran dry %lld\n", (long long)p.heard,
                  (long long)p.wrong, (long long)p.dry);
    assert_true(p.heard > 2 * RATE);
    assert_true(p.wrong == 0 || p.dry > 0); /* a busy machine may let it run dry, but not unseen */
}

static void an_unplugged_device_is_told_and_goes_on_when_it_is_back(void **state)
{
    (void)state;
    es_sound *s = open_sound();
    double began = now_s();
    es_input *in = open_input(s, "cable_in"), *none;
    heard h = {0};
    play_sound();
    listen(in, &h, RATE, PATIENCE_S);
    assert_true(h.sounding >= RATE);
    shell("audio_unplug");
    double told = await(in, ES_LINE_LOST, PATIENCE_S);
    take_all(in, &h); /* what had come is kept */
    stop_sound();
    assert_true(told <= TOLD_MOST_S);
    es_error e = {0};
    assert_int_equal(es_input_open(s, "cable_in", NULL, &none, &e), ES_ERR_DEVICE);
    assert_string_equal(e.code, "device-gone");
    assert_true(isnan(await(in, ES_LINE_RUNNING, 2.5))); /* tried, but it is not there */
    shell("audio_plug");
    double back = await(in, ES_LINE_RUNNING, PATIENCE_S);
    print_message("unplugged: told after %.2f s; plugged in: going on after %.2f s\n", told, back);
    assert_true(back <= TOLD_MOST_S);
    int64_t before = h.sounding;
    play_sound();
    listen(in, &h, before + RATE, PATIENCE_S);
    stop_sound();
    assert_true(h.sounding >= before + RATE);
    assert_true(h.gap.reasons & ES_GAP_AWAY);
    double away = now_s() - began;
    assert_true((double)h.gap.lost > 2.0 * RATE && (double)h.gap.lost < away * RATE);
    assert_int_equal(h.wrong, 0);
    assert_int_equal(es_input_facts(in).losses, 1);
    es_input_close(in);
    es_sound_close(s);
}

/* The last test: nothing is there afterwards. */
static void a_sound_server_that_dies_is_told(void **state)
{
    (void)state;
    es_sound *s = open_sound();
    es_input *in = open_input(s, "cable_in");
    heard h = {0};
    double end = now_s() + PATIENCE_S;
    while (h.frames < RATE / 2 && now_s() < end)
        listen(in, &h, 1, 0.1);
    assert_true(h.frames > 0);
    shell("kill -9 $(cat \"$AUDIO_FOLDER/server.pid\")");
    double told = await(in, ES_LINE_LOST, PATIENCE_S);
    print_message("server killed: told after %.2f s\n", told);
    assert_true(told <= TOLD_MOST_S);
    es_input_watch(in);
    es_input_close(in);
    es_sound_close(s);
}

static int set_up(void **state)
{
    (void)state;
    if (!getenv("AUDIO_FOLDER") || !getenv("AUDIO_TOOLS"))
        return -1; /* start test_device_sound.sh instead */
    write_sound();
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_machine_without_sound_has_no_input),
        cmocka_unit_test(the_sound_libraries_print_nothing),
        cmocka_unit_test(finds_the_cable_and_says_what_it_can_not_open),
        cmocka_unit_test(every_sample_comes_as_it_was_played),
        cmocka_unit_test(the_level_of_an_input_is_heard),
        cmocka_unit_test(what_our_output_plays_our_input_hears),
        cmocka_unit_test(an_unplugged_device_is_told_and_goes_on_when_it_is_back),
        cmocka_unit_test(a_sound_server_that_dies_is_told),
    };
    return cmocka_run_group_tests_name("system/device_sound", tests, set_up, NULL);
}
