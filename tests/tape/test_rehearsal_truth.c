#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* The truth that the rehearsal deck tells, against what can be worked out from its samples alone
 * or by hand from the settings. */
#include "evenspool/tape/rehearsal.h"
#include "near.h"

#include <stdlib.h>
#include <string.h>

#define TWO_PI 6.283185307179586476925286766559

/* A capture with everything known about it. */
typedef struct capture {
    size_t frames;
    float *stereo;
    double *error, *flutter;
    es_rehearsal_truth truth;
    double way_s, time_s;
} capture;

static capture played(const es_scenario *scenario, double rate_hz, double seconds)
{
    capture c = {.frames = (size_t)llround(seconds * rate_hz)};
    es_rehearsal *deck;
    c.stereo = malloc(2 * c.frames * sizeof *c.stereo);
    c.error = malloc(c.frames * sizeof *c.error);
    c.flutter = malloc(c.frames * sizeof *c.flutter);
    assert_true(c.stereo && c.error && c.flutter);
    assert_int_equal(es_rehearsal_create(scenario, rate_hz, &deck), ES_OK);
    es_rehearsal_render_with_truth(deck, c.stereo, c.error, c.flutter, c.frames);
    c.truth = es_rehearsal_truth_of(deck);
    c.way_s = es_rehearsal_way_s(deck);
    c.time_s = es_rehearsal_time_s(deck);
    es_rehearsal_destroy(deck);
    return c;
}

static void drop(capture *c)
{
    free(c->stereo);
    free(c->error);
    free(c->flutter);
}

static double sample(const capture *c, size_t frame, int channel)
{
    return (double)c->stereo[2 * frame + (size_t)channel];
}

/* Frame of the next rising zero crossing, between frames by a straight line. */
static double crossing_after(const capture *c, size_t from)
{
    for (size_t i = from; i + 1 < c->frames; i++) {
        double a = sample(c, i, 0), b = sample(c, i + 1, 0);
        if (a < 0.0 && b >= 0.0)
            return (double)i + a / (a - b);
    }
    return (double)NAN;
}

static long crossings_between(const capture *c, double from, double to)
{
    long count = 0;
    for (size_t i = (size_t)from + 1; i < (size_t)to + 1; i++)
        count += sample(c, i, 0) < 0.0 && sample(c, i + 1, 0) >= 0.0;
    return count;
}

/* Amplitude and phase of a sinusoid in a channel, over a stretch of whole periods. */
typedef struct phasor {
    double amplitude, turns;
} phasor;

static phasor measured(const capture *c, int channel, double hz, double rate_hz, size_t from,
                       size_t count)
{
    double re = 0.0, im = 0.0;
    for (size_t i = 0; i < count; i++) {
        double angle = TWO_PI * fmod(hz * (double)i / rate_hz, 1.0);
        re += sample(c, from + i, channel) * cos(angle);
        im -= sample(c, from + i, channel) * sin(angle);
    }
    return (phasor){2.0 * hypot(re, im) / (double)count, atan2(im, re) / TWO_PI};
}

/* --- mean speed ------------------------------------------------------------------------- */

/* The tone counts the tape: between two zero crossings lie as many waves as the speeds sum to. */
static void the_tone_counts_the_way_of_the_tape(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.speed_error = -0.0135;
    s.random = (es_scenario_band){0.002, 0.3, 60.0};
    s.flutter[ES_PART_CAPSTAN][0] = 0.002;
    s.drift_per_min = 0.002;
    capture c = played(&s, 48000.0, 60.0);
    double from = crossing_after(&c, 1000), to = crossing_after(&c, 2870000);
    double way = 0.0; /* in frames of nominal speed */
    for (size_t i = (size_t)from; i <= (size_t)to; i++)
        way += 1.0 + c.error[i];
    way -= (from - floor(from)) * (1.0 + c.error[(size_t)from]);
    way -= (1.0 - (to - floor(to))) * (1.0 + c.error[(size_t)to]);
    double waves = (double)crossings_between(&c, from, to);
    assert_near(waves / (way * 3150.0 / 48000.0), 1.0, 2e-9);
    drop(&c);
}

