#include "cm.h"

#include "evenspool/signal/stereo.h"
#include "tone.h"

#define FRAMES 48000

static float sound[2][FRAMES];
static es_phasor phasors[2][FRAMES];

static es_stereo_figures compare(double tone_hz, double delay_s, double gain, double noise_rms)
{
    es_stereo stereo = {0};
    size_t count = 0;
    for (int c = 0; c < 2; c++) {
        test_tone t = {.rate_hz = 48000,
                       .tone_hz = tone_hz,
                       .amplitude = c ? 0.4 * gain : 0.4,
                       .delay_s = c ? delay_s : 0.0,
                       .noise_rms = noise_rms,
                       .seed = (uint64_t)c + 1};
        es_baseband *b;
        test_tone_fill(&t, 0, sound[c], 1, FRAMES);
        assert_int_equal(es_baseband_create(48000, &b), ES_OK);
        assert_int_equal(es_baseband_tune(b, tone_hz, 0.15), ES_OK);
        assert_int_equal(es_baseband_process(b, sound[c], 1, FRAMES, phasors[c], FRAMES, &count),
                         ES_OK);
        es_baseband_destroy(b);
    }
    es_stereo_push(&stereo, phasors[0], phasors[1], count);
    return es_stereo_figures_of(&stereo, tone_hz);
}

/* A delay of 5.4971 us is one minute of arc between cassette tracks 0.9 mm apart at 4.7625 cm/s
 * (d tan(theta) / v, worked by hand). */
static void reads_delay_and_level(void **state)
{
    (void)state;
    static const double delays_us[] = {0.0, 5.4971, -5.4971, 40.0, -75.0};
    for (size_t k = 0; k < COUNT(delays_us); k++) {
        es_stereo_figures f = compare(3150.0, 1e-6 * delays_us[k], 0.5, 0.0);
        assert_true(f.known && !f.opposed);
        assert_near(1e6 * f.delay_s, delays_us[k], 0.01);
        assert_near(f.level_ratio, 0.5, 1e-4);
    }
}

static void half_a_period_is_taken_for_reversed_polarity(void **state)
{
    (void)state;
    es_stereo_figures f = compare(3150.0, 5e-6, -1.0, 0.001);
    assert_true(f.known && f.opposed);
    assert_near(1e6 * f.delay_s, 5.0, 0.1);
}

static void a_dead_channel_is_not_compared(void **state)
{
    (void)state;
    es_stereo_figures f = compare(3150.0, 0.0, 0.001, 0.0);
    assert_false(f.known);
    assert_true(isnan(f.delay_s) && isnan(f.level_ratio));
    es_stereo none = {0};
    assert_false(es_stereo_figures_of(&none, 3150.0).known);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_delay_and_level),
        cmocka_unit_test(half_a_period_is_taken_for_reversed_polarity),
        cmocka_unit_test(a_dead_channel_is_not_compared),
    };
    return cmocka_run_group_tests_name("signal/stereo", tests, NULL, NULL);
}
