#include "cm.h"

#include "alloc_sweep.h"
#include "evenspool/base/units.h"
#include "evenspool/signal/marker.h"
#include "signal/biquad.h"
#include "signal/marker_code.h"
#include "tone.h"

#include <stdlib.h>
#include <string.h>

#define FRAMES (6 * 192000)

static float sound[2 * FRAMES]; /* left, right, left ... */

/* A burst on a tape that runs at `speed`, with one sinusoid of flutter, before noise and band limits. */
typedef struct play {
    es_marker_code code;
    double rate_hz, start_s, length_s, speed, flutter, flutter_hz, noise_rms, gain[2];
    int band;
    uint64_t seed;
} play;

static const play plain = {.code = {4711, 2, 17},
                           .rate_hz = 48000,
                           .start_s = 1.0,
                           .length_s = 4.5,
                           .speed = 1.0,
                           .gain = {0.3, 0.3}};

static double tape_time(const play *p, double t)
{
    double turn = ES_TWO_PI * p->flutter_hz;
    double wobble = p->flutter_hz > 0.0 ? p->flutter * (1.0 - cos(turn * t)) / turn : 0.0;
    return p->speed * (t + wobble);
}

static size_t fill(play p)
{
    es_marker_burst burst;
    es_biquad band[2][4] = {0};
    size_t frames = (size_t)(p.length_s * p.rate_hz);
    assert_true(frames <= FRAMES);
    assert_int_equal(es_marker_burst_make(p.code, &burst), ES_OK);
    for (int c = 0; c < 2; c++) {
        es_butterworth_high(band[c], 4, 300.0, p.rate_hz);
        es_butterworth_low(band[c] + 2, 4, fmin(5000.0, 0.45 * p.rate_hz), p.rate_hz);
    }
    for (size_t i = 0; i < frames; i++) {
        double t = (double)i / p.rate_hz - p.start_s;
        double x = es_marker_burst_at(&burst, tape_time(&p, t));
        for (int c = 0; c < 2; c++) {
            double y =
                p.gain[c] * x + (p.noise_rms > 0.0 ? p.noise_rms * test_gauss(&p.seed) : 0.0);
            sound[2 * i + (size_t)c] = (float)(p.band ? es_biquads_step(band[c], 4, y) : y);
        }
    }
    return frames;
}

static size_t find(double rate_hz, size_t from, size_t frames, es_marker_find *out, size_t room)
{
    es_marker_finder *f;
    assert_int_equal(es_marker_finder_create(rate_hz, &f), ES_OK);
    es_marker_finder_push(f, sound + 2 * from, sound + 2 * from + 1, 2, frames);
    es_marker_finder_finish(f);
    size_t count = es_marker_finder_take(f, out, room);
    es_marker_finder_destroy(f);
    return count;
}

static void assert_code(es_marker_code found, es_marker_code expected)
{
    assert_int_equal(found.programme, expected.programme);
    assert_int_equal(found.side, expected.side);
    assert_int_equal(found.section, expected.section);
}

/* --- the code ------------------------------------------------------------------------------- */

/* CRC-24 of RFC 4880: "123456789" gives 0x21CF02 (catalogue value, from memory). */
static void check_sum_is_that_of_the_rfc(void **state)
{
    (void)state;
    assert_int_equal(es_marker_check_sum((const unsigned char *)"123456789", 9), 0x21CF02);
}

static void every_code_comes_back(void **state)
{
    (void)state;
    unsigned char groups[ES_MARKER_DATA];
    es_marker_code back;
    for (unsigned programme = 0; programme <= 0xFFFF; programme += 127)
        for (unsigned side = 0; side < 4; side++) {
            es_marker_code code = {programme, side, (programme + 37 * side) & 0xFF};
            assert_int_equal(es_marker_groups(code, groups), ES_OK);
            assert_true(es_marker_read(groups, &back));
            assert_code(back, code);
        }
}

/* A 24-bit check sum whose generator has more than one term sees every burst of up to 24 bits, so
 * every change of one group. */
