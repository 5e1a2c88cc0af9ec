#include "cm.h"

#include "alloc_probe.h"
#include "evenspool/base/units.h"
#include "evenspool/signal/noise.h"
#include "signal/quasi_468.h"
#include "tone.h"

#include <stdlib.h>
#include <string.h>

#define FRAMES (12 * 48000)

static float left[FRAMES], right[FRAMES];

typedef struct row {
    double hz, db;
} row;

/* IEC 61672-1 table 3, weighting A; exact frequencies 1000 x 10^(n/10). */
static const row table_a[] = {
    {10, -70.4},   {12.5, -63.4}, {16, -56.7},   {20, -50.5},   {25, -44.7},  {31.5, -39.4},
    {40, -34.6},   {50, -30.2},   {63, -26.2},   {80, -22.5},   {100, -19.1}, {125, -16.1},
    {160, -13.4},  {200, -10.9},  {250, -8.6},   {315, -6.6},   {400, -4.8},  {500, -3.2},
    {630, -1.9},   {800, -0.8},   {1000, 0.0},   {1250, 0.6},   {1600, 1.0},  {2000, 1.2},
    {2500, 1.3},   {3150, 1.2},   {4000, 1.0},   {5000, 0.5},   {6300, -0.1}, {8000, -1.1},
    {10000, -2.5}, {12500, -4.3}, {16000, -6.6}, {20000, -9.3},
};

/* ITU-R BS.468-4 table 1. */
static const row table_468[] = {
    {31.5, -29.9}, {63, -23.9},  {100, -19.8},  {200, -13.8},   {400, -7.8},
    {800, -1.9},   {1000, 0.0},  {2000, 5.6},   {3150, 9.0},    {4000, 10.5},
    {5000, 11.7},  {6300, 12.2}, {7100, 12.0},  {8000, 11.4},   {9000, 10.1},
    {10000, 8.1},  {12500, 0.0}, {14000, -5.3}, {16000, -11.7},
};

static double exact(double nominal_hz)
{
    return 1000.0 * pow(10.0, floor(10.0 * log10(nominal_hz / 1000.0) + 0.5) / 10.0);
}

static es_noise *new_noise(double rate_hz)
{
    es_noise *n;
    assert_int_equal(es_noise_create(rate_hz, &n), ES_OK);
    return n;
}

static void fill_tone(float *out, double rate_hz, double hz, double amplitude)
{
    test_tone t = {.rate_hz = rate_hz, .tone_hz = hz, .amplitude = amplitude};
    test_tone_fill(&t, 0, out, 1, FRAMES);
}

static void curves_are_those_of_the_tables(void **state)
{
    (void)state;
    for (size_t k = 0; k < COUNT(table_a); k++)
        assert_near(es_weight_a_db(exact(table_a[k].hz)), table_a[k].db, 0.051);
    for (size_t k = 0; k < COUNT(table_468); k++)
        assert_near(es_weight_468_db(table_468[k].hz), table_468[k].db, 0.06);
    /* the formula of IEC 61672-1 at 100 Hz and 10 kHz, worked by hand */
    assert_near(es_weight_a_db(100.0), -19.143, 0.005);
    assert_near(es_weight_a_db(10000.0), -2.492, 0.005);
    assert_true(es_weight_a_db(0.0) == -HUGE_VAL && es_weight_468_db(0.0) == -HUGE_VAL);
}

/* The whole road: a sine in, its weighted level out, at every tabulated frequency and usual rate. */
static void weighs_every_tabulated_frequency_at_any_rate(void **state)
{
    (void)state;
    static const double rates[] = {44100, 48000, 88200, 96000, 192000};
    for (size_t r = 0; r < COUNT(rates); r++) {
        es_noise *n = new_noise(rates[r]);
        size_t frames = (size_t)(2.0 * rates[r]);
        frames = frames < FRAMES ? frames : FRAMES;
        double full = 0.5 / sqrt(2.0);
        for (size_t k = 0; k + 1 < COUNT(table_a); k++) {
            es_noise_reset(n);
            fill_tone(left, rates[r], exact(table_a[k].hz), 0.5);
            es_noise_push(n, left, NULL, 1, frames);
            es_noise_figures f = es_noise_figures_of(n, 0);
            assert_true(f.known);
            assert_near(es_db(f.a_fs / full), table_a[k].db, 0.1);
            if (table_a[k].hz >= 25)
                assert_near(es_db(f.unweighted_fs / full), 0.0, 0.01);
        }
        for (size_t k = 0; k < COUNT(table_468); k++) {
            es_noise_reset(n);
            fill_tone(left, rates[r], table_468[k].hz, 0.5);
            es_noise_push(n, left, NULL, 1, frames);
            assert_near(es_db(es_noise_figures_of(n, 0).itu468_fs / full), table_468[k].db, 0.1);
        }
        es_noise_destroy(n);
    }
}

