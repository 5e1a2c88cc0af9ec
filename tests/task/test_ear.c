#include "cm.h"

#include <stdlib.h>
#include <string.h>

#include "alloc_sweep.h"
#include "task/ear.h"
#include "tone.h"

#define RATE 48000.0
#define CHANNELS_MOST 8

/* What each channel carries: a tone and noise; tone_hz 0: only noise. */
typedef struct play {
    int channels;
    test_tone channel[CHANNELS_MOST];
    size_t at; /* frames played so far */
} play;

static test_tone tone_of(double hz, double noise_rms, uint64_t seed)
{
    return (test_tone){.rate_hz = RATE,
                       .tone_hz = hz,
                       .amplitude = hz > 0.0 ? 0.4 : 0.0,
                       .noise_rms = noise_rms,
                       .seed = seed};
}

static es_ear *ear_of(int channels, int channel)
{
    es_ear *e;
    es_ear_config config = {.rate_hz = RATE,
                            .channels = channels,
                            .channel = channel,
                            .low_hz = 290.0,
                            .high_hz = 0.4 * RATE};
    assert_int_equal(es_ear_create(&config, &e), ES_OK);
    return e;
}

static size_t frame_of(const es_ear *e)
{
    return (size_t)floor(es_ear_frame_s(e) * RATE + 0.5);
}

static size_t hear(es_ear *e, play *p, size_t frames, size_t block)
{
    size_t completed = 0, stride = (size_t)p->channels;
    float *room = malloc(block * stride * sizeof *room);
    for (size_t done = 0; done < frames; done += block) {
        size_t take = block < frames - done ? block : frames - done;
        for (size_t c = 0; c < stride; c++)
            test_tone_fill(&p->channel[c], p->at, room + c, stride, take);
        completed += es_ear_push(e, room, take);
        p->at += take;
    }
    free(room);
    return completed;
}

static size_t hear_frames(es_ear *e, play *p, size_t finder_frames)
{
    return hear(e, p, finder_frames * frame_of(e), 1000);
}

/* --- streaks ---------------------------------------------------------------------------------- */

static void three_frames_make_a_tone(void **state)
{
    (void)state;
    es_ear *e = ear_of(1, 0);
    play p = {1, {tone_of(3140.0, 1e-4, 1)}, 0};
    es_ear_pick pick;
    assert_near(es_ear_frame_s(e), 0.085, 0.006); /* some 85 ms, as the finder says */
    for (int i = 0; i < 3; i++) {
        assert_int_equal(es_ear_pick_now(e, &pick), 0);
        assert_int_equal(hear_frames(e, &p, 1), 1);
    }
    assert_int_equal(es_ear_pick_now(e, &pick), 1);
    assert_int_equal(pick.channel, 1);
    assert_string_equal(pick.why, "the only one");
    assert_near(pick.finding.hz, 3140.0, 1.0);
    assert_near(pick.finding.amplitude_fs, 0.4, 0.01);
    assert_int_equal(es_ear_last(e, 1).sound, ES_SOUND_TONE);
    es_ear_destroy(e);
}

/* A whole tone higher from frame to frame is music; 3 % is a deck that wows. */
static void a_jump_of_more_than_a_semitone_starts_anew(void **state)
{
    (void)state;
    static const struct {
        double then_hz;
        int still;
    } cases[] = {{3150.0 * 1.03, 1}, {3150.0 * 0.97, 1}, {3150.0 * 1.07, 0}, {3150.0 * 0.93, 0}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        es_ear *e = ear_of(1, 0);
        es_ear_pick pick;
        play p = {1, {tone_of(3150.0, 1e-4, 1)}, 0};
        hear_frames(e, &p, 2);
        p.channel[0].tone_hz = cases[i].then_hz;
        hear_frames(e, &p, 1);
        assert_int_equal(es_ear_pick_now(e, &pick), cases[i].still);
        hear_frames(e, &p, 2); /* two more of the new one make three alike in any case */
        assert_int_equal(es_ear_pick_now(e, &pick), 1);
        assert_near(pick.finding.hz, cases[i].then_hz, 2.0);
        es_ear_destroy(e);
    }
}