static void the_mean_error_is_the_mean_of_the_errors(void **state)
{
    (void)state;
    es_scenario s;
    assert_int_equal(es_scenario_find("slipping-belt", &s), ES_OK);
    s.tape_error = 0.004;
    s.clock_error = 90e-6;
    capture c = played(&s, 44100.0, 60.0);
    double sum = 0.0;
    size_t from = (size_t)llround(0.9 * 44100.0), to = (size_t)llround(59.3 * 44100.0);
    for (size_t i = from; i < to; i++)
        sum += c.error[i];
    assert_near(c.truth.at_speed_s, 58.4, 1e-9);
    assert_near(c.truth.deck_error, sum / (double)(to - from), 1e-12);
    drop(&c);
}

/* A tape made 0.40 % fast, played 0.65 % slow: 3150 Hz reads 3117.05677 Hz; a sound card that
 * samples 100 ppm fast makes 3116.74510 Hz of it. By hand. */
static void tape_and_clock_shift_what_is_heard(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.speed_error = -0.0065;
    s.tape_error = 0.004;
    capture c = played(&s, 48000.0, 10.0);
    assert_near(c.truth.heard_hz, 3117.05677, 1e-5);
    assert_near(c.truth.heard_error, -0.01045817, 1e-8);
    assert_near(c.truth.deck_error, -0.0065, 1e-12);
    drop(&c);
    s.clock_error = 100e-6;
    c = played(&s, 48000.0, 10.0);
    double from = crossing_after(&c, 100), to = crossing_after(&c, 479000);
    double heard = (double)crossings_between(&c, from, to) * 48000.0 / (to - from);
    assert_near(heard, 3116.74510, 1e-4);
    assert_near(c.truth.heard_hz, 3117.0567729 / 1.0001, 1e-6);
    assert_near(c.truth.deck_error, -0.0065, 1e-12);
    drop(&c);
}

/* t / (1 + e): a side of 30 min at +0.5 % ends 8.955 s early. */
static void a_fast_side_ends_early(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.length_s = 1800.0;
    s.speed_error = 0.005;
    capture c = played(&s, 8000.0, 1800.0 - 8.955);
    assert_near(c.way_s, 1800.0, 0.001);
    assert_near(c.time_s, 1791.045, 1e-9);
    drop(&c);
}

/* A cold governor: 2 % exp(-t / 0.1 min); its mean over the first 30 s is 0.4 % (1 - exp(-5)).
 * Straight drift is what a line through the errors gives. */
static void drifts_as_it_is_set(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.warm_up = 0.02;
    s.warm_up_min = 0.1;
    capture c = played(&s, 16000.0, 30.0);
    assert_near(c.truth.deck_error, 0.004 * (1.0 - exp(-5.0)), 1e-7);
    drop(&c);
    s.warm_up = 0.0;
    s.drift_per_min = -0.003;
    s.speed_error = 0.01;
    c = played(&s, 16000.0, 30.0);
    assert_near(c.truth.drift_per_min, -0.003, 1e-9);
    assert_near(c.truth.deck_error, 0.01 - 0.003 * 0.25, 1e-9);
    assert_near(c.truth.settled_error, 0.01 - 0.003 * 0.5, 1e-9);
    drop(&c);
}

/* --- flutter ------------------------------------------------------------------------------ */

/* Bessel: 0.1 % at 4 Hz on 3150 Hz has the index 0.7875, J0 0.850868, J1 0.364005, J2 0.073590
 * (tables of Bessel functions; worked from the series). */
static void wobble_makes_the_sidebands_of_its_index(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.wobble[0] = (es_scenario_wobble){4.0, 0.001};
    s.level_dbfs = 0.0;
    capture c = played(&s, 48000.0, 10.0);
    static const struct {
        double hz, share;
    } lines[] = {{3150.0, 0.850868}, {3154.0, 0.364005}, {3146.0, 0.364005},
                 {3158.0, 0.073590}, {3142.0, 0.073590}, {3152.0, 0.0}};
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        assert_near(measured(&c, 0, lines[i].hz, 48000.0, 0, 480000).amplitude, lines[i].share,
                    2e-5);
    assert_near(c.truth.flutter_rms, 0.001 / sqrt(2.0), 1e-9);
    drop(&c);
}

