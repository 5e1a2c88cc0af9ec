#include "cm.h"

#include "alloc_sweep.h"
#include "evenspool/base/units.h"
#include "evenspool/signal/delay.h"
#include "tone.h"

#include <string.h>

#define RATE 48000
#define SINES 400
#define FRAMES (4 * RATE)

static float left[FRAMES], right[FRAMES];

/* Sound of many frequencies whose right channel is later by exactly delay_s: sines, no filter. */
typedef struct sound {
    double low_hz, high_hz, delay_s, gain, noise_rms;
} sound;

static void fill(const sound *s)
{
    uint64_t seed = 5;
    memset(left, 0, sizeof left);
    memset(right, 0, sizeof right);
    for (int k = 0; k < SINES; k++) {
        double hz = s->low_hz * pow(s->high_hz / s->low_hz, (k + test_uniform(&seed)) / SINES);
        double turn = ES_TWO_PI * hz / RATE, start = ES_TWO_PI * test_uniform(&seed);
        double lag = ES_TWO_PI * hz * s->delay_s;
        double re = cos(start), im = sin(start), c = cos(turn), d = sin(turn);
        for (size_t i = 0; i < FRAMES; i++) {
            left[i] += (float)(0.01 * re);
            right[i] += (float)(0.01 * s->gain * (re * cos(lag) + im * sin(lag)));
            double next = re * c - im * d;
            im = im * c + re * d;
            re = next;
        }
    }
    for (size_t i = 0; i < FRAMES && s->noise_rms > 0.0; i++) {
        left[i] += (float)(s->noise_rms * test_gauss(&seed));
        right[i] += (float)(s->noise_rms * test_gauss(&seed));
    }
}

static es_delay *new_delay(void)
{
    es_delay_config c = es_delay_defaults(RATE);
    es_delay *d;
    assert_int_equal(es_delay_create(&c, &d), ES_OK);
    return d;
}

static es_delay_figures read_all(size_t frames)
{
    es_delay *d = new_delay();
    es_delay_push(d, left, right, 1, frames);
    es_delay_figures f = es_delay_figures_of(d);
    es_delay_destroy(d);
    return f;
}

/* 5.4971 us: one minute of arc between cassette tracks 0.9 mm apart at 4.7625 cm/s (d tan(a) / v). */
static void reads_a_delay_without_losing_a_turn(void **state)
{
    (void)state;
    static const double delays_us[] = {0.0, 5.4971, -5.4971, 80.0, -80.0, 333.3, -1500.0};
    for (size_t k = 0; k < COUNT(delays_us); k++) {
        sound s = {300, 12500, 1e-6 * delays_us[k], 0.7, 1e-5};
        fill(&s);
        es_delay_figures f = read_all(FRAMES);
        assert_true(f.known && f.sure && !f.opposed);
        assert_near(1e6 * f.delay_s, delays_us[k], 0.05 + 3e-4 * fabs(delays_us[k]));
        assert_near(f.level_ratio, 0.7, 0.006);
        assert_true(f.rival < 0.5);
    }
}

/* 400 sines of peak 0.01 have an rms of 0.1414; noise 20 dB under them in both channels. */
static void the_truth_lies_within_its_uncertainty(void **state)
{
    (void)state;
    sound s = {300, 10000, 12.5e-6, 1.0, 0.01414};
    fill(&s);
    es_delay_figures f = read_all(FRAMES);
    assert_true(f.known && f.sure);
    assert_true(f.u_s > 1e-9 && f.u_s < 0.5e-6);
    assert_near(f.delay_s, 12.5e-6, 3.0 * f.u_s);
    assert_true(f.coherence > 0.5 && f.coherence < 1.0);
}

static void tells_reversed_polarity_from_delay(void **state)
{
    (void)state;
    sound s = {300, 12500, 30e-6, -1.0, 1e-3};
    fill(&s);
    es_delay_figures f = read_all(FRAMES);
    assert_true(f.known && f.sure && f.opposed);
    assert_near(1e6 * f.delay_s, 30.0, 0.05);
}

static void a_narrow_band_is_not_sure(void **state)
{
    (void)state;
    sound s = {6000, 6700, 40e-6, 1.0, 1e-4};
    fill(&s);
    es_delay_figures f = read_all(FRAMES);
    assert_true(!f.known || !f.sure);
}

static void channels_with_nothing_in_common_are_not_compared(void **state)
{
    (void)state;
    uint64_t seed = 3;
    for (int round = 0; round < 20; round++) {
        for (size_t i = 0; i < FRAMES; i++) {
            left[i] = (float)(0.1 * test_gauss(&seed));
            right[i] = (float)(0.1 * test_gauss(&seed));
        }
        for (size_t frames = RATE / 4; frames <= FRAMES; frames *= 4) {
            es_delay_figures f = read_all(frames);
            assert_false(f.known);
            assert_true(isnan(f.delay_s) && isnan(f.u_s) && isnan(f.level_ratio) && !f.sure);
        }
    }
}

static void a_dead_channel_is_not_compared(void **state)
{
    (void)state;
    sound s = {300, 12500, 0.0, 0.005, 1e-6};
    fill(&s);
    assert_false(read_all(FRAMES).known);
    memset(right, 0, sizeof right);
    assert_false(read_all(FRAMES).known);
    memset(left, 0, sizeof left);
    assert_false(read_all(FRAMES).known);
    assert_false(read_all(100).known);
}