static void a_frame_without_the_tone_starts_anew(void **state)
{
    (void)state;
    es_ear *e = ear_of(1, 0);
    es_ear_pick pick;
    play p = {1, {tone_of(1000.0, 1e-4, 1)}, 0};
    hear_frames(e, &p, 2);
    p.channel[0].amplitude = 0.0;
    hear_frames(e, &p, 1);
    p.channel[0].amplitude = 0.4;
    hear_frames(e, &p, 2);
    assert_int_equal(es_ear_pick_now(e, &pick), 0);
    hear_frames(e, &p, 1);
    assert_int_equal(es_ear_pick_now(e, &pick), 1);
    es_ear_destroy(e);
}

static void restarting_forgets_what_was_heard(void **state)
{
    (void)state;
    es_ear *e = ear_of(1, 0);
    es_ear_pick pick;
    play p = {1, {tone_of(1000.0, 1e-4, 1)}, 0};
    hear_frames(e, &p, 3);
    hear(e, &p, frame_of(e) / 2, 500);
    es_ear_restart(e);
    assert_int_equal(es_ear_pick_now(e, &pick), 0);
    assert_int_equal(hear(e, &p, frame_of(e) - 1, 500), 0); /* the half frame is gone too */
    assert_int_equal(hear(e, &p, 1, 1), 1);
    es_ear_destroy(e);
}

static void only_tones_where_they_are_wanted_count(void **state)
{
    (void)state;
    es_ear *e = ear_of(1, 0);
    es_ear_pick pick;
    play p = {1, {tone_of(1000.0, 1e-4, 1)}, 0};
    es_ear_settle_on(e, 1, 2700.0, 3600.0);
    hear_frames(e, &p, 5);
    assert_int_equal(es_ear_pick_now(e, &pick), 0);
    es_ear_tally t = es_ear_tally_of(e);
    assert_int_equal(t.astray, 5);
    assert_near(t.astray_hz, 1000.0, 1.0);
    p.channel[0].tone_hz = 2710.0;
    hear_frames(e, &p, 3);
    assert_int_equal(es_ear_pick_now(e, &pick), 1);
    es_ear_destroy(e);
}

static void any_block_size_hears_the_same(void **state)
{
    (void)state;
    static const size_t blocks[] = {1, 7, 4096, 4097, 100000};
    es_finding first = {0};
    for (size_t i = 0; i < COUNT(blocks); i++) {
        es_ear *e = ear_of(2, 0);
        play p = {2, {tone_of(3000.0, 1e-3, 5), tone_of(3000.0, 2e-2, 6)}, 0};
        assert_int_equal(hear(e, &p, 4 * frame_of(e) + 100, blocks[i]), 4);
        es_finding found = es_ear_last(e, 2);
        if (i == 0)
            first = found;
        assert_true(found.hz == first.hz && found.snr_db == first.snr_db &&
                    found.rms_fs == first.rms_fs && found.amplitude_fs == first.amplitude_fs);
        es_ear_destroy(e);
    }
}

/* --- which channel ---------------------------------------------------------------------------- */

static es_ear_pick picked(play *p, int wanted)
{
    es_ear *e = ear_of(p->channels, wanted);
    es_ear_pick pick;
    hear_frames(e, p, 4);
    assert_int_equal(es_ear_pick_now(e, &pick), 1);
    es_ear_destroy(e);
    return pick;
}

