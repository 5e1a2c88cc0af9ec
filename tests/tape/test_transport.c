#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "evenspool/base/units.h"
#include "evenspool/tape/transport.h"
#include "near.h"

#include <string.h>

#define UNKNOWN (double)NAN

/* A cassette with the sizes of the worked identification below. */
static es_geometry known_cassette(void)
{
    es_geometry g = es_geometry_defaults(ES_CASSETTE);
    g.capstan_m = 2.5e-3;
    g.flywheel_m = 60e-3;
    g.motor_pulley_m = 9e-3;
    g.belt_m = 250e-3;
    g.pinch_roller_m = 10e-3;
    return g;
}

/* 1 in = 25.4 mm by definition; 1 7/8 in/s = 4.7625 cm/s, and the others double or halve it. */
static void runs_at_the_exact_inch_speeds(void **state)
{
    (void)state;
    static const double inches[] = {1.875, 0.9375, 1.875, 3.75, 7.5, 15.0, 30.0};
    for (int i = 0; i < ES_TRANSPORT_CLASS_COUNT; i++)
        assert_near(es_geometry_defaults((es_transport_class)i).speed_m_s, inches[i] * 0.0254,
                    1e-15);
}

static void knows_every_class_by_its_name(void **state)
{
    (void)state;
    es_transport_class found;
    for (int i = 0; i < ES_TRANSPORT_CLASS_COUNT; i++) {
        assert_int_equal(es_transport_from_name(es_transport_name((es_transport_class)i), &found),
                         ES_OK);
        assert_int_equal(found, i);
    }
    assert_int_equal(es_transport_from_name("wire", &found), ES_ERR_ARG);
    assert_int_equal(found, ES_CASSETTE);
    assert_int_equal(es_geometry_defaults((es_transport_class)99).transport, ES_CASSETTE);
}

static void names_every_part(void **state)
{
    (void)state;
    assert_string_equal(es_part_name(ES_PART_NONE), "");
    assert_string_equal(es_part_name(ES_PART_PINCH_ROLLER), "pinch roller");
    assert_string_equal(es_part_name((es_part)99), "");
    for (int i = ES_PART_NONE + 1; i < ES_PART_COUNT; i++)
        assert_true(strlen(es_part_name((es_part)i)) > 2);
}

/* Mechanics: R^2 = r0^2 + L h / pi. A C90 of 128.5875 m and 12 um on an 11 mm hub, and a C60 of
 * 85.725 m (30 min at 4.7625 cm/s) and 18 um, both fill it to 24.7420 mm; worked by hand. */
static void winds_packs_to_their_radius(void **state)
{
    (void)state;
    es_geometry g = es_geometry_defaults(ES_CASSETTE);
    assert_near(30.0 * 60.0 * g.speed_m_s, 85.725, 1e-12);
    assert_near(g.tape_length_m, 85.725, 1e-12);
    assert_near(es_pack_radius(&g, 85.725), 24.7420e-3, 1e-7);
    assert_near(es_pack_radius(&g, 0.5 * 85.725), 19.146e-3, 1e-6);
    g.tape_thickness_m = 12e-6;
    g.tape_length_m = 128.5875;
    assert_near(es_pack_radius(&g, 128.5875), 24.7420e-3, 1e-7);
    assert_near(es_pack_radius(&g, -1.0), 11e-3, 1e-15);
}

/* f = v / (2 pi R): 0.68907 Hz on an empty hub, 0.39588 Hz with equal packs, 0.30635 Hz full, and
 * 0.44920 Hz for the take-up after 600 s; worked by hand. */
static void turns_reels_as_their_packs_ask(void **state)
{
    (void)state;
    es_geometry g = es_geometry_defaults(ES_CASSETTE);
    assert_near(es_part_rate(&g, ES_PART_TAKE_UP, 0.0), 0.68907, 1e-5);
    assert_near(es_part_rate(&g, ES_PART_TAKE_UP, 0.5 * 85.725), 0.39588, 1e-5);
    assert_near(es_part_rate(&g, ES_PART_SUPPLY, 0.5 * 85.725), 0.39588, 1e-5);
    assert_near(es_part_rate(&g, ES_PART_SUPPLY, 0.0), 0.30635, 1e-5);
    assert_near(es_part_rate(&g, ES_PART_TAKE_UP, 600.0 * g.speed_m_s), 0.44920, 1e-5);
}

