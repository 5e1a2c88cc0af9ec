/* Lines: known rates and amplitudes, close pairs, sliding reels, noise, breaks, short input. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "near.h"

#include "lines_signal.h"

#define ROOM 12

static es_component found[ROOM];
static es_flutter_spectrum spectrum;

/* --- steady lines --------------------------------------------------------------------- */

/* Least squares of a sine of known rate, straight from the definition, in double: the reference
 * for amplitudes. */
static double peak_by_sums(const double *x, size_t count, double hz)
{
    double re = 0.0, im = 0.0, weight = 0.0;
    for (size_t i = 0; i < count; i++) {
        double part = ((double)i + 0.5) / (double)count;
        double w = pow(sin(ES_PI * part), 4.0); /* another window than the module's */
        double angle = ES_TWO_PI * hz * (double)i / LINES_RATE_HZ;
        re += w * x[i] * cos(angle);
        im -= w * x[i] * sin(angle);
        weight += w;
    }
    return 2.0 * hypot(re, im) / weight;
}

static void reads_steady_lines_over_the_whole_band(void **state)
{
    (void)state;
    static const double hz[] = {0.1234, 0.3, 0.45, 0.689, 1.516, 4.54, 7.512, 27.03, 40.14, 199.0};
    static const double peak[] = {1e-5, 3e-4, 1e-2};
    es_lines *l = new_lines();
    size_t false_lines = 0; /* one in twenty captures is allowed */
    for (size_t i = 0; i < sizeof hz / sizeof *hz; i++)
        for (size_t k = 0; k < sizeof peak / sizeof *peak; k++) {
            fill_noise(60.0, 1e-3 * peak[k], 100 * i + k + 1);
            add_line(60.0, hz[i], 0.0, peak[k], 0.3 + (double)i);
            size_t n = measure(l, found, ROOM, &spectrum);
            assert_true(n >= 1);
            false_lines += n - 1;
            assert_near(found[0].rate_hz, hz[i], 0.01 / 60.0);
            assert_near(found[0].peak_percent, 100.0 * peak[k], 0.2 * peak[k]);
            assert_near(found[0].peak_percent,
                        100.0 * peak_by_sums(lines_signal, lines_count, hz[i]), 0.2 * peak[k]);
            assert_near(found[0].rate_slope_hz_per_min, 0.0, 1e-9);
            assert_near(found[0].share_percent, 100.0, 0.5);
            assert_int_equal(found[0].harmonics, 0);
            assert_true(found[0].suspect[0] == '\0');
        }
    assert_true(false_lines <= 2);
    es_lines_destroy(l);
}

/* 20 dB over the floor of a 60 s window. The mean over the seeds must be right within 3 %; a single
 * one scatters by 1 / sqrt(2 x 100) = 7 % at best because the noise itself does (Rice). */
static void reads_lines_20_db_over_the_floor(void **state)
{
    (void)state;
    enum { SEEDS = 60 };
    double sigma = 1e-4, mean = 0.0, squares = 0.0, rates = 0.0;
    double peak = sigma * sqrt(100.0 * 6.0 / (60.0 * LINES_RATE_HZ));
    es_lines *l = new_lines();
    for (unsigned seed = 0; seed < SEEDS; seed++) {
        fill_noise(60.0, sigma, 900 + seed);
        add_line(60.0, 7.512, 0.0, peak, (double)seed);
        size_t n = measure(l, found, ROOM, NULL);
        assert_true(n >= 1);
        assert_near(found[0].significance_db, 20.0, 4.0);
        double off = found[0].peak_percent / (100.0 * peak) - 1.0;
        mean += off / SEEDS;
        squares += off * off / SEEDS;
        rates += pow((found[0].rate_hz - 7.512) * 60.0, 2.0) / SEEDS;
    }
    assert_near(mean, 0.0, 0.03);
    assert_near(sqrt(squares), 0.07, 0.03);
    assert_near(sqrt(rates), 0.0, 0.1); /* of a turn per capture */
    es_lines_destroy(l);
}

