/* Lines: stretches and breaks, block sizes, memory, settings. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "alloc_sweep.h"
#include "near.h"

#include "lines_signal.h"

#define ROOM 12

static es_component found[ROOM], again[ROOM];
static es_flutter_spectrum spectrum, second;

/* --- stretches ---------------------------------------------------------------------------- */

/* Pushes the signal with breaks after each of the given lengths [s]; the rest is one stretch. */
static void push_in_stretches(es_lines *l, const double *length_s, size_t stretches)
{
    size_t at = 0;
    for (size_t i = 0; i < stretches; i++) {
        size_t part = (size_t)(length_s[i] * LINES_RATE_HZ);
        es_lines_push(l, lines_signal + at, part);
        es_lines_break(l);
        at += part;
    }
    es_lines_push(l, lines_signal + at, lines_count - at);
}

static void joins_stretches_without_their_phases(void **state)
{
    (void)state;
    static const double length[] = {20.0, 25.0, 21.0};
    es_lines *l = new_lines();
    for (unsigned seed = 0; seed < 3; seed++) {
        fill_noise(90.0, 2e-5, 10 + seed);
        add_line(90.0, 7.512, 0.0, 3e-4, 0.0);
        add_line(90.0, 0.45, 0.0, 2e-4, 0.0);
        for (size_t i = (size_t)(45.0 * LINES_RATE_HZ); i < lines_count; i++)
            lines_signal[i] = -lines_signal[i]; /* the phase jumps at the second break */
        push_in_stretches(l, length, 3);
        assert_int_equal(es_lines_finish(l, found, ROOM, NULL), 2);
        assert_near(found[0].rate_hz, 7.512, 0.1 / 20.0);
        assert_near(found[0].peak_percent, 0.03, 0.0009);
        assert_near(found[1].rate_hz, 0.45, 0.1 / 20.0);
        assert_near(found[1].peak_percent, 0.02, 0.0006);
        es_lines_reset(l);
    }
    es_lines_destroy(l);
}

/* Scraps between dropouts neither hide nor feign a line. */
static void leaves_scraps_out(void **state)
{
    (void)state;
    static const double length[] = {1.0, 2.0, 0.5, 4.0, 50.0, 3.0, 1.0};
    es_lines *l = new_lines();
    fill_noise(62.0, 2e-5, 20);
    add_line(62.0, 7.512, 0.0, 3e-4, 0.0);
    push_in_stretches(l, length, 7);
    assert_int_equal(es_lines_finish(l, found, ROOM, &spectrum), 1);
    assert_near(found[0].rate_hz, 7.512, 0.1 / 50.0);
    assert_near(found[0].peak_percent, 0.03, 0.0006);
    assert_int_equal(spectrum.count, ES_SPECTRUM_POINTS);
    es_lines_destroy(l);
}

static void only_scraps_give_nothing(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    fill_noise(60.0, 2e-5, 21);
    for (size_t at = 0; at + 2000 < lines_count; at += 2000) {
        es_lines_push(l, lines_signal + at, 2000);
        es_lines_break(l);
        es_lines_break(l); /* a second one changes nothing */
    }
    assert_int_equal(es_lines_finish(l, found, ROOM, &spectrum), 0);
    assert_int_equal(spectrum.count, 0);
    es_lines_destroy(l);
}

static void a_sample_that_is_no_number_is_a_break(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    fill_noise(80.0, 2e-5, 22);
    add_line(80.0, 7.512, 0.0, 3e-4, 0.0);
    lines_signal[lines_count / 2] = (double)NAN;
    lines_signal[lines_count / 2 + 1] = HUGE_VAL;
    lines_signal[lines_count / 2 + 2] = -1e30;
    assert_int_equal(measure(l, found, ROOM, NULL), 1);
    assert_near(found[0].rate_hz, 7.512, 0.1 / 40.0);
    assert_near(found[0].peak_percent, 0.03, 0.0006);
    es_lines_destroy(l);
}

static void constant_speed_has_no_lines(void **state)
{
    (void)state;
    static const double value[] = {0.0, 1e-3};
    es_lines *l = new_lines();
    for (int i = 0; i < 2; i++) {
        fill_noise(70.0, 0.0, 1);
        for (size_t k = 0; k < lines_count; k++)
            lines_signal[k] = value[i];
        assert_int_equal(measure(l, found, ROOM, &spectrum), 0);
        for (size_t k = 0; k < spectrum.count; k++)
            assert_near((double)spectrum.peak_percent[k], 0.0, 1e-6);
    }
    es_lines_destroy(l);
}

/* --- use ------------------------------------------------------------------------------------ */

static void fill_a_deck(double length_s)
{
    fill_noise(length_s, 1e-4, 40);
    add_line(length_s, 0.45, 0.01, 4e-4, 0.0);
    add_line(length_s, 7.512, 0.0, 2e-4, 0.0);
    add_line(length_s, 15.024, 0.0, 1e-4, 0.0);
}

static void any_block_size_gives_the_same_bits(void **state)
{
    (void)state;
    static const size_t block[] = {1, 7, 511, 512, 513, 1201, 100000};
    es_lines *l = new_lines();
    fill_a_deck(200.0);
    memset(found, 0, sizeof found);
    size_t n = measure(l, found, ROOM, &spectrum);
    assert_true(n >= 2);
    for (size_t i = 0; i < sizeof block / sizeof *block; i++) {
        es_lines_reset(l);
        for (size_t at = 0; at < lines_count; at += block[i]) {
            size_t left = lines_count - at;
            es_lines_push(l, lines_signal + at, left < block[i] ? left : block[i]);
        }
        memset(again, 0, sizeof again);
        memset(&second, 0, sizeof second);
        assert_int_equal(es_lines_finish(l, again, ROOM, &second), n);
        assert_memory_equal(found, again, sizeof found);
        assert_memory_equal(&spectrum, &second, sizeof spectrum);
    }
    es_lines_destroy(l);
}