/* The sum of both packs' areas stays: 1/f1^2 + 1/f2^2 is the same all along the tape. */
static void keeps_the_sum_of_the_packs(void **state)
{
    (void)state;
    es_geometry g = es_geometry_defaults(ES_CASSETTE);
    double first = 0.0;
    for (int i = 0; i <= 10; i++) {
        double played = i * 0.1 * g.tape_length_m;
        double one = es_part_rate(&g, ES_PART_TAKE_UP, played);
        double two = es_part_rate(&g, ES_PART_SUPPLY, played);
        double sum = 1.0 / (one * one) + 1.0 / (two * two);
        first = i ? first : sum;
        assert_near(sum, first, 1e-9);
    }
}

/* v = pi f (d + h), h = 18 um: d 1.69 -> 8.876, 1.9 -> 7.904, 2.0 -> 7.51214, 2.4 -> 6.269,
 * 2.5 -> 6.020, 3.0 -> 5.023 Hz; a reel machine at 19.05 cm/s, 6 mm, 35 um -> 10.048 Hz. By hand. */
static void turns_the_capstan_at_the_neutral_plane(void **state)
{
    (void)state;
    static const double rows[][2] = {{1.69, 8.876}, {1.9, 7.904}, {2.0, 7.51214},
                                     {2.4, 6.269},  {2.5, 6.020}, {3.0, 5.023}};
    es_geometry g = es_geometry_defaults(ES_CASSETTE);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        g.capstan_m = rows[i][0] * 1e-3;
        assert_near(es_part_rate(&g, ES_PART_CAPSTAN, 0.0), rows[i][1], 6e-4);
    }
    g.capstan_m = 2.0e-3;
    assert_near(60.0 * es_part_rate(&g, ES_PART_CAPSTAN, 0.0), 450.73, 0.005);
    es_geometry reel = es_geometry_defaults(ES_REEL_19);
    reel.capstan_m = 6e-3;
    assert_near(es_part_rate(&reel, ES_PART_CAPSTAN, 0.0), 10.048, 5e-4);
}

/* From C60 to C90 tape (18 -> 12 um) a 2.0 mm capstan at the same turning rate slows the tape by
 * 0.2973 %: the ratio of d + h, by hand. */
static void tells_what_thinner_tape_does(void **state)
{
    (void)state;
    es_geometry thick = es_geometry_defaults(ES_CASSETTE), thin = thick;
    thick.capstan_m = thin.capstan_m = 2.0e-3;
    thin.tape_thickness_m = 12e-6;
    double slowed =
        es_part_rate(&thick, ES_PART_CAPSTAN, 0.0) / es_part_rate(&thin, ES_PART_CAPSTAN, 0.0) -
        1.0;
    assert_near(100.0 * slowed, -0.2973, 1e-4);
}

/* Worked identification: 2.5 mm capstan 6.020 Hz, 60 mm flywheel, 9 mm pulley -> motor 40.14 Hz;
 * 250 mm belt -> 4.54 Hz; 10 mm roller -> 1.516 Hz; a 20 mm idler on the flywheel -> 18.06 Hz. */
static void turns_everything_the_belt_drives(void **state)
{
    (void)state;
    es_geometry g = known_cassette();
    assert_near(es_part_rate(&g, ES_PART_MOTOR, 0.0), 40.14, 0.005);
    assert_near(es_part_rate(&g, ES_PART_BELT, 0.0), 4.54, 0.005);
    assert_near(es_part_rate(&g, ES_PART_PINCH_ROLLER, 0.0), 1.516, 5e-4);
    g.idler_m = 20e-3;
    assert_near(es_part_rate(&g, ES_PART_IDLER, 0.0), 18.06, 0.005);
}