/* Over ten minutes the windows' noise averages out: 20 dB over a window's floor is within 3 %. */
static void long_captures_average_the_noise(void **state)
{
    (void)state;
    double sigma = 1e-4, peak = sigma * sqrt(100.0 * 6.0 / (61.0 * LINES_RATE_HZ));
    es_lines *l = new_lines();
    for (unsigned seed = 0; seed < 4; seed++) {
        fill_noise(600.0, sigma, 40 + seed);
        add_line(600.0, 7.512, 0.0, peak, (double)seed);
        add_line(600.0, 0.33, 0.0, peak, (double)seed);
        assert_int_equal(measure(l, found, ROOM, NULL), 2);
        for (int k = 0; k < 2; k++) {
            assert_near(found[k].peak_percent, 100.0 * peak, 6.0 * peak); /* 2 s.d. of 3 % */
            assert_near(found[k].rate_hz, found[k].rate_hz > 1.0 ? 7.512 : 0.33, 0.1 / 61.0);
            assert_near(found[k].rate_slope_hz_per_min, 0.0, 1e-9);
        }
    }
    es_lines_destroy(l);
}

/* 8 dB over a window's floor: below what one window shows, clear in the mean of forty. */
static void finds_weak_steady_lines_in_long_captures(void **state)
{
    (void)state;
    double peak = 1e-4 * sqrt(6.3 * 6.0 / (61.0 * LINES_RATE_HZ));
    es_lines *l = new_lines();
    for (unsigned seed = 0; seed < 3; seed++) {
        fill_noise(1200.0, 1e-4, 70 + seed);
        add_line(1200.0, 4.54, 0.0, peak, 0.0);
        add_line(1200.0, 63.2, 0.0, peak, 0.0);
        assert_int_equal(measure(l, found, ROOM, NULL), 2);
        for (int k = 0; k < 2; k++) {
            assert_near(found[k].peak_percent, 100.0 * peak, 100.0 * peak * 0.12);
            assert_near(found[k].rate_hz, found[k].rate_hz < 10.0 ? 4.54 : 63.2, 0.3 / 61.0);
        }
    }
    es_lines_destroy(l);
}

/* Without any noise the arithmetic's own shows no lines. */
static void makes_no_lines_of_its_own(void **state)
{
    (void)state;
    static const double length[] = {20.0, 60.0, 150.0};
    es_lines *l = new_lines();
    for (int i = 0; i < 3; i++) {
        fill_noise(length[i], 0.0, 1);
        add_line(length[i], 7.512, 0.0, 1e-3, 0.2);
        add_line(length[i], 0.6, 0.0, 1e-2, 0.2);
        assert_int_equal(measure(l, found, ROOM, NULL), 2);
        assert_near(found[0].peak_percent, 1.0, 0.001);
        assert_near(found[1].peak_percent, 0.1, 0.0001);
    }
    es_lines_destroy(l);
}

/* A line whose rate and size wander is one line, not a crowd. */
static void a_restless_line_is_one_line(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    for (unsigned seed = 0; seed < 4; seed++) {
        double turns = 0.0, wander = 0.0;
        uint64_t s = 99 + seed;
        fill_noise(300.0, 1e-4, 500 + seed);
        for (size_t i = 0; i < lines_count; i++) {
            wander = 0.9997 * wander + 0.0009 * (lines_uniform(&s) - 0.5); /* about 0.01 Hz */
            turns += (7.512 + wander) / LINES_RATE_HZ;
            double size = 1.0 + 0.1 * sin(ES_TWO_PI * 0.013 * (double)i / LINES_RATE_HZ);
            lines_signal[i] += 5e-3 * size * sin(ES_TWO_PI * turns);
        }
        size_t n = measure(l, found, ROOM, NULL);
        assert_true(n >= 1 && n <= 2);
        assert_near(found[0].rate_hz, 7.512, 0.02);
        assert_near(found[0].peak_percent, 0.5, 0.015);
        assert_true(n == 1 || found[1].peak_percent < 0.005);
    }
    es_lines_destroy(l);
}