static void a_wrong_group_is_never_taken(void **state)
{
    (void)state;
    unsigned char groups[ES_MARKER_DATA];
    es_marker_code back;
    assert_int_equal(es_marker_groups(plain.code, groups), ES_OK);
    for (int i = 0; i < ES_MARKER_DATA; i++)
        for (unsigned char change = 1; change < 16; change++) {
            groups[i] ^= change;
            assert_false(es_marker_read(groups, &back));
            groups[i] ^= change;
        }
}

static void a_code_out_of_range_is_refused(void **state)
{
    (void)state;
    static const es_marker_code bad[] = {{65536, 1, 1}, {1, 4, 1}, {1, 1, 256}};
    es_marker_burst burst;
    for (size_t k = 0; k < COUNT(bad); k++) {
        assert_int_equal(es_marker_burst_make(bad[k], &burst), ES_ERR_ARG);
        assert_near(burst.hz[0], 0.0, 0.0);
    }
}

/* The definition of a Costas array: no two pairs of marks lie in the same direction and distance. */
static void the_pattern_fits_only_itself(void **state)
{
    (void)state;
    for (int half = 0; half < ES_MARKER_HALVES; half++)
        for (int apart = 1; apart < ES_MARKER_SYNC; apart++)
            for (int i = 0; i + apart < ES_MARKER_SYNC; i++)
                for (int k = i + 1; k + apart < ES_MARKER_SYNC; k++) {
                    double a =
                        es_marker_sync_steps(half, i + apart) - es_marker_sync_steps(half, i);
                    double b =
                        es_marker_sync_steps(half, k + apart) - es_marker_sync_steps(half, k);
                    assert_true(fabs(a - b) > 1.0);
                }
}

static void a_burst_has_no_clicks(void **state)
{
    (void)state;
    es_marker_burst burst;
    assert_int_equal(es_marker_burst_make(plain.code, &burst), ES_OK);
    double before = 0.0, most = 0.0, steepest = 0.0, rate = 192000.0;
    for (double i = -100.0; i < ES_MARKER_S * rate + 100.0; i += 1.0) {
        double x = es_marker_burst_at(&burst, i / rate);
        most = fmax(most, fabs(x));
        steepest = fmax(steepest, fabs(x - before));
        before = x;
    }
    /* no steeper than the highest tone, 800 Hz x 1.1^15 = 3341.8 Hz */
    assert_true(most <= 1.0 && most > 0.999);
    assert_true(steepest <= ES_TWO_PI * 3341.8 / rate);
    assert_near(es_marker_burst_at(&burst, 0.0), 0.0, 0.0);
    assert_near(es_marker_burst_at(&burst, ES_MARKER_S), 0.0, 0.0);
    assert_near(es_marker_burst_at(&burst, (double)NAN), 0.0, 0.0);
}

/* --- finding -------------------------------------------------------------------------------- */

static void finds_a_marker_at_any_speed(void **state)
{
    (void)state;
    for (double speed = 0.88; speed < 1.121; speed += 0.02) {
        play p = plain;
        es_marker_find f[2];
        p.speed = speed;
        size_t frames = fill(p);
        assert_int_equal(find(p.rate_hz, 0, frames, f, 2), 1);
        assert_code(f[0].code, p.code);
        assert_near(f[0].start_s, p.start_s, 0.0015);
        assert_near(f[0].end_s, p.start_s + ES_MARKER_S / speed, 0.0015);
        assert_near(f[0].speed / speed, 1.0, 0.001);
        assert_true(f[0].clarity > 0.9 && f[0].clarity <= 1.0);
        assert_int_equal(f[0].halves, 3);
    }
}

static void finds_a_marker_at_any_rate(void **state)
{
    (void)state;
    static const double rates[] = {8000, 11025, 16000, 22050, 44100, 88200, 96000, 192000};
    for (size_t k = 0; k < COUNT(rates); k++) {
        play p = plain;
        es_marker_find f;
        p.rate_hz = rates[k];
        p.speed = 1.07;
        size_t frames = fill(p);
        assert_int_equal(find(p.rate_hz, 0, frames, &f, 1), 1);
        assert_code(f.code, p.code);
        assert_near(f.start_s, p.start_s, 0.002);
    }
}