static void the_meter_hears_by_the_same_curve(void **state)
{
    (void)state;
    static const double rates[] = {44100, 48000, 96000, 192000};
    for (size_t r = 0; r < COUNT(rates); r++) {
        es_quasi_468 m;
        es_quasi_468_start(&m, rates[r]);
        for (size_t k = 0; k < COUNT(table_468); k++) {
            double sum = 0.0, hz = table_468[k].hz;
            size_t from = (size_t)(0.1 * rates[r]);
            size_t count = (size_t)(floor(0.2 * hz) / hz * rates[r]);
            es_quasi_468_reset(&m);
            for (size_t i = 0; i < from + count; i++) {
                float x = (float)sin(ES_TWO_PI * hz * (double)i / rates[r]);
                double y;
                es_quasi_468_weigh(&m, &x, 1, 1, &y);
                sum += i >= from ? y * y : 0.0;
            }
            assert_near(es_db(sqrt(2.0 * sum / (double)count)), table_468[k].db, 0.1);
        }
    }
}

static void runs_of_samples_read_as_one_by_one(void **state)
{
    (void)state;
    static const size_t runs[] = {ES_QUASI_468_RUN, 1, 7, 63, 64, 65, 200};
    es_quasi_468 alone, together;
    double one, many[ES_QUASI_468_RUN];
    uint64_t seed = 12;
    es_quasi_468_start(&alone, 48000);
    together = alone;
    for (size_t r = 0; r < COUNT(runs); r++) {
        for (size_t i = 0; i < runs[r]; i++)
            left[2 * i] = i == 5 ? (float)NAN : (float)test_gauss(&seed);
        es_quasi_468_read(&together, left, 2, runs[r], many);
        for (size_t i = 0; i < runs[r]; i++) {
            es_quasi_468_read(&alone, left + 2 * i, 2, 1, &one);
            assert_true(one == many[i] && isfinite(one));
        }
    }
}

/* Largest deflection for bursts of a 5 kHz tone, against the steady tone. */
static double burst_reading(double rate_hz, double burst_s, double period_s, double total_s)
{
    es_quasi_468 m;
    double most = 0.0;
    es_quasi_468_start(&m, rate_hz);
    for (size_t i = 0; i < (size_t)(total_s * rate_hz); i++) {
        double t = (double)i / rate_hz;
        float x = fmod(t, period_s) < burst_s ? (float)sin(ES_TWO_PI * 5000.0 * t) : 0.0f;
        double shown;
        es_quasi_468_read(&m, &x, 1, 1, &shown);
        if (t > 0.6 * total_s || period_s >= total_s)
            most = fmax(most, shown);
    }
    return most;
}

/* ITU-R BS.468-4 tables 2 (single bursts) and 3 (5 ms bursts repeated), readings in percent with their limits;
 * from memory. */
static void bursts_read_within_their_limits(void **state)
{
    (void)state;
    static const struct {
        double burst_s, period_s, total_s, least, most;
    } bursts[] = {
        {0.001, 9, 0.5, 13.5, 21.4}, {0.002, 9, 0.5, 22.4, 31.6}, {0.005, 9, 0.5, 34, 46},
        {0.010, 9, 0.5, 41, 55},     {0.020, 9, 0.5, 44, 60},     {0.050, 9, 0.5, 50, 68},
        {0.100, 9, 0.5, 58, 78},     {0.200, 9, 0.5, 68, 92},     {0.005, 0.5, 4, 43, 53},
        {0.005, 0.1, 4, 72, 82},     {0.005, 0.01, 4, 94, 100},
    };
    static const double rates[] = {44100, 96000};
    for (size_t r = 0; r < COUNT(rates); r++) {
        double steady = burst_reading(rates[r], 10.0, 20.0, 5.0);
        assert_near(es_db(steady), 11.7, 0.3); /* table 1 at 5 kHz; 1 kHz reads its peak */
        for (size_t k = 0; k < COUNT(bursts); k++) {
            double percent =
                100.0 / steady *
                burst_reading(rates[r], bursts[k].burst_s, bursts[k].period_s, bursts[k].total_s);
            assert_true(percent >= bursts[k].least && percent <= bursts[k].most);
        }
    }
}

/* White noise of rms r has r sqrt(2 band / rate) in a band. */
static void white_noise_is_read_as_it_was_made(void **state)
{
    (void)state;
    uint64_t seed = 8;
    for (size_t i = 0; i < FRAMES; i++) {
        left[i] = (float)(0.01 * test_gauss(&seed));
        right[i] = (float)(0.001 * test_gauss(&seed));
    }
    es_noise *n = new_noise(48000);
    es_noise_push(n, left, right, 1, FRAMES);
    for (int c = 0; c < 2; c++) {
        es_noise_figures f = es_noise_figures_of(n, c);
        double rms = c ? 0.001 : 0.01, sum_a = 0.0, sum_468 = 0.0;
        for (double hz = 0.5; hz < 24000.0; hz += 1.0) { /* the curves integrated step by step */
            sum_a += pow(10.0, es_weight_a_db(hz) / 10.0) / 24000.0;
            sum_468 += pow(10.0, es_weight_468_db(hz) / 10.0) / 24000.0;
        }
        assert_true(f.known && f.u_db > 0.0 && f.u_db < 0.05);
        assert_near(es_db(f.unweighted_fs / rms), 10.0 * log10(19980.0 / 24000.0), 0.05);
        assert_near(es_db(f.a_fs / rms), 10.0 * log10(sum_a), 0.05);
        assert_near(es_db(f.itu468_fs / rms), 10.0 * log10(sum_468), 0.05);
        /* quasi-peak of noise stands a few dB over its rms (common practice, no source) */
        double over = es_db(f.itu468_peak_fs / f.itu468_fs);
        assert_true(over > 3.0 && over < 6.5);
        assert_int_equal(f.line_count, 0);
        assert_near(f.seconds, 12.0, 1e-9);
    }
    es_noise_destroy(n);
}

