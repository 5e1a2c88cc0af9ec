/* Pair: delays and levels put in exactly, against those read frame by frame. */
#include "cm.h"

#include "alloc_sweep.h"
#include "evenspool/signal/pair.h"
#include "tone.h"

#include <string.h>

#define RATE 48000.0
#define LINES 300
#define MOST 48000

static float sound[2 * MOST];

/* Many sines of random phase, 150 Hz .. 15 kHz: their delay is exact whatever part of a sample it is. */
static void fill_broadband(double delay_s, double snr_db, double right_gain, size_t frames)
{
    uint64_t seed = 12345;
    double hz[LINES], phase[LINES], amplitude = 0.3 * sqrt(2.0 / LINES);
    for (int k = 0; k < LINES; k++) {
        hz[k] = 150.0 * pow(100.0, (k + test_uniform(&seed)) / LINES);
        phase[k] = test_uniform(&seed);
    }
    double noise = 0.3 * pow(10.0, -snr_db / 20.0);
    for (size_t i = 0; i < frames; i++) {
        double left = 0.0, right = 0.0, t = (double)i / RATE;
        for (int k = 0; k < LINES; k++) {
            left += amplitude * sin(TONE_TWO_PI * (hz[k] * t + phase[k]));
            right += amplitude * sin(TONE_TWO_PI * (hz[k] * (t - delay_s) + phase[k]));
        }
        sound[2 * i] = (float)(left + noise * test_gauss(&seed));
        sound[2 * i + 1] = (float)(right_gain * right + noise * test_gauss(&seed));
    }
}

static void fill_tone(double hz, double delay_s, double left, double right, size_t frames)
{
    for (size_t i = 0; i < frames; i++) {
        double t = (double)i / RATE;
        sound[2 * i] = (float)(left * sin(TONE_TWO_PI * hz * t));
        sound[2 * i + 1] = (float)(right * sin(TONE_TWO_PI * hz * (t - delay_s)));
    }
}

typedef struct series {
    size_t count;
    es_pair_reading at[200];
} series;

static series read_in_blocks(es_pair *pair, size_t frames, size_t block)
{
    series s = {0};
    for (size_t done = 0; done < frames;) {
        size_t take = frames - done < block ? frames - done : block;
        for (size_t used = 0; used < take;) {
            int ready;
            es_pair_reading r;
            const float *from = sound + 2 * (done + used);
            used += es_pair_push(pair, from, from + 1, 2, take - used, &r, &ready);
            if (ready)
                s.at[s.count++] = r;
        }
        done += take;
    }
    return s;
}

static series read_all(double expected_s, int opposed, size_t frames)
{
    es_pair *pair;
    assert_int_equal(es_pair_create(RATE, &pair), ES_OK);
    es_pair_expect(pair, expected_s, opposed);
    series s = read_in_blocks(pair, frames, 4096);
    es_pair_destroy(pair);
    return s;
}

/* Root mean square of what each single frame is off by. */
static double rms_error(const series *s, double delay_s)
{
    double sum = 0.0;
    for (size_t i = 0; i < s->count; i++)
        sum += pow(s->at[i].delay_s - delay_s, 2.0);
    return sqrt(sum / (double)s->count);
}

static void reads_delays_of_any_part_of_a_sample(void **state)
{
    (void)state;
    static const double delays[] = {0.0, 3e-6, 10.417e-6, -37.7e-6, 80e-6, -80e-6};
    for (size_t k = 0; k < COUNT(delays); k++) {
        fill_broadband(delays[k], 40.0, 1.0, 24000);
        series s = read_all(0.0, 0, 24000);
        assert_true(s.count > 40);
        assert_near(rms_error(&s, delays[k]), 0.0, 0.03e-6);
        for (size_t i = 0; i < s.count; i++) {
            assert_true(s.at[i].agreement > 0.99);
            assert_true(isnan(s.at[i].tone_hz));
        }
        fill_broadband(delays[k], 20.0, 1.0, 24000);
        s = read_all(0.0, 0, 24000);
        assert_near(rms_error(&s, delays[k]), 0.0, 0.3e-6);
    }
}

static void reads_a_reversed_channel_when_told_that_it_is(void **state)
{
    (void)state;
    fill_broadband(21e-6, 40.0, -1.0, 24000);
    series s = read_all(0.0, 1, 24000);
    assert_near(rms_error(&s, 21e-6), 0.0, 0.03e-6);
    assert_true(s.at[10].agreement > 0.99 && s.at[10].sum_share < 0.2);
}

static void unrelated_channels_agree_on_nothing(void **state)
{
    (void)state;
    uint64_t seed = 77;
    for (size_t i = 0; i < 2 * 24000; i++)
        sound[i] = (float)(0.2 * test_gauss(&seed));
    series s = read_all(0.0, 0, 24000);
    double most = 0.0;
    for (size_t i = 0; i < s.count; i++)
        most = fmax(most, s.at[i].agreement);
    assert_true(s.count > 40 && most < 0.3);
}