static void reset_forgets_everything(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    fill_a_deck(70.0);
    memset(found, 0, sizeof found);
    memset(again, 0, sizeof again);
    size_t n = measure(l, found, ROOM, &spectrum);
    fill_noise(150.0, 1e-2, 41);
    add_line(150.0, 33.0, 0.0, 1e-2, 0.0);
    es_lines_push(l, lines_signal, lines_count);
    fill_a_deck(70.0);
    assert_int_equal(measure(l, again, ROOM, &second), n);
    assert_memory_equal(found, again, sizeof found);
    assert_memory_equal(&spectrum, &second, sizeof spectrum);
    es_lines_destroy(l);
}

static void little_room_keeps_the_largest(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    fill_a_deck(60.0);
    memset(again, 0x55, sizeof again);
    assert_int_equal(measure(l, again, 1, NULL), 1);
    assert_near(again[0].peak_percent, 0.04, 0.0012);
    const unsigned char *next = (const unsigned char *)&again[1];
    assert_int_equal(next[0], 0x55);
    assert_int_equal(measure(l, again, 0, NULL), 0);
    es_lines_destroy(l);
}

static void other_rates_and_bands_work(void **state)
{
    (void)state;
    static const es_lines_config config[] = {{500.0, 125.0}, {500.0, 20.0},    {1201.0, 300.25},
                                             {1201.0, 20.0}, {4000.0, 1000.0}, {2400.0, 60.0}};
    for (size_t i = 0; i < sizeof config / sizeof *config; i++) {
        es_lines *l;
        assert_int_equal(es_lines_create(&config[i], &l), ES_OK);
        fill_noise(60.0 * config[i].rate_hz / LINES_RATE_HZ, 1e-6, 50);
        double low = 2.0, high = 0.95 * config[i].high_hz;
        for (size_t k = 0; k < lines_count; k++) {
            double t = (double)k / config[i].rate_hz;
            lines_signal[k] += 2e-4 * sin(ES_TWO_PI * low * t) + 1e-4 * sin(ES_TWO_PI * high * t);
        }
        assert_int_equal(measure(l, found, ROOM, NULL), 2);
        assert_near(found[0].rate_hz, low, 1e-3);
        assert_near(found[0].peak_percent, 0.02, 0.0002);
        assert_near(found[1].rate_hz, high, 1e-3);
        assert_near(found[1].peak_percent, 0.01, 0.0001);
        es_lines_destroy(l);
    }
}

/* What lies above the band does not fold into it. */
static void nothing_folds_back(void **state)
{
    (void)state;
    static const double hz[] = {405.0, 450.0, 500.0, 590.0};
    es_lines *l = new_lines();
    for (int i = 0; i < 4; i++) {
        fill_noise(60.0, 1e-5, 60);
        add_line(60.0, hz[i], 0.0, 1e-3, 0.0);
        size_t n = measure(l, found, ROOM, NULL);
        for (size_t k = 0; k < n; k++)
            assert_true(found[k].peak_percent < 0.1 * 2e-4); /* 74 dB down */
    }
    es_lines_destroy(l);
}

static void refuses_settings_out_of_range(void **state)
{
    (void)state;
    static const es_lines_config bad[] = {{499.0, 100.0},       {4001.0, 200.0},
                                          {1201.0, 19.0},       {1201.0, 301.0},
                                          {(double)NAN, 200.0}, {1201.0, (double)NAN}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        es_lines *l = (es_lines *)(void *)&spectrum;
        assert_int_equal(es_lines_create(&bad[i], &l), ES_ERR_ARG);
        assert_null(l);
    }
    es_lines_destroy(NULL);
}

static void measuring_never_allocates(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    fill_a_deck(200.0);
    alloc_probe_reset();
    es_lines_push(l, lines_signal, lines_count / 2);
    es_lines_break(l);
    es_lines_push(l, lines_signal, lines_count);
    es_lines_finish(l, found, ROOM, &spectrum);
    es_lines_reset(l);
    assert_int_equal(alloc_probe_calls(), 0);
    es_lines_destroy(l);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_lines_config c = {LINES_RATE_HZ, LINES_HIGH_HZ};
    es_lines *l = NULL;
    long n;
    ALLOC_SWEEP(n, es_lines_create(&c, &l), l);
    assert_true(n >= 11);
    es_lines_destroy(l);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(joins_stretches_without_their_phases),
        cmocka_unit_test(leaves_scraps_out),
        cmocka_unit_test(only_scraps_give_nothing),
        cmocka_unit_test(a_sample_that_is_no_number_is_a_break),
        cmocka_unit_test(constant_speed_has_no_lines),
        cmocka_unit_test(any_block_size_gives_the_same_bits),
        cmocka_unit_test(reset_forgets_everything),
        cmocka_unit_test(little_room_keeps_the_largest),
        cmocka_unit_test(other_rates_and_bands_work),
        cmocka_unit_test(nothing_folds_back),
        cmocka_unit_test(refuses_settings_out_of_range),
        cmocka_unit_test(measuring_never_allocates),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("signal/lines_use", tests, NULL, NULL);
}