static void names_the_lines_of_the_mains(void **state)
{
    (void)state;
    for (int mains = 50; mains <= 60; mains += 10) {
        uint64_t seed = 21;
        fill_tone(left, 48000, mains * 1.002, 0.001);
        fill_tone(right, 48000, 3.0 * mains * 1.002, 0.0004);
        for (size_t i = 0; i < FRAMES; i++)
            left[i] += right[i] + (float)(0.001 * test_gauss(&seed));
        es_noise *n = new_noise(48000);
        es_noise_push(n, left, NULL, 1, FRAMES);
        es_noise_figures f = es_noise_figures_of(n, 0);
        assert_int_equal(f.line_count, 2);
        for (size_t k = 0; k < 2; k++) {
            int multiple = k ? 3 : 1;
            assert_near(f.line[k].mains_hz, mains, 0.0);
            assert_int_equal(f.line[k].multiple, multiple);
            assert_near(f.line[k].hz, mains * 1.002 * multiple, 0.15);
            assert_near(es_db(f.line[k].rms_fs * sqrt(2.0)), es_db(k ? 0.0004 : 0.001), 0.5);
        }
        es_noise_destroy(n);
    }
}

static void silence_and_too_little_are_told_apart(void **state)
{
    (void)state;
    memset(left, 0, sizeof left);
    es_noise *n = new_noise(48000);
    es_noise_push(n, left, NULL, 1, 48000);
    es_noise_figures f = es_noise_figures_of(n, 0);
    assert_true(!f.known && isnan(f.unweighted_fs) && isnan(f.a_fs) && isnan(f.itu468_peak_fs));
    es_noise_push(n, left, NULL, 1, 96000);
    f = es_noise_figures_of(n, 0);
    assert_true(f.known && f.unweighted_fs == 0.0 && f.line_count == 0);
    assert_true(isnan(f.itu468_peak_fs)); /* the needle has not come up yet */
    es_noise_destroy(n);
}

static void any_block_size_gives_the_same_figures(void **state)
{
    (void)state;
    uint64_t seed = 2;
    for (size_t i = 0; i < FRAMES; i++) {
        left[i] = (float)(0.01 * test_gauss(&seed));
        right[i] = (float)(0.02 * test_gauss(&seed));
    }
    left[7] = (float)NAN;
    es_noise *a = new_noise(48000), *b = new_noise(48000);
    alloc_probe_reset();
    es_noise_push(a, left, right, 1, FRAMES);
    es_noise_push(b, left, right, 1, 1000);
    es_noise_reset(b);
    for (size_t at = 0, n = 1; at < FRAMES; at += n, n = n * 3 % 9973 + 1) {
        n = n < FRAMES - at ? n : FRAMES - at;
        es_noise_push(b, left + at, right + at, 1, n);
    }
    for (int c = 0; c < 2; c++) {
        es_noise_figures f = es_noise_figures_of(a, c), g = es_noise_figures_of(b, c);
        assert_true(f.a_fs == g.a_fs && f.itu468_peak_fs == g.itu468_peak_fs && f.u_db == g.u_db);
    }
    assert_int_equal(alloc_probe_calls(), 0);
    es_noise_destroy(a);
    es_noise_destroy(b);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_noise *n = NULL;
    long count = 0;
    assert_int_equal(es_noise_create(7999, &n), ES_ERR_ARG);
    for (;; count++) {
        alloc_probe_fail_after(count);
        es_status s = es_noise_create(48000, &n);
        if (s == ES_OK)
            break;
        assert_int_equal(s, ES_ERR_NOMEM);
        assert_null(n);
        assert_int_equal(alloc_probe_live(), 0);
        assert_true(count < 100);
    }
    assert_true(count > 5);
    es_noise_destroy(n);
    es_noise_destroy(NULL);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(curves_are_those_of_the_tables),
        cmocka_unit_test(weighs_every_tabulated_frequency_at_any_rate),
        cmocka_unit_test(the_meter_hears_by_the_same_curve),
        cmocka_unit_test(runs_of_samples_read_as_one_by_one),
        cmocka_unit_test(bursts_read_within_their_limits),
        cmocka_unit_test(white_noise_is_read_as_it_was_made),
        cmocka_unit_test(names_the_lines_of_the_mains),
        cmocka_unit_test(silence_and_too_little_are_told_apart),
        cmocka_unit_test(any_block_size_gives_the_same_figures),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("signal/noise", tests, NULL, NULL);
}