/* A tone stays within half a turn of what is expected: 10 kHz has turns of 100 us. */
static void a_tone_takes_the_turn_that_is_expected(void **state)
{
    (void)state;
    fill_tone(10000.0, 30e-6, 0.3, 0.3, 24000);
    series s = read_all(0.0, 0, 24000);
    assert_near(s.at[5].delay_s, 30e-6, 0.02e-6);
    assert_near(s.at[5].tone_hz, 10000.0, 3.0);
    s = read_all(110e-6, 0, 24000);
    assert_near(s.at[5].delay_s, 130e-6, 0.02e-6);
    s = read_all(-60e-6, 0, 24000);
    assert_near(s.at[5].delay_s, -70e-6, 0.02e-6);
}

/* A sine of peak A has the mean square A^2 / 2. */
static void reads_levels_of_tones(void **state)
{
    (void)state;
    static const double hz[] = {315.0, 1000.0, 3150.0, 10000.0};
    for (size_t k = 0; k < COUNT(hz); k++) {
        fill_tone(hz[k], 0.0, 0.5, 0.125, 24000);
        series s = read_all(0.0, 0, 24000);
        for (size_t i = 0; i < s.count; i++) {
            assert_near(10.0 * log10(s.at[i].power[0] / 0.125), 0.0, 0.02);
            assert_near(10.0 * log10(s.at[i].power[1] / s.at[i].power[0]), 20.0 * log10(0.25),
                        0.01);
        }
    }
}

/* |1 + e^(i a)| / 2 = |cos(a / 2)|: a quarter turn costs 3.01 dB (handbook arithmetic). */
static void the_sum_falls_as_the_cosine(void **state)
{
    (void)state;
    fill_tone(2500.0, 100e-6, 0.3, 0.3, 24000);
    series s = read_all(0.0, 0, 24000);
    assert_near(10.0 * log10(s.at[5].sum_share), -3.0103, 0.01);
}

static void silence_has_no_delay(void **state)
{
    (void)state;
    memset(sound, 0, sizeof sound);
    series s = read_all(0.0, 0, 9600);
    assert_true(s.count > 5);
    assert_true(isnan(s.at[0].delay_s) && s.at[0].power[0] == 0.0);
    for (size_t i = 0; i < 9600; i++)
        sound[2 * i] = 0.3f * (float)sin((double)i);
    s = read_all(0.0, 0, 9600);
    assert_true(isnan(s.at[5].delay_s) && s.at[5].power[0] > 0.04 && s.at[5].power[1] < 1e-12);
}

static void the_block_size_does_not_matter(void **state)
{
    (void)state;
    static const size_t blocks[] = {1, 7, 480, 24000};
    fill_broadband(12e-6, 30.0, 0.8, 24000);
    series first = {0};
    for (size_t k = 0; k < COUNT(blocks); k++) {
        es_pair *pair;
        assert_int_equal(es_pair_create(RATE, &pair), ES_OK);
        series s = read_in_blocks(pair, 24000, blocks[k]);
        es_pair_destroy(pair);
        if (k == 0)
            first = s;
        assert_int_equal(s.count, first.count);
        for (size_t i = 0; i < s.count; i++) {
            assert_memory_equal(&s.at[i].delay_s, &first.at[i].delay_s, sizeof(double));
            assert_memory_equal(s.at[i].power, first.at[i].power, 2 * sizeof(double));
        }
    }
}

static void samples_that_are_not_finite_count_as_nothing(void **state)
{
    (void)state;
    fill_broadband(12e-6, 40.0, 1.0, 24000);
    sound[9001] = (float)NAN;
    sound[9002] = (float)INFINITY;
    series s = read_all(0.0, 0, 24000);
    assert_near(s.at[s.count - 1].delay_s, 12e-6, 0.1e-6);
    assert_true(isfinite(s.at[8].power[0]));
}

static void create_refuses_and_survives_want_of_memory(void **state)
{
    (void)state;
    es_pair *pair;
    assert_int_equal(es_pair_create(7999.0, &pair), ES_ERR_ARG);
    assert_null(pair);
    assert_int_equal(es_pair_create((double)NAN, &pair), ES_ERR_ARG);
    long n;
    ALLOC_SWEEP(n, es_pair_create(RATE, &pair), pair);
    assert_true(n > 3);
    fill_broadband(0.0, 40.0, 1.0, 4800);
    alloc_probe_reset();
    read_in_blocks(pair, 4800, 480);
    es_pair_reset(pair);
    assert_int_equal(alloc_probe_calls(), 0);
    es_pair_destroy(pair);
    es_pair_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_delays_of_any_part_of_a_sample),
        cmocka_unit_test(reads_a_reversed_channel_when_told_that_it_is),
        cmocka_unit_test(unrelated_channels_agree_on_nothing),
        cmocka_unit_test(a_tone_takes_the_turn_that_is_expected),
        cmocka_unit_test(reads_levels_of_tones),
        cmocka_unit_test(the_sum_falls_as_the_cosine),
        cmocka_unit_test(silence_has_no_delay),
        cmocka_unit_test(the_block_size_does_not_matter),
        cmocka_unit_test(samples_that_are_not_finite_count_as_nothing),
        cmocka_unit_test(create_refuses_and_survives_want_of_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