/* A wobble begins at zero with the capture; each frame's speed is taken in the middle of the step
 * to the next one. */
static void wobble_is_the_sine_it_is_set_to(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.wobble[3] = (es_scenario_wobble){200.0, 0.001};
    capture c = played(&s, 8000.0, 1.0);
    for (size_t i = 0; i < c.frames; i++)
        assert_near(c.error[i], 0.001 * sin(TWO_PI * 200.0 * ((double)i + 0.5) / 8000.0), 1e-14);
    drop(&c);
}

/* While it gets up to speed a deck's flutter counts for nothing. */
static void only_frames_at_speed_count(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.length_s = 1.0;
    s.start_ramp_s = 0.1003;
    s.stop_ramp_s = 0.2001;
    s.random = (es_scenario_band){0.002, 5.0, 100.0};
    capture c = played(&s, 8000.0, 1.0);
    size_t from = (size_t)llround(0.1003 * 8000.0), to = 8000 - (size_t)llround(0.2001 * 8000.0);
    double squares = 0.0, sum = 0.0;
    for (size_t i = from; i < to; i++) {
        squares += c.flutter[i] * c.flutter[i];
        sum += c.error[i];
    }
    assert_near(c.truth.flutter_rms, sqrt(squares / (double)(to - from)), 1e-15);
    assert_near(c.truth.deck_error, sum / (double)(to - from), 1e-12);
    drop(&c);
}

/* The capstan of 2.0 mm turns at 7.51214 Hz, 1 % slower on a deck that is 1 % slow; the sinusoid is
 * found in the errors at that rate, by correlation. */
static void parts_turn_with_the_tape(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.speed_error = -0.01;
    s.flutter[ES_PART_CAPSTAN][0] = 0.001;
    s.flutter[ES_PART_CAPSTAN][1] = 0.0004;
    capture c = played(&s, 8000.0, 60.0);
    assert_int_equal(c.truth.component_count, 2);
    assert_near(c.truth.components[0].rate_hz, 7.51214 * 0.99, 1e-4);
    assert_near(c.truth.components[1].rate_hz, 2.0 * 7.51214 * 0.99, 2e-4);
    assert_near(c.truth.components[0].rate_slope_hz_per_min, 0.0, 1e-9);
    for (int k = 0; k < 2; k++) {
        double re = 0.0, im = 0.0, step = TWO_PI * c.truth.components[k].rate_hz / 8000.0;
        size_t count = (size_t)(400.0 * TWO_PI / step + 0.5);
        for (size_t i = 0; i < count; i++) {
            re += c.flutter[i] * cos(step * (double)i);
            im += c.flutter[i] * sin(step * (double)i);
        }
        assert_near(2.0 * hypot(re, im) / (double)count, k ? 0.0004 : 0.001, 2e-6);
    }
    drop(&c);
}

/* Turns of a reel = (R2 - R1) / h, R = sqrt(r0^2 + v t h / pi): the handbook's count, 600 s to
 * 660 s into a C60. */
static void reels_slide_along_the_tape(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.tape_position_min = 10.0;
    s.flutter[ES_PART_TAKE_UP][0] = 0.001;
    s.flutter[ES_PART_SUPPLY][0] = 0.001;
    s.length_s = 100.0;
    capture c = played(&s, 8000.0, 60.0);
    double per_s = 0.047625 * 18e-6 / 3.14159265358979;
    double r1 = sqrt(1.21e-4 + 600.0 * per_s), r2 = sqrt(1.21e-4 + 660.0 * per_s);
    assert_near(c.truth.components[0].rate_hz * 60.0, (r2 - r1) / 18e-6, 1e-4);
    double q1 = sqrt(1.21e-4 + 1200.0 * per_s), q2 = sqrt(1.21e-4 + 1140.0 * per_s);
    assert_near(c.truth.components[1].rate_hz * 60.0, (q1 - q2) / 18e-6, 1e-4);
    /* df/dt = -2 pi h f^3 / v at 0.44290 Hz, half way: -0.01238 Hz a minute */
    assert_near(c.truth.components[0].rate_slope_hz_per_min, -0.01238, 1e-5);
    assert_true(c.truth.components[1].rate_slope_hz_per_min > 0.005);
    drop(&c);
}