static void an_unknown_size_gives_no_rate(void **state)
{
    (void)state;
    es_geometry g = es_geometry_defaults(ES_CASSETTE);
    for (int part = 0; part < ES_PART_COUNT; part++) {
        int reel = part == ES_PART_TAKE_UP || part == ES_PART_SUPPLY;
        assert_int_equal(isnan(es_part_rate(&g, (es_part)part, 0.0)) != 0, !reel);
    }
    g.capstan_m = 2e-3;
    g.flywheel_m = 60e-3;
    assert_true(isnan(es_part_rate(&g, ES_PART_MOTOR, 0.0)));
    g.tape_length_m = 0.0;
    assert_true(isnan(es_part_rate(&g, ES_PART_SUPPLY, 0.0)));
}

/* The slide is the derivative of the reel's rate: compared with a difference over 2 s. */
static void slides_reels_as_the_pack_grows(void **state)
{
    (void)state;
    es_geometry g = es_geometry_defaults(ES_CASSETTE);
    for (int minute = 1; minute < 30; minute += 4) {
        double at = minute * 60.0 * g.speed_m_s, step = g.speed_m_s;
        double take_up = (es_part_rate(&g, ES_PART_TAKE_UP, at + step) -
                          es_part_rate(&g, ES_PART_TAKE_UP, at - step)) *
                         30.0;
        double supply = (es_part_rate(&g, ES_PART_SUPPLY, at + step) -
                         es_part_rate(&g, ES_PART_SUPPLY, at - step)) *
                        30.0;
        assert_near(es_reel_slide(&g, es_part_rate(&g, ES_PART_TAKE_UP, at)), -take_up, 1e-6);
        assert_near(es_reel_slide(&g, es_part_rate(&g, ES_PART_SUPPLY, at)), supply, 1e-6);
    }
}

typedef struct suspicion {
    double rate_hz, slope;
    es_part part;
} suspicion;

static void check_all(const es_geometry *g, const suspicion *s, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (es_suspect_of(g, s[i].rate_hz, s[i].slope) != s[i].part)
            fail_msg("%g Hz, slope %g: \"%s\", expected \"%s\"", s[i].rate_hz, s[i].slope,
                     es_part_name(es_suspect_of(g, s[i].rate_hz, s[i].slope)),
                     es_part_name(s[i].part));
}

static void suspects_the_part_of_known_size(void **state)
{
    (void)state;
    es_geometry g = known_cassette();
    static const suspicion rows[] = {
        {6.02, UNKNOWN, ES_PART_CAPSTAN},
        {6.02 * 1.028, 0.0, ES_PART_CAPSTAN},
        {6.02 * 1.04, UNKNOWN, ES_PART_NONE},
        {1.516, UNKNOWN, ES_PART_PINCH_ROLLER},
        {4.54, UNKNOWN, ES_PART_BELT},
        {40.14, UNKNOWN, ES_PART_MOTOR},
        {80.28, UNKNOWN, ES_PART_MOTOR},  /* commutation of the brushes: */
        {120.42, UNKNOWN, ES_PART_MOTOR}, /* twice and three times       */
        {160.56, UNKNOWN, ES_PART_NONE},
        {6.02, 0.6, ES_PART_NONE}, /* a capstan does not slide */
        {0.5, UNKNOWN, ES_PART_REEL},
    };
    check_all(&g, rows, sizeof rows / sizeof *rows);
}

/* Two known parts that turn nearly alike: no guess. */
static void does_not_choose_between_twins(void **state)
{
    (void)state;
    es_geometry g = known_cassette();
    g.belt_m = ES_PI * g.flywheel_m * 1.01; /* 1 % slower than the capstan */
    assert_int_equal(es_suspect_of(&g, 6.0, (double)NAN), ES_PART_NONE);
    assert_int_equal(es_suspect_of(&g, 6.02 * 1.025, (double)NAN), ES_PART_NONE);
    g.belt_m = ES_PI * g.flywheel_m * 1.05;
    assert_int_equal(es_suspect_of(&g, 6.02, (double)NAN), ES_PART_CAPSTAN);
}

