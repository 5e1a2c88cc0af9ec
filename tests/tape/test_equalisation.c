#include "cm.h"

#include "evenspool/tape/equalisation.h"

#include <string.h>

static es_equalisation named(const char *name)
{
    es_equalisation e;
    assert_int_equal(es_equalisation_from_name(name, &e), ES_OK);
    return e;
}

/* Worked by hand from IEC 60094-1 clause 15: N(f) = 10 lg(1 + 1/(2 pi f t2)^2) - 10 lg(1 + (2 pi f t1)^2),
 * two decimals. t2 = 3180 us except where it is infinite. */
static void flux_follows_the_formula(void **state)
{
    (void)state;
    static const double hz[] = {31.5, 100, 315, 1000, 3150, 10000, 16000, 20000};
    static const struct {
        const char *name;
        double db[8];
    } rows[] = {
        {"120", {5.47, 0.95, -0.13, -1.94, -8.22, -17.62, -21.66, -23.59}},
        {"70", {5.47, 0.96, 0.03, -0.76, -4.65, -13.08, -17.03, -18.94}},
        {"nab-9.5", {5.47, 0.96, -0.03, -1.19, -6.20, -15.18, -19.18, -21.10}},
        {"nab-19", {5.47, 0.97, 0.07, -0.40, -2.96, -10.36, -14.19, -16.07}},
        {"iec-19", {0.00, -0.01, -0.08, -0.77, -4.65, -13.08, -17.03, -18.94}},
        {"iec-38", {0.00, 0.00, -0.02, -0.21, -1.70, -7.66, -11.26, -13.08}},
        {"aes-76", {0.00, 0.00, -0.01, -0.05, -0.49, -3.44, -6.12, -7.66}},
    };
    for (size_t k = 0; k < COUNT(rows); k++)
        for (size_t i = 0; i < COUNT(hz); i++)
            assert_near(es_equalisation_flux_db(named(rows[k].name), hz[i]), rows[k].db[i], 0.0051);
    assert_near(es_equalisation_flux_re_db(named("120"), 10000, 315), -17.49, 0.006);
    assert_near(es_equalisation_flux_re_db(named("70"), 16000, 315), -17.06, 0.006);
}

/* 70 against 120 us: 4.62 dB at 16 kHz, in the limit 20 lg(120 / 70). */
static void a_tape_played_with_the_other_equalisation_is_dull(void **state)
{
    (void)state;
    es_equalisation a = named("120"), b = named("70");
    assert_near(es_equalisation_flux_db(b, 16000) - es_equalisation_flux_db(a, 16000), 4.62, 0.006);
    assert_near(es_equalisation_flux_db(b, 1e7) - es_equalisation_flux_db(a, 1e7),
                20.0 * log10(120.0 / 70.0), 1e-3);
    assert_near(es_equalisation_mismatch_db(a, b, 16000, 315), -17.06 * -1.0 - 21.53, 0.015);
    assert_near(es_equalisation_mismatch_db(a, a, 5000, 315), 0.0, 1e-12);
}

/* f = 1 / (2 pi t). */
static void knows_the_corners(void **state)
{
    (void)state;
    assert_near(es_corner_hz(120e-6), 1326.291, 0.001);
    assert_near(es_corner_hz(70e-6), 2273.642, 0.001);
    assert_near(es_corner_hz(3180e-6), 50.049, 0.001);
    assert_near(es_corner_hz(17.5e-6), 9094.57, 0.01);
}

static void knows_equalisations_by_name(void **state)
{
    (void)state;
    es_equalisation e;
    for (size_t i = 0; i < es_equalisation_count(); i++)
        assert_int_equal(es_equalisation_from_name(es_equalisation_name(i), &e), ES_OK);
    assert_string_equal(es_equalisation_name(1000), "");
    assert_int_equal(es_equalisation_from_name("bright", &e), ES_ERR_ARG);
    assert_near(e.t1_s, 120e-6, 1e-12);
    for (int i = 0; i < ES_TRANSPORT_CLASS_COUNT; i++)
        assert_int_equal(
            es_equalisation_from_name(es_equalisation_usual((es_transport_class)i), &e), ES_OK);
    assert_string_equal(es_equalisation_usual(ES_REEL_38), "iec-38");
}

/* lambda = v / f; v = 1 7/8 in/s = 4.7625 cm/s. */
static double wave(double hz)
{
    return es_wavelength_m(0.047625, hz);
}