/* The limits of the promise, one channel dead or turned over (benchmarks/bench_marker.c has 1000 of these). */
static void finds_a_marker_at_the_limits(void **state)
{
    (void)state;
    static const struct {
        double speed, flutter_hz, left, right;
    } limits[] = {{0.88, 0.5, 0.1, 0.0},  {1.12, 5.0, 0.0, -0.1}, {0.88, 30.0, 0.1, -0.1},
                  {1.12, 2.0, -0.1, 0.1}, {0.94, 10.0, 0.0, 0.1}, {1.06, 1.0, -0.1, -0.1}};
    for (size_t k = 0; k < COUNT(limits); k++) {
        play p = plain;
        es_marker_find f;
        p.speed = limits[k].speed;
        p.flutter = 0.01;
        p.flutter_hz = limits[k].flutter_hz;
        p.gain[0] = limits[k].left;
        p.gain[1] = limits[k].right;
        p.band = 1;
        p.noise_rms = 0.1 / sqrt(2.0) * pow(10.0, -15.0 / 20.0) * sqrt(24000.0 / 4700.0);
        p.seed = k + 1;
        size_t frames = fill(p);
        assert_int_equal(find(p.rate_hz, 0, frames, &f, 1), 1);
        assert_code(f.code, p.code);
        assert_near(f.start_s, p.start_s, 0.007);
    }
}

/* Half of it is 1.104 s. */
static void either_half_is_enough(void **state)
{
    (void)state;
    play p = plain;
    es_marker_find f;
    size_t frames = fill(p), cut = (size_t)(48000 * 2.0);
    assert_int_equal(find(p.rate_hz, cut, frames - cut, &f, 1), 1);
    assert_code(f.code, p.code);
    assert_int_equal(f.halves, 2);
    assert_near(f.start_s, -1.0, 0.005);
    assert_near(f.end_s, ES_MARKER_S - 1.0, 0.003);
    assert_int_equal(find(p.rate_hz, 0, (size_t)(48000 * 2.2), &f, 1), 1);
    assert_code(f.code, p.code);
    assert_int_equal(f.halves, 1);
    assert_near(f.start_s, 1.0, 0.003);
    assert_int_equal(find(p.rate_hz, 0, (size_t)(48000 * 1.9), &f, 1), 0);
}

/* Too short a capture, silence, hiss, tones, and samples that are not numbers. */
static void nothing_is_found_where_nothing_is(void **state)
{
    (void)state;
    es_marker_find f;
    uint64_t seed = 6;
    assert_int_equal(find(48000, 0, 0, &f, 1), 0);
    for (int kind = 0; kind < 4; kind++) {
        for (size_t i = 0; i < 480000; i++) {
            double turns = (double)i / 48000.0 * (kind == 2 ? 1000.0 : 100.0);
            double x = kind == 1   ? 0.1 * test_gauss(&seed)
                       : kind == 2 ? sin(ES_TWO_PI * turns)
                                   : 0.0;
            sound[2 * i] = sound[2 * i + 1] = kind == 3 ? (float)NAN : (float)x;
        }
        assert_int_equal(find(48000, 0, 480000, &f, 1), 0);
    }
}

static void bad_samples_spoil_only_their_moment(void **state)
{
    (void)state;
    play p = plain;
    es_marker_find f;
    size_t frames = fill(p);
    for (size_t i = 0; i < 100; i++) {
        sound[2 * (60000 + i)] = (float)NAN;
        sound[2 * (90000 + i) + 1] = (float)HUGE_VAL;
    }
    assert_int_equal(find(p.rate_hz, 0, frames, &f, 1), 1);
    assert_code(f.code, p.code);
}

static void markers_come_out_in_order_and_soon(void **state)
{
    (void)state;
    es_marker_finder *finder;
    assert_int_equal(es_marker_finder_create(48000, &finder), ES_OK);
    for (unsigned k = 0; k < 3; k++) {
        play p = plain;
        es_marker_find f[2];
        p.code.section = k;
        p.start_s = 0.3;
        p.length_s = 0.3 + ES_MARKER_S;
        size_t frames = fill(p), soon = (size_t)(0.3 * 48000);
        es_marker_finder_push(finder, sound, NULL, 2, frames);
        assert_int_equal(es_marker_finder_take(finder, f, 2), 0);
        memset(sound, 0, 2 * soon * sizeof *sound);
        es_marker_finder_push(finder, sound, sound + 1, 2, soon);
        assert_int_equal(es_marker_finder_take(finder, f, 2), 1);
        assert_code(f[0].code, p.code);
        assert_near(f[0].start_s, 0.3 + k * (0.6 + ES_MARKER_S), 0.002);
    }
    es_marker_finder_destroy(finder);
}