/* Noise of 0.02 and 0.002 under a tone of 0.4: 23 and 43 dB (by hand: 20 log 0.2828 / rms). */
static void takes_the_cleaner_channel_and_says_by_how_much(void **state)
{
    (void)state;
    play right = {2, {tone_of(3150.0, 2e-2, 1), tone_of(3150.0, 2e-3, 2)}, 0};
    es_ear_pick pick = picked(&right, 0);
    assert_int_equal(pick.channel, 2);
    assert_near(pick.finding.snr_db, 43.0, 1.0);
    if (strcmp(pick.why, "the right channel is the cleaner by 20 dB") != 0 &&
        strcmp(pick.why, "the right channel is the cleaner by 19 dB") != 0 &&
        strcmp(pick.why, "the right channel is the cleaner by 21 dB") != 0)
        fail_msg("%s", pick.why);
    play left = {2, {tone_of(3150.0, 2e-3, 1), tone_of(3150.0, 2e-2, 2)}, 0};
    pick = picked(&left, 0);
    assert_int_equal(pick.channel, 1);
    assert_non_null(strstr(pick.why, "the left channel is the cleaner"));
}

static void takes_the_first_of_channels_that_are_alike(void **state)
{
    (void)state;
    play p = {2, {tone_of(3150.0, 2e-3, 1), tone_of(3150.0, 2e-3, 2)}, 0};
    es_ear_pick pick = picked(&p, 0);
    assert_int_equal(pick.channel, 1);
    assert_string_equal(pick.why, "the channels are alike; the first was taken");
}

/* A float file may carry a channel at a thousandth of the other, quite as clean: 20 log 1000 = 60 dB. */
static void takes_the_louder_of_channels_that_are_as_clean(void **state)
{
    (void)state;
    static const double noise_rms[] = {2e-3, 1e-5, 0.0};
    for (size_t i = 0; i < COUNT(noise_rms); i++) {
        test_tone loud = tone_of(3150.0, noise_rms[i], 1);
        test_tone soft = tone_of(3150.0, noise_rms[i] / 1000.0, 2);
        soft.amplitude /= 1000.0;
        play right = {2, {soft, loud}, 0}, left = {2, {loud, soft}, 0};
        es_ear_pick pick = picked(&right, 0);
        assert_int_equal(pick.channel, 2);
        assert_string_equal(pick.why, "the right channel is as clean and louder by 60 dB");
        pick = picked(&left, 0);
        assert_int_equal(pick.channel, 1);
        assert_string_equal(pick.why, "the left channel is as clean and louder by 60 dB");
    }
}

/* A decibel of difference is what any deck has, and loudness does not make up for noise. */
static void loudness_counts_only_when_clear_and_among_the_clean(void **state)
{
    (void)state;
    test_tone first = tone_of(3150.0, 2e-3, 1), louder = tone_of(3150.0, 2e-3 * 1.12, 2);
    louder.amplitude *= 1.12; /* 1 dB */
    play near = {2, {first, louder}, 0};
    es_ear_pick pick = picked(&near, 0);
    assert_int_equal(pick.channel, 1);
    assert_string_equal(pick.why, "the channels are alike; the first was taken");
    test_tone noisy = tone_of(3150.0, 4e-2, 3), soft = tone_of(3150.0, 2e-4, 4);
    soft.amplitude /= 10.0;
    play mixed = {3, {noisy, soft, first}, 0};
    pick = picked(&mixed, 0);
    assert_int_equal(pick.channel, 3);
    assert_string_equal(pick.why, "channel 3 is as clean and louder by 20 dB");
}

static void takes_the_only_channel_that_has_the_tone(void **state)
{
    (void)state;
    play right = {2, {tone_of(0.0, 0.1, 1), tone_of(3150.0, 5e-2, 2)}, 0};
    es_ear_pick pick = picked(&right, 0);
    assert_int_equal(pick.channel, 2);
    assert_string_equal(pick.why, "only the right channel carries the tone");
    play left = {2, {tone_of(3150.0, 5e-2, 1), tone_of(0.0, 1e-9, 2)}, 0};
    pick = picked(&left, 0);
    assert_int_equal(pick.channel, 1);
    assert_string_equal(pick.why, "only the left channel carries the tone");
}

static void takes_the_channel_that_was_asked_for(void **state)
{
    (void)state;
    play p = {2, {tone_of(3150.0, 5e-2, 1), tone_of(3150.0, 1e-4, 2)}, 0};
    es_ear_pick pick = picked(&p, 1);
    assert_int_equal(pick.channel, 1);
    assert_string_equal(pick.why, "as asked for");
}