/* --- pairs and families ------------------------------------------------------------------ */

static void groups_harmonics_under_their_fundamental(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    fill_noise(60.0, 1e-5, 5);
    add_line(60.0, 7.512, 0.0, 5e-4, 0.1);
    add_line(60.0, 15.024, 0.0, 2e-4, 0.2);
    add_line(60.0, 22.536, 0.0, 1e-4, 0.4);
    add_line(60.0, 0.689, 0.0, 3e-4, 0.3); /* 10.9 turns to one of the capstan: a stranger */
    add_line(60.0, 1.516, 0.0, 1e-4, 0.7); /* 2.2 turns of the reel: a stranger */
    assert_int_equal(measure(l, found, ROOM, NULL), 3);
    assert_near(found[0].rate_hz, 7.512, 1e-3);
    assert_near(found[0].peak_percent, 0.05, 5e-4);
    assert_int_equal(found[0].harmonics, 2);
    assert_int_equal(found[1].harmonics + found[2].harmonics, 0);
    /* the family's part of all power: 25 + 4 + 1 of 25 + 4 + 1 + 9 + 1 (and the noise) */
    assert_near(found[0].share_percent, 100.0 * 30.0 / 40.0, 1.0);
    es_lines_destroy(l);
}

static void near_multiples_stay_apart(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    fill_noise(60.0, 1e-5, 6);
    add_line(60.0, 0.45, 0.0, 5e-4, 0.1);
    add_line(60.0, 0.92, 0.0, 2e-4, 0.2);  /* 2.04 */
    add_line(60.0, 7.512, 0.0, 2e-4, 0.2); /* 16.7 */
    assert_int_equal(measure(l, found, ROOM, NULL), 3);
    for (int k = 0; k < 3; k++)
        assert_int_equal(found[k].harmonics, 0);
    es_lines_destroy(l);
}

static void parts_two_lines_that_are_close(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    for (unsigned seed = 0; seed < 8; seed++) {
        size_t slow = 0;
        fill_noise(120.0, 2e-5, 60 + seed);
        add_line(120.0, 0.40, 0.0, 4e-4, 0.12 * seed);
        add_line(120.0, 0.46, 0.0, 2e-4, 0.31 * seed);
        size_t n = measure(l, found, ROOM, NULL);
        for (size_t k = 0; k < n; k++)
            slow += found[k].rate_hz < 2.0; /* further up, chance may have its one in twenty */
        assert_int_equal(slow, 2);
        assert_near(found[0].rate_hz, 0.40, 0.1 / 61.0);
        assert_near(found[1].rate_hz, 0.46, 0.1 / 61.0);
        assert_near(found[0].peak_percent, 0.04, 0.0012);
        assert_near(found[1].peak_percent, 0.02, 0.0006);
    }
    es_lines_destroy(l);
}

/* --- sliding rates ------------------------------------------------------------------------- */

/* Reel rate from the pack's geometry (handbook): R^2 = R0^2 + v t h / pi, f = v / (2 pi R). Turns in
 * time t: (R(t) - R0) / h. 4.7625 cm/s, 18 um tape, 11 mm hub. */
#define TAPE_M_S 0.047625
#define TAPE_M 18e-6
#define HUB_M 11e-3

static double pack_radius(double begin_m, double t)
{
    return sqrt(begin_m * begin_m + TAPE_M_S * t * TAPE_M / ES_PI);
}

static double reel_hz(double radius_m)
{
    return TAPE_M_S / (ES_TWO_PI * radius_m);
}

/* begin: radius at the start; direction +1 take-up, -1 supply. */
static void add_reel(double length_s, double begin_m, double direction, double peak)
{
    for (size_t i = 0; i < lines_count && (double)i < length_s * LINES_RATE_HZ; i++) {
        double radius = pack_radius(begin_m, direction * (double)i / LINES_RATE_HZ);
        double turns = direction * (radius - begin_m) / TAPE_M;
        lines_signal[i] += peak * sin(ES_TWO_PI * turns);
    }
}