static void those_not_taken_wait_up_to_64(void **state)
{
    (void)state;
    es_marker_finder *finder;
    es_marker_find f[70];
    assert_int_equal(es_marker_finder_create(8000, &finder), ES_OK);
    for (unsigned k = 0; k < 66; k++) {
        play p = plain;
        p.rate_hz = 8000;
        p.start_s = 0.2;
        p.length_s = 2.8;
        p.code.section = k;
        size_t frames = fill(p);
        es_marker_finder_push(finder, sound, sound + 1, 2, frames);
    }
    es_marker_finder_finish(finder);
    assert_int_equal(es_marker_finder_take(finder, f, 10), 10);
    assert_int_equal(f[9].code.section, 9);
    assert_int_equal(es_marker_finder_take(finder, f, 70), 54);
    assert_int_equal(f[53].code.section, 63);
    es_marker_finder_reset(finder);
    assert_int_equal(es_marker_finder_take(finder, f, 70), 0);
    es_marker_finder_destroy(finder);
}

static void any_block_size_finds_the_same(void **state)
{
    (void)state;
    play p = plain;
    es_marker_find whole, cut;
    p.noise_rms = 0.02;
    p.seed = 3;
    size_t frames = fill(p);
    assert_int_equal(find(p.rate_hz, 0, frames, &whole, 1), 1);
    es_marker_finder *f;
    assert_int_equal(es_marker_finder_create(p.rate_hz, &f), ES_OK);
    alloc_probe_reset();
    es_marker_finder_push(f, sound, NULL, 2, 30000);
    es_marker_finder_reset(f);
    for (size_t at = 0, n = 1; at < frames; at += n, n = n * 3 % 4099 + 1) {
        n = n < frames - at ? n : frames - at;
        es_marker_finder_push(f, sound + 2 * at, sound + 2 * at + 1, 2, n);
    }
    es_marker_finder_finish(f);
    assert_int_equal(es_marker_finder_take(f, &cut, 1), 1);
    assert_int_equal(alloc_probe_calls(), 0);
    assert_true(cut.start_s == whole.start_s && cut.end_s == whole.end_s &&
                cut.clarity == whole.clarity);
    es_marker_finder_destroy(f);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_marker_finder *f = NULL;
    long n;
    assert_int_equal(es_marker_finder_create(7000, &f), ES_ERR_ARG);
    assert_int_equal(es_marker_finder_create((double)NAN, &f), ES_ERR_ARG);
    ALLOC_SWEEP(n, es_marker_finder_create(48000, &f), f);
    assert_true(n > 5);
    es_marker_finder_destroy(f);
    es_marker_finder_destroy(NULL);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(check_sum_is_that_of_the_rfc),
        cmocka_unit_test(every_code_comes_back),
        cmocka_unit_test(a_wrong_group_is_never_taken),
        cmocka_unit_test(a_code_out_of_range_is_refused),
        cmocka_unit_test(the_pattern_fits_only_itself),
        cmocka_unit_test(a_burst_has_no_clicks),
        cmocka_unit_test(finds_a_marker_at_any_speed),
        cmocka_unit_test(finds_a_marker_at_any_rate),
        cmocka_unit_test(finds_a_marker_at_the_limits),
        cmocka_unit_test(either_half_is_enough),
        cmocka_unit_test(nothing_is_found_where_nothing_is),
        cmocka_unit_test(bad_samples_spoil_only_their_moment),
        cmocka_unit_test(markers_come_out_in_order_and_soon),
        cmocka_unit_test(those_not_taken_wait_up_to_64),
        cmocka_unit_test(any_block_size_finds_the_same),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("signal/marker", tests, NULL, NULL);
}