/* A line: phase = -360 f t (definition of a delay). */
static void draws_phase_against_frequency(void **state)
{
    (void)state;
    sound s = {200, 16000, 10e-6, 1.0, 1e-5};
    es_delay_point at[ES_DELAY_POINTS_MOST];
    fill(&s);
    es_delay *d = new_delay();
    assert_int_equal(es_delay_curve(d, at, 3), 3);
    assert_true(isnan(at[0].phase_rad));
    es_delay_push(d, left, right, 1, FRAMES);
    size_t count = es_delay_curve(d, at, ES_DELAY_POINTS_MOST);
    assert_int_equal(count,
                     20); /* thirds of an octave, 200 Hz .. 16 kHz: all but the top two edges */
    for (size_t i = 1; i + 1 < count; i++) {
        assert_near(at[i].phase_rad, -ES_TWO_PI * at[i].hz * 10e-6, 0.06 * at[i].hz / 16000 + 0.01);
        assert_true(at[i].coherence > 0.97);
    }
    es_delay_destroy(d);
}

/* 10 kHz, period 100 us: 12.5 us late is -45 degrees, and so is 112.5 us. */
static void a_tone_sharpens_what_the_broad_sound_said(void **state)
{
    (void)state;
    es_delay_figures f = {.known = 1, .delay_s = 113.0e-6, .u_s = 1e-6, .sure = 1};
    es_delay_figures joined = es_delay_refine(&f, 10000.0, -ES_PI / 4.0, 0.001);
    assert_near(1e6 * joined.delay_s, 112.5, 0.001);
    assert_true(joined.sure && joined.u_s < 2e-8);
    f.opposed = 1;
    joined = es_delay_refine(&f, 10000.0, 3.0 * ES_PI / 4.0, 0.001);
    assert_near(1e6 * joined.delay_s, 112.5, 0.001);
    f.u_s = 30e-6;
    assert_false(es_delay_refine(&f, 10000.0, -ES_PI / 4.0, 0.001).sure);
    joined = es_delay_refine(&f, 10000.0, (double)NAN, 0.001);
    assert_true(joined.sure && joined.delay_s == f.delay_s);
    /* equal uncertainties: the mean; 1 kHz, 0.1 rad = 15.9 us */
    f = (es_delay_figures){.known = 1, .delay_s = 0.0, .u_s = 0.1 / (ES_TWO_PI * 1000.0)};
    assert_near(es_delay_refine(&f, 1000.0, -0.1, 0.1).delay_s, 0.05 / (ES_TWO_PI * 1000.0), 1e-12);
}

static void any_block_size_gives_the_same_figures(void **state)
{
    (void)state;
    sound s = {300, 12500, 7e-6, 1.0, 1e-3};
    fill(&s);
    left[1000] = (float)NAN;
    right[2000] = -(float)HUGE_VAL;
    es_delay_figures whole = read_all(FRAMES);
    es_delay *d = new_delay();
    for (size_t at = 0, n = 1; at < FRAMES; at += n, n = n * 3 % 4099 + 1) {
        n = n < FRAMES - at ? n : FRAMES - at;
        es_delay_push(d, left + at, right + at, 1, n);
    }
    es_delay_figures cut = es_delay_figures_of(d);
    assert_true(whole.known && cut.delay_s == whole.delay_s && cut.u_s == whole.u_s);
    alloc_probe_reset();
    es_delay_reset(d);
    es_delay_push(d, left, right, 1, FRAMES);
    assert_true(es_delay_figures_of(d).delay_s == whole.delay_s);
    assert_int_equal(alloc_probe_calls(), 0);
    es_delay_destroy(d);
}

static void refuses_settings_out_of_range(void **state)
{
    (void)state;
    es_delay *d;
    es_delay_config good = es_delay_defaults(RATE);
    for (int k = 0; k < 5; k++) {
        es_delay_config c = good;
        double *field[] = {&c.rate_hz, &c.low_hz, &c.high_hz, &c.widest_s, &c.widest_s};
        *field[k] = k == 4 ? 1.0 : k == 2 ? 24000.0 : (double)NAN;
        assert_int_equal(es_delay_create(&c, &d), ES_ERR_ARG);
        assert_null(d);
    }
    es_delay_destroy(NULL);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_delay_config c = es_delay_defaults(RATE);
    es_delay *d = NULL;
    long n;
    ALLOC_SWEEP(n, es_delay_create(&c, &d), d);
    assert_true(n > 5);
    es_delay_destroy(d);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_a_delay_without_losing_a_turn),
        cmocka_unit_test(the_truth_lies_within_its_uncertainty),
        cmocka_unit_test(tells_reversed_polarity_from_delay),
        cmocka_unit_test(a_narrow_band_is_not_sure),
        cmocka_unit_test(channels_with_nothing_in_common_are_not_compared),
        cmocka_unit_test(a_dead_channel_is_not_compared),
        cmocka_unit_test(draws_phase_against_frequency),
        cmocka_unit_test(a_tone_sharpens_what_the_broad_sound_said),
        cmocka_unit_test(any_block_size_gives_the_same_figures),
        cmocka_unit_test(refuses_settings_out_of_range),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("signal/delay", tests, NULL, NULL);
}