/* d f / d t of the reel [Hz/min] from its radius: -+ f v h / (2 pi R^2). */
static double reel_slope(double radius_m, double direction)
{
    return -direction * 60.0 * reel_hz(radius_m) * TAPE_M_S * TAPE_M /
           (ES_TWO_PI * radius_m * radius_m);
}

static int near_rate(size_t n, double hz, double tolerance)
{
    for (size_t k = 0; k < n; k++)
        if (fabs(found[k].rate_hz - hz) < tolerance)
            return (int)k;
    return -1;
}

static void follows_both_reels_for_twenty_minutes(void **state)
{
    (void)state;
    const double length = 1200.0, full_m = 24.742e-3;
    es_lines *l = new_lines();
    for (unsigned seed = 0; seed < 3; seed++) {
        fill_noise(length, 1e-4, 80 + seed);
        add_reel(length, HUB_M, 1.0, 4e-4);
        add_reel(length, full_m, -1.0, 3e-4);
        add_line(length, 7.512, 0.0, 2e-4, 0.0);
        size_t n = measure(l, found, ROOM, NULL);
        assert_int_equal(n, 3);
        double take_m = pack_radius(HUB_M, length / 2.0);
        double give_m = pack_radius(full_m, -length / 2.0);
        int take = near_rate(n, reel_hz(take_m), 0.004),
            give = near_rate(n, reel_hz(give_m), 0.004);
        assert_true(take >= 0 && give >= 0);
        assert_near(found[take].rate_slope_hz_per_min, reel_slope(take_m, 1.0), 0.0015);
        assert_near(found[give].rate_slope_hz_per_min, reel_slope(give_m, -1.0), 0.001);
        assert_near(found[take].peak_percent, 0.04, 0.04 * 0.03);
        assert_near(found[give].peak_percent, 0.03, 0.03 * 0.03);
    }
    es_lines_destroy(l);
}

static void tells_the_slope_within_a_minute_when_it_can(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    fill_noise(60.0, 1e-4, 90);
    add_reel(60.0, HUB_M, 1.0, 4e-4);       /* -0.04 Hz/min: stands out                  */
    add_line(60.0, 7.512, 0.0, 4e-4, 0.0);  /* steady, and known to be                   */
    add_line(60.0, 0.25, 0.0, 1.1e-5, 0.0); /* weak and slow: too weak for any slope     */
    size_t n = measure(l, found, ROOM, NULL);
    double middle = pack_radius(HUB_M, 30.0);
    int reel = near_rate(n, reel_hz(middle), 0.002), weak = near_rate(n, 0.25, 0.005);
    int capstan = near_rate(n, 7.512, 0.001);
    assert_true(reel >= 0 && weak >= 0 && capstan >= 0);
    assert_near(found[reel].rate_slope_hz_per_min, reel_slope(middle, 1.0), 0.002);
    assert_near(found[capstan].rate_slope_hz_per_min, 0.0, 1e-12);
    assert_true(isnan(found[weak].rate_slope_hz_per_min));
    es_lines_destroy(l);
}

/* A take-up reel for 45 min, more windows than a track has marks. */
static void follows_a_reel_for_a_whole_side(void **state)
{
    (void)state;
    const double piece = 300.0, length = 2700.0;
    es_lines *l = new_lines();
    for (int i = 0; i < 9; i++) {
        fill_noise(piece, 1e-4, 300 + (unsigned)i);
        for (size_t k = 0; k < lines_count; k++) {
            double t = (double)k / LINES_RATE_HZ + piece * i;
            double turns = (pack_radius(HUB_M, t) - HUB_M) / TAPE_M;
            lines_signal[k] += 3e-4 * sin(ES_TWO_PI * turns);
        }
        es_lines_push(l, lines_signal, lines_count);
    }
    double middle = pack_radius(HUB_M, length / 2.0);
    assert_int_equal(es_lines_finish(l, found, ROOM, NULL), 1);
    assert_near(found[0].rate_hz, reel_hz(middle), 0.002);
    assert_near(found[0].rate_slope_hz_per_min, reel_slope(middle, 1.0), 0.0005);
    assert_near(found[0].peak_percent, 0.03, 0.0006);
    es_lines_destroy(l);
}