/* 20 lg |sin x / x|, x = pi w tan(a) / lambda; worked by hand. */
static void azimuth_costs_treble(void **state)
{
    (void)state;
    assert_near(wave(10000), 4.7625e-6, 1e-15);
    assert_near(es_azimuth_loss_db(0.6e-3, 1, wave(10000)), -0.019, 0.002);
    assert_near(es_azimuth_loss_db(0.6e-3, 5, wave(10000)), -0.485, 0.002);
    assert_near(es_azimuth_loss_db(0.6e-3, 10, wave(10000)), -2.012, 0.002);
    assert_near(es_azimuth_loss_db(0.6e-3, -10, wave(10000)), -2.012, 0.002);
    assert_near(es_azimuth_loss_db(0.6e-3, 10, wave(16000)), -5.630, 0.002);
    assert_near(es_azimuth_loss_db(1.5e-3, 5, wave(10000)), -3.238, 0.002);
    assert_true(es_azimuth_loss_db(1.5e-3, 5, wave(21830)) < -60.0);
    assert_near(es_azimuth_loss_db(0.6e-3, 0, wave(10000)), 0.0, 1e-12);
}

/* Gap factor 1.11 (Eargle, Handbook of Recording Engineering); x = pi g' / lambda. */
static void the_gap_costs_treble(void **state)
{
    (void)state;
    assert_near(es_gap_loss_db(1.5e-6, 1.0, wave(10000)), -1.467, 0.002);
    assert_near(es_gap_loss_db(1.5e-6, ES_GAP_FACTOR, wave(10000)), -1.822, 0.002);
    assert_near(es_gap_loss_db(1.5e-6, ES_GAP_FACTOR, wave(16000)), -5.049, 0.002);
    assert_near(es_gap_loss_db(1.0e-6, ES_GAP_FACTOR, wave(16000)), -2.087, 0.002);
    assert_true(es_gap_loss_db(2e-6, 1.0, 2e-6) == -HUGE_VAL);
}

/* 40 pi lg e = 54.575 dB per wavelength (Wallace 1951, Bell System Technical Journal 30; from memory). */
static void dirt_costs_treble(void **state)
{
    (void)state;
    assert_near(es_spacing_loss_db(1.0, 1.0), -54.57505, 1e-4);
    assert_near(es_spacing_loss_db(0.5e-6, wave(10000)), -5.730, 0.002);
    assert_near(es_spacing_loss_db(1e-6, wave(315)), -0.361, 0.001);
}

/* d tan(a) / v: one minute, 0.9 mm, 4.7625 cm/s = 5.4971 us = 19.790 degrees at 10 kHz; 12.5 us = 2.2739'. */
static void delay_and_angle_tell_each_other(void **state)
{
    (void)state;
    double d = es_track_spacing_m(ES_CASSETTE), v = 0.047625;
    double delay = es_delay_of_angle(1.0, d, v);
    assert_near(1e6 * delay, 5.4971, 1e-3);
    assert_near(es_phase_of_delay_deg(delay, 10000), 19.790, 1e-3);
    assert_near(es_angle_of_delay(12.5e-6, d, v), 2.2739, 1e-3);
    assert_near(es_angle_of_delay(es_delay_of_angle(-7.5, d, v), d, v), -7.5, 1e-12);
    /* 360 degrees at 10 kHz are 18.2' */
    assert_near(es_angle_of_delay(100e-6, d, v), 18.2, 0.05);
    /* mono sum, 20 lg |cos(pi f t)|: 1' -0.130, 2' -0.529 dB at 10 kHz */
    assert_near(es_sum_loss_db(delay, 10000), -0.130, 0.001);
    assert_near(es_sum_loss_db(2.0 * delay, 10000), -0.529, 0.001);
}

static void what_is_not_usual_is_not_known(void **state)
{
    (void)state;
    assert_true(isnan(es_track_spacing_m(ES_MICROCASSETTE)));
    assert_true(isnan(es_track_width_m(ES_MICROCASSETTE)));
    assert_near(es_track_width_m(ES_CASSETTE), 0.6e-3, 1e-12);
    assert_near(es_track_spacing_m(ES_REEL_19), 4.2e-3, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(flux_follows_the_formula),
        cmocka_unit_test(a_tape_played_with_the_other_equalisation_is_dull),
        cmocka_unit_test(knows_the_corners),
        cmocka_unit_test(knows_equalisations_by_name),
        cmocka_unit_test(azimuth_costs_treble),
        cmocka_unit_test(the_gap_costs_treble),
        cmocka_unit_test(dirt_costs_treble),
        cmocka_unit_test(delay_and_angle_tell_each_other),
        cmocka_unit_test(what_is_not_usual_is_not_known),
    };
    return cmocka_run_group_tests_name("tape/equalisation", tests, NULL, NULL);
}