/* The usual ranges are common practice, no source. */
static void suspects_by_usual_ranges_only_where_they_tell(void **state)
{
    (void)state;
    es_geometry g = es_geometry_defaults(ES_CASSETTE);
    static const suspicion rows[] = {
        {0.15, UNKNOWN, ES_PART_NONE},
        {0.4, UNKNOWN, ES_PART_REEL},
        {0.9, UNKNOWN, ES_PART_NONE},
        {1.5, UNKNOWN, ES_PART_PINCH_ROLLER},
        {1.5, 0.3, ES_PART_NONE},
        {3.5, UNKNOWN, ES_PART_BELT},
        {7.5, UNKNOWN, ES_PART_CAPSTAN_OR_BELT},
        {18.0, UNKNOWN, ES_PART_NONE},
        {40.0, UNKNOWN, ES_PART_MOTOR},
        {50.0, UNKNOWN, ES_PART_NONE}, /* may be hum */
        {70.0, UNKNOWN, ES_PART_NONE},
        {UNKNOWN, UNKNOWN, ES_PART_NONE},
        {-1.0, UNKNOWN, ES_PART_NONE},
    };
    check_all(&g, rows, sizeof rows / sizeof *rows);
    g.capstan_m = 2.0e-3; /* 7.51 Hz: what turns at 6 Hz now is no capstan */
    assert_int_equal(es_suspect_of(&g, 6.0, (double)NAN), ES_PART_BELT);
    assert_int_equal(es_suspect_of(&g, 9.0, (double)NAN), ES_PART_NONE);
}

/* At 0.4492 Hz (600 s into a C60) the take-up slows by 0.0129 Hz a minute, 2 pi h f^3 / v. */
static void the_slope_tells_the_reels_apart(void **state)
{
    (void)state;
    es_geometry g = es_geometry_defaults(ES_CASSETTE);
    static const suspicion rows[] = {
        {0.4492, -0.0129, ES_PART_TAKE_UP}, {0.4492, 0.0129, ES_PART_SUPPLY},
        {0.4492, -0.0070, ES_PART_TAKE_UP}, {0.4492, 0.0020, ES_PART_REEL},
        {0.4492, -0.0500, ES_PART_NONE},
    };
    assert_near(es_reel_slide(&g, 0.4492), 0.0129, 1e-4);
    check_all(&g, rows, sizeof rows / sizeof *rows);
}

/* On a reel machine at 19.05 cm/s a full spool and a big pinch roller can turn alike. */
static void overlapping_ranges_need_the_slope(void **state)
{
    (void)state;
    es_geometry g = es_geometry_defaults(ES_REEL_19);
    double slide = es_reel_slide(&g, 1.3);
    assert_int_equal(es_suspect_of(&g, 1.3, (double)NAN), ES_PART_NONE);
    assert_int_equal(es_suspect_of(&g, 1.3, -slide), ES_PART_TAKE_UP);
    assert_int_equal(es_suspect_of(&g, 1.3, slide), ES_PART_SUPPLY);
    assert_int_equal(es_suspect_of(&g, 1.3, 0.0), ES_PART_PINCH_ROLLER);
    assert_int_equal(es_suspect_of(&g, 1.6, (double)NAN), ES_PART_PINCH_ROLLER);
    assert_int_equal(es_suspect_of(&g, 2.0, (double)NAN), ES_PART_NONE /* or a belt */);
    assert_int_equal(es_suspect_of(&g, 0.6, (double)NAN), ES_PART_REEL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(runs_at_the_exact_inch_speeds),
        cmocka_unit_test(knows_every_class_by_its_name),
        cmocka_unit_test(names_every_part),
        cmocka_unit_test(winds_packs_to_their_radius),
        cmocka_unit_test(turns_reels_as_their_packs_ask),
        cmocka_unit_test(keeps_the_sum_of_the_packs),
        cmocka_unit_test(turns_the_capstan_at_the_neutral_plane),
        cmocka_unit_test(tells_what_thinner_tape_does),
        cmocka_unit_test(turns_everything_the_belt_drives),
        cmocka_unit_test(an_unknown_size_gives_no_rate),
        cmocka_unit_test(slides_reels_as_the_pack_grows),
        cmocka_unit_test(suspects_the_part_of_known_size),
        cmocka_unit_test(does_not_choose_between_twins),
        cmocka_unit_test(suspects_by_usual_ranges_only_where_they_tell),
        cmocka_unit_test(the_slope_tells_the_reels_apart),
        cmocka_unit_test(overlapping_ranges_need_the_slope),
    };
    return cmocka_run_group_tests_name("tape/transport", tests, NULL, NULL);
}