static void follows_a_fast_slide(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    static const double slope[] = {-0.1, 0.06, 0.1};
    for (int i = 0; i < 3; i++) {
        fill_noise(300.0, 1e-4, 95);
        add_line(300.0, 4.54, slope[i], 3e-4, 0.0);
        assert_int_equal(measure(l, found, ROOM, NULL), 1);
        assert_near(found[0].rate_hz, 4.54, 0.002);
        assert_near(found[0].rate_slope_hz_per_min, slope[i], 0.001);
        assert_near(found[0].peak_percent, 0.03, 0.0009);
    }
    es_lines_destroy(l);
}

/* --- noise --------------------------------------------------------------------------------- */

/* At most one false line in twenty captures (of these seeds). */
static void noise_alone_is_no_line(void **state)
{
    (void)state;
    static const double length[] = {6.0, 60.0};
    es_lines *l = new_lines();
    for (int shape = 0; shape < 3; shape++)
        for (int i = 0; i < 2; i++) {
            size_t lines = 0;
            for (unsigned seed = 0; seed < 40; seed++) {
                fill_noise(length[i], 1e-4, 3000 + seed);
                colour_noise(shape);
                lines += measure(l, found, ROOM, NULL);
            }
            assert_true(lines <= 2);
        }
    es_lines_destroy(l);
}

/* The skirts of a line 84 dB over the noise fill much of a short capture's slow rates; the floor below
 * must not be taken for what they would fall to. */
static void a_strong_line_of_a_short_capture_stands_alone(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    size_t lines = 0;
    for (unsigned seed = 0; seed < 60; seed++) {
        fill_noise(6.0, 1e-4, 8000 + seed);
        add_line(6.0, 7.512, 0.0, 5e-2, 0.3 * seed);
        lines += measure(l, found, ROOM, NULL);
    }
    assert_in_range(lines, 60, 65);
    es_lines_destroy(l);
}

static void finds_lines_15_db_over_the_floor(void **state)
{
    (void)state;
    static const double hz[] = {0.3, 0.45, 1.516, 7.512, 40.14};
    double peak = 1e-4 * sqrt(31.6 * 6.0 / (60.0 * LINES_RATE_HZ));
    es_lines *l = new_lines();
    size_t hits = 0, captures = 0;
    for (size_t i = 0; i < sizeof hz / sizeof *hz; i++)
        for (unsigned seed = 0; seed < 30; seed++, captures++) {
            fill_noise(60.0, 1e-4, 5000 + seed);
            add_line(60.0, hz[i], 0.0, peak, 0.7 * seed);
            size_t n = measure(l, found, ROOM, NULL);
            hits += near_rate(n, hz[i], 1.0 / 60.0) >= 0;
        }
    assert_true(hits * 100 >= 95 * captures);
    es_lines_destroy(l);
}

/* What is left of a mean and of a drift is no line and hides none. */
static void a_drift_is_no_line(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    fill_noise(60.0, 2e-5, 11);
    add_line(60.0, 0.45, 0.0, 1e-4, 0.0);
    for (size_t i = 0; i < lines_count; i++) {
        double t = (double)i / LINES_RATE_HZ / 60.0;
        lines_signal[i] += 2e-3 + 3e-3 * t + 1e-3 * exp(-3.0 * t);
    }
    assert_int_equal(measure(l, found, ROOM, NULL), 1);
    assert_near(found[0].rate_hz, 0.45, 0.002);
    assert_near(found[0].peak_percent, 0.01, 3e-4);
    es_lines_destroy(l);
}

/* --- spectrum -------------------------------------------------------------------------------- */