static void waits_when_the_channel_asked_for_has_no_tone(void **state)
{
    (void)state;
    es_ear *e = ear_of(2, 1);
    es_ear_pick pick;
    play p = {2, {tone_of(0.0, 0.1, 1), tone_of(3150.0, 1e-4, 2)}, 0};
    hear_frames(e, &p, 6);
    assert_int_equal(es_ear_pick_now(e, &pick), 0);
    es_ear_destroy(e);
}

/* Eight channels, one far cleaner; and the reason reads like a person's. */
static void chooses_among_many_channels_in_plain_words(void **state)
{
    (void)state;
    play clean = {.channels = 8}, lone = {.channels = 8};
    for (int c = 0; c < 8; c++) {
        clean.channel[c] = tone_of(3150.0, c == 5 ? 1e-3 : 2e-2, 10u + (unsigned)c);
        lone.channel[c] = tone_of(c == 6 ? 3150.0 : 0.0, 1e-2, 30u + (unsigned)c);
    }
    es_ear_pick pick = picked(&clean, 0);
    assert_int_equal(pick.channel, 6);
    assert_non_null(strstr(pick.why, "channel 6 is the cleaner by"));
    pick = picked(&lone, 0);
    assert_int_equal(pick.channel, 7);
    assert_non_null(strstr(pick.why, "carries the tone"));
    if (strstr(pick.why, "the this"))
        fail_msg("\"%s\" is no English", pick.why);
}

/* Steps of under 1 dB each that add up: whichever is taken, "the first was taken" must be true. */
static void says_the_first_only_when_the_first_was_taken(void **state)
{
    (void)state;
    play p = {
        3,
        {tone_of(3150.0, 2.0e-2, 1), tone_of(3150.0, 1.83e-2, 1), tone_of(3150.0, 1.67e-2, 1)},
        0};
    es_ear_pick pick = picked(&p, 0);
    if (strstr(pick.why, "the first was taken") && pick.channel != 1)
        fail_msg("channel %d: \"%s\"", pick.channel, pick.why);
}

/* --- the tally -------------------------------------------------------------------------------- */

static void counts_silence_and_noise(void **state)
{
    (void)state;
    es_ear *e = ear_of(1, 0);
    play p = {1, {tone_of(0.0, 0.0, 1)}, 0};
    hear_frames(e, &p, 4);
    p.channel[0].noise_rms = 0.1;
    hear_frames(e, &p, 3);
    es_ear_tally t = es_ear_tally_of(e);
    assert_int_equal(t.frames, 7);
    assert_int_equal(t.silent, 4);
    assert_int_equal(t.other, 3);
    assert_int_equal(t.astray, 0);
    assert_int_equal(t.tones, 0);
    es_ear_destroy(e);
}

/* The loudest channel speaks: silence beside a noisy one is no silence. */
static void the_loudest_channel_is_counted(void **state)
{
    (void)state;
    es_ear *e = ear_of(2, 0);
    play p = {2, {tone_of(0.0, 0.0, 1), tone_of(0.0, 0.1, 2)}, 0};
    hear_frames(e, &p, 5);
    assert_int_equal(es_ear_tally_of(e).silent, 0);
    assert_int_equal(es_ear_tally_of(e).other, 5);
    es_ear_destroy(e);
    e = ear_of(2, 1); /* unless only the silent one was asked for */
    hear_frames(e, &p, 5);
    assert_int_equal(es_ear_tally_of(e).silent, 5);
    es_ear_destroy(e);
}

typedef struct chord {
    double hz[2];
} chord;

static size_t hear_chord(es_ear *e, const chord *k, size_t finder_frames)
{
    size_t count = finder_frames * frame_of(e);
    float *room = malloc(count * sizeof *room);
    for (size_t i = 0; i < count; i++)
        room[i] = (float)(0.3 * sin(TONE_TWO_PI * k->hz[0] * (double)i / RATE) +
                          0.28 * sin(TONE_TWO_PI * k->hz[1] * (double)i / RATE));
    size_t completed = es_ear_push(e, room, count);
    free(room);
    return completed;
}

