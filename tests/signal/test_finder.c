#include "cm.h"

#include <string.h>

#include "alloc_sweep.h"
#include "evenspool/signal/finder.h"
#include "tone.h"

static float sound[32768];

static es_finding look(double rate_hz, const double (*parts)[2], size_t count, double noise_rms)
{
    es_finder *f;
    uint64_t seed = 11;
    assert_int_equal(es_finder_create(rate_hz, &f), ES_OK);
    size_t frame = es_finder_frame(f);
    assert_true(frame <= COUNT(sound));
    for (size_t i = 0; i < frame; i++) {
        double x = noise_rms * test_gauss(&seed);
        for (size_t k = 0; k < count; k++)
            x += parts[k][1] * sin(TONE_TWO_PI * parts[k][0] * (double)i / rate_hz + (double)k);
        sound[i] = (float)x;
    }
    es_finding found = es_finder_look(f, sound, 1, 0.0, HUGE_VAL);
    es_finder_destroy(f);
    return found;
}

/* SNR by its definition: A^2 / 2 over sigma^2, sigma^2 spread over the whole band. */
static void finds_a_tone_and_its_snr(void **state)
{
    (void)state;
    static const double rates[] = {8000, 44100, 48000, 192000, 384000};
    static const double snrs_db[] = {5, 15, 20, 40, 60, 80};
    for (size_t r = 0; r < COUNT(rates); r++)
        for (size_t k = 0; k < COUNT(snrs_db); k++) {
            double tone[1][2] = {{3111.7, 0.4}};
            double noise = 0.4 / sqrt(2.0) * pow(10.0, -snrs_db[k] / 20.0);
            es_finding f = look(rates[r], (const double(*)[2])tone, 1, noise);
            assert_int_equal(f.sound, ES_SOUND_TONE);
            assert_near(f.hz, 3111.7, 1.5);
            assert_near(f.amplitude_fs, 0.4, snrs_db[k] < 10 ? 0.04 : 0.02);
            assert_near(f.snr_db, snrs_db[k], 1.0);
        }
}

static void harmonics_belong_to_their_tone(void **state)
{
    (void)state;
    static const double square[][2] = {{3150, 0.5}, {9450, 0.167}, {15750, 0.1}, {22050, 0.071}};
    static const double weak[][2] = {{1000, 0.1}, {2000, 0.05}, {3000, 0.4}};
    es_finding f = look(48000, square, COUNT(square), 1e-4);
    assert_int_equal(f.sound, ES_SOUND_TONE);
    assert_near(f.hz, 3150, 1.0);
    f = look(48000, weak, COUNT(weak), 1e-4);
    assert_int_equal(f.sound, ES_SOUND_TONE);
    assert_near(f.hz, 1000, 1.0);
}

static void tells_tones_from_a_tone(void **state)
{
    (void)state;
    static const double far[][2] = {{3150, 0.3}, {1000, 0.3}};
    static const double near_by[][2] = {{3150, 0.3}, {3000, 0.3}};
    static const double hum[][2] = {{3150, 0.3}, {50, 0.3}, {100, 0.2}};
    static const double faint[][2] = {{3150, 0.3}, {1000, 0.05}};
    assert_int_equal(look(48000, far, 2, 1e-4).sound, ES_SOUND_TONES);
    assert_int_equal(look(48000, near_by, 2, 1e-4).sound, ES_SOUND_TONES);
    assert_int_equal(look(48000, hum, 3, 1e-4).sound, ES_SOUND_TONE);
    assert_int_equal(look(48000, faint, 2, 1e-4).sound, ES_SOUND_TONE);
}

static void noise_and_silence_are_no_tones(void **state)
{
    (void)state;
    assert_int_equal(look(48000, NULL, 0, 0.1).sound, ES_SOUND_OTHER);
    es_finding f = look(48000, NULL, 0, 1e-6);
    assert_int_equal(f.sound, ES_SOUND_SILENCE);
    assert_true(isnan(f.hz) && isnan(f.snr_db));
}

static void looking_never_allocates(void **state)
{
    (void)state;
    es_finder *f;
    assert_int_equal(es_finder_create(48000, &f), ES_OK);
    alloc_probe_reset();
    es_finder_look(f, sound, 2, 0.0, HUGE_VAL);
    assert_int_equal(alloc_probe_calls(), 0);
    es_finder_destroy(f);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_finder *f = NULL;
    long n;
    ALLOC_SWEEP(n, es_finder_create(48000, &f), f);
    assert_true(n >= 6);
    es_finder_destroy(f);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_a_tone_and_its_snr),
        cmocka_unit_test(harmonics_belong_to_their_tone),
        cmocka_unit_test(tells_tones_from_a_tone),
        cmocka_unit_test(noise_and_silence_are_no_tones),
        cmocka_unit_test(looking_never_allocates),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("signal/finder", tests, NULL, NULL);
}