static void random_flutter_has_the_rms_it_is_set_to(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.random = (es_scenario_band){0.002, 5.0, 100.0};
    s.scrape = (es_scenario_band){0.001, 1000.0, 3000.0};
    capture c = played(&s, 16000.0, 60.0);
    double sum = 0.0;
    for (size_t i = 0; i < c.frames; i++)
        sum += c.flutter[i] * c.flutter[i];
    assert_near(c.truth.flutter_rms, sqrt(sum / (double)c.frames), 1e-12);
    /* 60 s of 100 Hz hold about 12 000 independent values: 0.65 % each standard error */
    assert_near(c.truth.random_rms, 0.002, 0.00005);
    assert_near(c.truth.scrape_rms, 0.001, 0.00001);
    assert_near(hypot(c.truth.random_rms, c.truth.scrape_rms), c.truth.flutter_rms, 2e-5);
    drop(&c);
}

/* --- heads and electronics ------------------------------------------------------------------ */

/* Delay = d tan(a) / v: 5.4971 us an arc minute with 0.9 mm and 4.7625 cm/s, by hand. */
static void a_skewed_head_delays_one_channel(void **state)
{
    (void)state;
    static const double arcmin[] = {1.0, -5.0, 12.0, 0.0};
    for (size_t i = 0; i < sizeof arcmin / sizeof *arcmin; i++) {
        es_scenario s = es_scenario_defaults();
        s.tone_hz = 3000.0;
        s.track_width_m = 0.1e-3;
        s.azimuth_arcmin = arcmin[i];
        capture c = played(&s, 48000.0, 2.0);
        phasor left = measured(&c, 0, 3000.0, 48000.0, 0, 96000);
        phasor right = measured(&c, 1, 3000.0, 48000.0, 0, 96000);
        double turns = left.turns - right.turns;
        double delay_us = 1e6 * (turns - round(turns)) / 3000.0;
        assert_near(delay_us, 5.4971 * arcmin[i], 2e-3);
        assert_near(c.truth.delay_us, delay_us, 2e-5);
        assert_near(c.truth.delay_period_us, 333.3333, 1e-3);
        drop(&c);
    }
}

/* A slower tape takes longer from one track's gap to the other's; the card's clock counts too. */
static void the_delay_follows_the_speed(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.azimuth_arcmin = 10.0;
    s.speed_error = -0.02;
    capture c = played(&s, 48000.0, 2.0);
    assert_near(c.truth.delay_us, 54.971 / 0.98, 1e-3);
    drop(&c);
}

/* Azimuth loss 0.6 mm, 10', 10 kHz: -2.012 dB; spacing loss 0.5 um, 10 kHz: 54.575 d / wavelength =
 * 5.730 dB (Wallace). Both by hand at 4.7625 cm/s. */
static void heads_lose_treble_as_the_formulas_say(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.tone_hz = 10000.0;
    s.level_dbfs = 0.0;
    s.azimuth_arcmin = 10.0;
    capture c = played(&s, 48000.0, 1.0);
    assert_near(20.0 * log10(measured(&c, 0, 10000.0, 48000.0, 0, 48000).amplitude), -2.012, 1e-3);
    drop(&c);
    s.azimuth_arcmin = 0.0;
    s.head_spacing_m = 0.5e-6;
    c = played(&s, 48000.0, 1.0);
    assert_near(20.0 * log10(measured(&c, 1, 10000.0, 48000.0, 0, 48000).amplitude), -5.730, 1e-3);
    assert_near(20.0 * log10(c.truth.level_fs[1]), -5.730, 1e-3);
    drop(&c);
}