/* Two tones that stay gather votes; chords that change vote each other down (majority vote of Boyer and
 * Moore 1981, from memory: what has no majority can end with any small count). */
static void a_lasting_pair_of_tones_is_told_from_chords(void **state)
{
    (void)state;
    static const chord lasting = {{1000.0, 1370.0}};
    static const chord song[] = {
        {{523.25, 830.6}}, {{698.46, 1108.7}}, {{783.99, 1244.5}}, {{440.0, 698.5}}};
    es_ear_pick pick;
    es_ear *e = ear_of(1, 0);
    hear_chord(e, &lasting, 12);
    assert_int_equal(es_ear_tally_of(e).tones, 12);
    assert_near(es_ear_tally_of(e).tones_hz, 1000.0, 1.0);
    assert_int_equal(es_ear_pick_now(e, &pick), 0);
    es_ear_destroy(e);
    e = ear_of(1, 0);
    for (size_t i = 0; i < 12; i++)
        hear_chord(e, &song[i % COUNT(song)], 1);
    assert_int_equal(es_ear_tally_of(e).frames, 12);
    assert_in_range(es_ear_tally_of(e).tones, 0, 2);
    assert_int_equal(es_ear_pick_now(e, &pick), 0);
    es_ear_destroy(e);
}

/* --- life ------------------------------------------------------------------------------------- */

static void refuses_a_rate_that_the_finder_refuses(void **state)
{
    (void)state;
    es_ear_config config = {.rate_hz = 4000.0, .channels = 1, .low_hz = 290.0, .high_hz = 1600.0};
    es_ear *e = (es_ear *)&config;
    assert_int_equal(es_ear_create(&config, &e), ES_ERR_ARG);
    assert_null(e);
    es_ear_destroy(NULL);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_ear_config config = {.rate_hz = RATE, .channels = 2, .low_hz = 290.0, .high_hz = 19200.0};
    es_ear *e = NULL;
    long n;
    ALLOC_SWEEP(n, es_ear_create(&config, &e), e);
    assert_true(n >= 4); /* itself, the finder, the frames, the channels */
    static float frames[2 * 48000];
    es_ear_push(e, frames, 48000);
    es_ear_restart(e);
    es_ear_settle_on(e, 1, 2700.0, 3600.0);
    assert_int_equal(alloc_probe_calls(), n);
    es_ear_destroy(e);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_frames_make_a_tone),
        cmocka_unit_test(a_jump_of_more_than_a_semitone_starts_anew),
        cmocka_unit_test(a_frame_without_the_tone_starts_anew),
        cmocka_unit_test(restarting_forgets_what_was_heard),
        cmocka_unit_test(only_tones_where_they_are_wanted_count),
        cmocka_unit_test(any_block_size_hears_the_same),
        cmocka_unit_test(takes_the_cleaner_channel_and_says_by_how_much),
        cmocka_unit_test(takes_the_first_of_channels_that_are_alike),
        cmocka_unit_test(takes_the_louder_of_channels_that_are_as_clean),
        cmocka_unit_test(loudness_counts_only_when_clear_and_among_the_clean),
        cmocka_unit_test(takes_the_only_channel_that_has_the_tone),
        cmocka_unit_test(takes_the_channel_that_was_asked_for),
        cmocka_unit_test(waits_when_the_channel_asked_for_has_no_tone),
        cmocka_unit_test(chooses_among_many_channels_in_plain_words),
        cmocka_unit_test(says_the_first_only_when_the_first_was_taken),
        cmocka_unit_test(counts_silence_and_noise),
        cmocka_unit_test(the_loudest_channel_is_counted),
        cmocka_unit_test(a_lasting_pair_of_tones_is_told_from_chords),
        cmocka_unit_test(refuses_a_rate_that_the_finder_refuses),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("task/ear", tests, NULL, NULL);
}