static void draws_lines_and_floor(void **state)
{
    (void)state;
    const double sigma = 1e-4;
    es_lines *l = new_lines();
    fill_noise(300.0, sigma, 21);
    add_line(300.0, 7.512, 0.0, 5e-4, 0.0);
    measure(l, found, ROOM, &spectrum);
    assert_int_equal(spectrum.count, ES_SPECTRUM_POINTS);
    assert_near((double)spectrum.rate_hz[0], 0.1, 1e-6);
    assert_near((double)spectrum.rate_hz[ES_SPECTRUM_POINTS - 1], LINES_HIGH_HZ, 0.02);
    /* white noise of variance s^2 under Hann weights: peak^2 = 6 s^2 / length */
    double window = 36864.0 * 2.0, floor = 100.0 * sigma * sqrt(6.0 / window);
    float largest = 0.0f;
    for (size_t i = 0; i < ES_SPECTRUM_POINTS; i++) {
        assert_near((double)spectrum.floor_percent[i], floor, 0.2 * floor);
        largest = fmaxf(largest, spectrum.peak_percent[i]);
    }
    assert_near((double)largest, 0.05, 0.05 * 0.02);
    es_lines_destroy(l);
}

static void short_captures_leave_slow_rates_unknown(void **state)
{
    (void)state;
    es_lines *l = new_lines();
    fill_noise(6.0, 1e-6, 31);
    add_line(6.0, 7.512, 0.0, 5e-4, 0.0);
    assert_int_equal(measure(l, found, ROOM, &spectrum), 1);
    assert_near(found[0].rate_hz, 7.512, 0.1 / 6.0);
    assert_near(found[0].peak_percent, 0.05, 0.0015);
    assert_true(isnan(spectrum.peak_percent[0]) && isnan(spectrum.floor_percent[0]));
    assert_true(spectrum.peak_percent[ES_SPECTRUM_POINTS - 1] > 0.0f);
    fill_noise(3.0, 1e-6, 32);
    add_line(3.0, 7.512, 0.0, 5e-4, 0.0);
    assert_int_equal(measure(l, found, ROOM, &spectrum), 1);
    assert_near(found[0].rate_hz, 7.512, 0.1 / 3.0);
    es_lines_destroy(l);
}

static void too_little_gives_nothing(void **state)
{
    (void)state;
    static const double length[] = {0.0, 0.01, 1.0, 2.0};
    es_lines *l = new_lines();
    for (int i = 0; i < 4; i++) {
        fill_noise(length[i], 1e-6, 33);
        add_line(length[i], 7.512, 0.0, 5e-4, 0.0);
        assert_int_equal(measure(l, found, ROOM, &spectrum), 0);
        assert_int_equal(spectrum.count, 0);
    }
    es_lines_destroy(l);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_steady_lines_over_the_whole_band),
        cmocka_unit_test(reads_lines_20_db_over_the_floor),
        cmocka_unit_test(long_captures_average_the_noise),
        cmocka_unit_test(finds_weak_steady_lines_in_long_captures),
        cmocka_unit_test(makes_no_lines_of_its_own),
        cmocka_unit_test(a_restless_line_is_one_line),
        cmocka_unit_test(groups_harmonics_under_their_fundamental),
        cmocka_unit_test(near_multiples_stay_apart),
        cmocka_unit_test(parts_two_lines_that_are_close),
        cmocka_unit_test(follows_both_reels_for_twenty_minutes),
        cmocka_unit_test(tells_the_slope_within_a_minute_when_it_can),
        cmocka_unit_test(follows_a_reel_for_a_whole_side),
        cmocka_unit_test(follows_a_fast_slide),
        cmocka_unit_test(noise_alone_is_no_line),
        cmocka_unit_test(a_strong_line_of_a_short_capture_stands_alone),
        cmocka_unit_test(finds_lines_15_db_over_the_floor),
        cmocka_unit_test(a_drift_is_no_line),
        cmocka_unit_test(draws_lines_and_floor),
        cmocka_unit_test(short_captures_leave_slow_rates_unknown),
        cmocka_unit_test(too_little_gives_nothing),
    };
    return cmocka_run_group_tests_name("signal/lines", tests, NULL, NULL);
}