/* What is left of a channel without its tone, over whole periods. */
static double residue_rms(const capture *c, int channel, double hz, double rate_hz)
{
    double sum = 0.0;
    size_t count = c->frames;
    phasor tone = measured(c, channel, hz, rate_hz, 0, count);
    for (size_t i = 0; i < count; i++) {
        double turns = fmod(hz * (double)i / rate_hz, 1.0) + tone.turns;
        double rest = sample(c, i, channel) - tone.amplitude * cos(TWO_PI * turns);
        sum += rest * rest;
    }
    return sqrt(sum / (double)count);
}

static void a_clean_tone_is_clean(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.level_dbfs = -0.1;
    capture c = played(&s, 48000.0, 10.0);
    assert_true(20.0 * log10(residue_rms(&c, 0, 3150.0, 48000.0)) < -140.0);
    drop(&c);
}

/* Standard error of a mean square over 480 000 values: 0.2 %, 0.009 dB. */
static void noise_lies_as_far_down_as_it_is_set(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.snr_db = 20.0;
    s.balance_db = -6.0;
    capture c = played(&s, 48000.0, 10.0);
    for (int channel = 0; channel < 2; channel++) {
        double tone = measured(&c, channel, 3150.0, 48000.0, 0, c.frames).amplitude / sqrt(2.0);
        double snr = 20.0 * log10(tone / residue_rms(&c, channel, 3150.0, 48000.0));
        assert_near(snr, channel ? 14.0 : 20.0, 0.04);
        assert_near(c.truth.snr_db[channel], channel ? 14.0 : 20.0, 1e-9);
    }
    double both = 0.0, left = 0.0, right = 0.0; /* the two hisses have nothing in common */
    phasor a = measured(&c, 0, 3150.0, 48000.0, 0, c.frames);
    phasor b = measured(&c, 1, 3150.0, 48000.0, 0, c.frames);
    for (size_t i = 0; i < c.frames; i++) {
        double turns = fmod(3150.0 * (double)i / 48000.0, 1.0);
        double l = sample(&c, i, 0) - a.amplitude * cos(TWO_PI * (turns + a.turns));
        double r = sample(&c, i, 1) - b.amplitude * cos(TWO_PI * (turns + b.turns));
        both += l * r;
        left += l * l;
        right += r * r;
    }
    assert_near(both / sqrt(left * right), 0.0, 4.0 / sqrt(480000.0));
    drop(&c);
}

static void hum_and_harmonics_stand_where_they_are_set(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.hum_hz = 60.0;
    s.hum_dbfs = -30.0;
    s.buzz_dbfs = -46.0;
    s.second = 0.01;
    s.third = 0.03;
    s.level_dbfs = -20.0;
    s.dc_fs = 0.02;
    capture c = played(&s, 48000.0, 4.0);
    static const double lines[][2] = {
        {60.0, -30.0}, {120.0, -46.0}, {3150.0, -20.0}, {6300.0, -60.0}, {9450.0, -50.4576}};
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        assert_near(20.0 * log10(measured(&c, 1, lines[i][0], 48000.0, 0, c.frames).amplitude),
                    lines[i][1], 1e-4);
    double mean = 0.0;
    for (size_t i = 0; i < c.frames; i++)
        mean += sample(&c, i, 0);
    assert_near(mean / (double)c.frames, 0.02, 1e-6);
    drop(&c);
}

static void channels_differ_as_they_are_set(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.tone_hz = 3000.0;
    s.balance_db = -3.0;
    s.opposed = 1;
    capture c = played(&s, 48000.0, 1.0);
    phasor left = measured(&c, 0, 3000.0, 48000.0, 0, 48000);
    phasor right = measured(&c, 1, 3000.0, 48000.0, 0, 48000);
    assert_near(20.0 * log10(right.amplitude / left.amplitude), -3.0, 1e-4);
    assert_near(fabs(left.turns - right.turns), 0.5, 1e-6);
    assert_near(c.truth.level_difference_db, -3.0, 1e-9);
    assert_int_equal(c.truth.opposed, 1);
    drop(&c);
}

static void a_dead_channel_has_no_tone(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.dead = ES_DEAD_RIGHT;
    s.snr_db = 40.0;
    capture c = played(&s, 48000.0, 1.0);
    assert_near(measured(&c, 1, 3150.0, 48000.0, 0, 48000).amplitude, 0.0, 1e-4);
    assert_near(residue_rms(&c, 1, 3150.0, 48000.0), pow(10.0, -0.5) / sqrt(2.0) / 100.0, 5e-5);
    assert_true(isnan(c.truth.level_difference_db) && isnan(c.truth.delay_us));
    assert_true(isnan(c.truth.snr_db[1]));
    assert_near(c.truth.snr_db[0], 40.0, 1e-9);
    drop(&c);
}

static void clipping_is_counted(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.level_dbfs = 6.0;
    s.balance_db = -20.0;
    s.clip_dbfs = -1.0;
    capture c = played(&s, 48000.0, 2.0);
    float limit = (float)pow(10.0, -1.0 / 20.0);
    size_t clipped = 0;
    for (size_t i = 0; i < c.frames; i++) {
        assert_true(fabsf(c.stereo[2 * i]) <= limit);
        clipped += fabsf(c.stereo[2 * i]) >= limit;
    }
    /* a sine of peak a is beyond c for 1 - 2/pi asin(c/a) of the time */
    double share = 1.0 - 2.0 / 3.14159265358979 * asin(pow(10.0, -7.0 / 20.0));
    assert_near(c.truth.clipped[0], (double)clipped / (double)c.frames, 1e-12);
    assert_near(c.truth.clipped[0], share, 0.002);
    assert_near(c.truth.clipped[1], 0.0, 0.0);
    drop(&c);
}

/* Peak within 2 ms, the length of more than six periods. */
static double level_at(const capture *c, size_t window)
{
    double peak = 0.0;
    for (size_t i = 0; i < 96; i++)
        peak = fmax(peak, fabs(sample(c, window * 96 + i, 0)));
    return peak;
}

static void dropouts_are_counted(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    s.dropouts_per_min = 60.0;
    s.dropout_db = 40.0;
    s.dropout_s = 0.05;
    s.level_dbfs = 0.0;
    capture c = played(&s, 48000.0, 60.0);
    int inside = 0;
    long count = 0;
    double deepest = 1.0;
    for (size_t w = 0; w < c.frames / 96; w++) {
        double level = level_at(&c, w);
        deepest = fmin(deepest, level);
        count += !inside && level < 0.5;
        inside = level < 0.5;
    }
    assert_int_equal(c.truth.dropouts, count);
    assert_true(count > 30 && count < 90); /* 60 expected, standard deviation 8 */
    assert_near(deepest, 0.01, 1e-3);
    drop(&c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_tone_counts_the_way_of_the_tape),
        cmocka_unit_test(the_mean_error_is_the_mean_of_the_errors),
        cmocka_unit_test(tape_and_clock_shift_what_is_heard),
        cmocka_unit_test(a_fast_side_ends_early),
        cmocka_unit_test(drifts_as_it_is_set),
        cmocka_unit_test(wobble_makes_the_sidebands_of_its_index),
        cmocka_unit_test(wobble_is_the_sine_it_is_set_to),
        cmocka_unit_test(only_frames_at_speed_count),
        cmocka_unit_test(parts_turn_with_the_tape),
        cmocka_unit_test(reels_slide_along_the_tape),
        cmocka_unit_test(random_flutter_has_the_rms_it_is_set_to),
        cmocka_unit_test(a_skewed_head_delays_one_channel),
        cmocka_unit_test(the_delay_follows_the_speed),
        cmocka_unit_test(heads_lose_treble_as_the_formulas_say),
        cmocka_unit_test(a_clean_tone_is_clean),
        cmocka_unit_test(noise_lies_as_far_down_as_it_is_set),
        cmocka_unit_test(hum_and_harmonics_stand_where_they_are_set),
        cmocka_unit_test(channels_differ_as_they_are_set),
        cmocka_unit_test(a_dead_channel_has_no_tone),
        cmocka_unit_test(clipping_is_counted),
        cmocka_unit_test(dropouts_are_counted),
    };
    return cmocka_run_group_tests_name("tape/rehearsal_truth", tests, NULL, NULL);
}
