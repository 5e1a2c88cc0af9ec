/* The sounder, by measuring what it plays: with the tone tracker, and by a plain Fourier sum. */
#include "cm.h"

#include "alloc_probe.h"
#include "evenspool/signal/tone_tracker.h"
#include "evenspool/task/sound.h"

#include <stdlib.h>
#include <string.h>

#define RATE 48000
#define SECONDS 8
#define TWO_PI 6.283185307179586476925286766559
#define LEVEL 0.2

static float sound[SECONDS * RATE];

static es_trim_snapshot shot(es_trim_state state, double error_percent)
{
    double none = (double)NAN;
    int shown = state == ES_TRIM_READING || state == ES_TRIM_THERE;
    return (es_trim_snapshot){.state = state,
                              .error_percent = shown ? error_percent : none,
                              .live_percent = state == ES_TRIM_LISTENING ? none : error_percent,
                              .tolerance_percent = 0.1,
                              .nominal_hz = 3150.0,
                              .reference_hz = 3137.45,
                              .final_percent = none};
}

static es_sounder *new_sounder(void)
{
    es_sounder *s;
    assert_int_equal(es_sounder_create(RATE, &s), ES_OK);
    return s;
}

/* One kind and one state, held for `seconds`. */
static void play(es_sounder_kind kind, es_trim_state state, double error_percent, double seconds)
{
    es_sounder *s = new_sounder();
    es_trim_snapshot n = shot(state, error_percent);
    es_sounder_set(s, kind, LEVEL);
    es_sounder_steer(s, &n);
    es_sounder_render(s, sound, (size_t)(seconds * RATE));
    es_sounder_destroy(s);
}

/* Amplitude at one frequency over a Hann window. */
static double amplitude_at(double hz, size_t from, size_t count)
{
    double re = 0.0, im = 0.0;
    for (size_t i = 0; i < count; i++) {
        double window = 1.0 - cos(TWO_PI * ((double)i + 0.5) / (double)count);
        double angle = TWO_PI * hz * (double)i / RATE;
        re += window * (double)sound[from + i] * cos(angle);
        im += window * (double)sound[from + i] * sin(angle);
    }
    return 2.0 * hypot(re, im) / (double)count;
}

static double peak(size_t from, size_t to)
{
    double most = 0.0;
    for (size_t i = from; i < to; i++)
        most = fmax(most, fabs((double)sound[i]));
    return most;
}

/* --- levels ----------------------------------------------------------------------------- */

static void it_is_silent_until_a_kind_is_chosen(void **state)
{
    (void)state;
    es_sounder *s = new_sounder();
    es_trim_snapshot n = shot(ES_TRIM_THERE, 0.0);
    es_sounder_render(s, sound, RATE);
    assert_near(peak(0, RATE), 0.0, 0.0);
    es_sounder_steer(s, &n);
    es_sounder_render(s, sound, RATE);
    assert_near(peak(0, RATE), 0.0, 0.0);
    es_sounder_destroy(s);
}

static void the_level_is_as_asked_and_never_above_the_ceiling(void **state)
{
    (void)state;
    static const struct {
        double asked, got;
    } level[] = {{0.1, 0.1}, {0.25, 0.25}, {5.0, 0.25}, {HUGE_VAL, 0.25}, {0.0, 0.0}, {-1.0, 0.0}};
    for (size_t k = 0; k < COUNT(level); k++) {
        es_sounder *s = new_sounder();
        es_trim_snapshot n = shot(ES_TRIM_READING, 0.5);
        es_sounder_steer(s, &n);
        es_sounder_set(s, ES_SOUNDER_REFERENCE, level[k].asked);
        es_sounder_render(s, sound, RATE);
        assert_near(peak(RATE / 2, RATE), level[k].got, 0.002);
        es_sounder_set(s, ES_SOUNDER_REFERENCE, (double)NAN);
        es_sounder_render(s, sound, RATE);
        assert_near(peak(RATE / 2, RATE), 0.0, 0.0);
        es_sounder_destroy(s);
    }
}

static void no_kind_is_louder_than_asked(void **state)
{
    (void)state;
    static const double error[] = {-5.0, -0.3, 0.0, 0.04, 2.0};
    for (int kind = 1; kind < ES_SOUNDER_KIND_COUNT; kind++)
        for (int st = 0; st <= ES_TRIM_LOOK_FIRST; st++)
            for (size_t k = 0; k < COUNT(error); k++) {
                play((es_sounder_kind)kind, (es_trim_state)st, error[k], 2.0);
                assert_true(peak(0, 2 * RATE) <= LEVEL * 1.0001);
            }
}

/* --- reference -------------------------------------------------------------------------- */

static void the_reference_is_where_the_snapshot_says(void **state)
{
    (void)state;
    static es_tone_reading reading[4000];
    size_t count, all = 0;
    double sum = 0.0;
    play(ES_SOUNDER_REFERENCE, ES_TRIM_READING, 0.5, SECONDS);
    es_tone_tracker *t;
    assert_int_equal(es_tone_tracker_create(RATE, ES_TRACKER_SHARP, &t), ES_OK);
    assert_int_equal(es_tone_tracker_tune(t, 3150.0, LEVEL), ES_OK);
    for (size_t at = RATE; at < 3 * RATE; at += 4800) {
        es_tone_tracker_process(t, sound + at, 1, 4800, reading, COUNT(reading), &count);
        for (size_t i = 0; i < count; i++, all++)
            sum += reading[i].hz;
    }
    es_tone_tracker_destroy(t);
    assert_near(sum / (double)all, 3137.45, 1e-3);
    size_t crossings = 0, first = 0, last = 0; /* and by counting its periods */
    for (size_t i = RATE; i + 1 < SECONDS * RATE; i++)
        if (sound[i] < 0.0f && sound[i + 1] >= 0.0f) {
            first = crossings++ ? first : i;
            last = i;
        }
    assert_near((double)(crossings - 1) * RATE / (double)(last - first), 3137.45, 0.02);
    assert_near(amplitude_at(3137.45, RATE, RATE), LEVEL, 1e-4);
}

static void without_a_tone_there_is_no_reference(void **state)
{
    (void)state;
    es_sounder *s = new_sounder();
    es_trim_snapshot n = shot(ES_TRIM_LISTENING, 0.0);
    n.reference_hz = (double)NAN;
    es_sounder_set(s, ES_SOUNDER_REFERENCE, LEVEL);
    es_sounder_render(s, sound, RATE);
    assert_near(peak(0, RATE), 0.0, 0.0);
    es_sounder_steer(s, &n);
    es_sounder_render(s, sound, RATE);
    assert_near(peak(0, RATE), 0.0, 0.0);
    es_sounder_destroy(s);
}

/* --- beat ------------------------------------------------------------------------------- */

/* Swells per second: minima of the envelope, taken over 5 ms. */
static double swells_per_second(size_t from, size_t to)
{
    size_t block = RATE / 200, count = 0, first = 0, last = 0;
    double before = 1.0, here = peak(from, from + block);
    for (size_t at = from + block; at + block <= to; at += block) {
        double next = peak(at, at + block);
        if (here < before && here <= next && here < 0.3 * LEVEL) {
            first = count++ ? first : at;
            last = at;
        }
        before = here;
        here = next;
    }
    return count > 1 ? (double)(count - 1) * RATE / (double)(last - first) : 0.0;
}

/* 600 Hz x 10 x error: 6 a second at 0.1 %, 1.2 at 0.02 %. */
static void the_beat_is_ten_times_the_error(void **state)
{
    (void)state;
    static const double error[] = {0.02, -0.05, 0.1, -0.2};
    for (size_t k = 0; k < COUNT(error); k++) {
        play(ES_SOUNDER_BEAT, ES_TRIM_READING, error[k], SECONDS);
        assert_near(swells_per_second(RATE, SECONDS * RATE), 60.0 * fabs(error[k]), 0.05);
    }
    play(ES_SOUNDER_BEAT, ES_TRIM_READING, 1.0, 2.0); /* far off: two notes */
    assert_near(amplitude_at(600.0, RATE, RATE), LEVEL / 2.0, 1e-3);
    assert_near(amplitude_at(660.0, RATE, RATE), LEVEL / 2.0, 1e-3);
    play(ES_SOUNDER_BEAT, ES_TRIM_READING, -9.0, 2.0); /* but not for ever lower */
    assert_near(amplitude_at(300.0, RATE, RATE), LEVEL / 2.0, 1e-3);
}

static void the_beat_stops_when_nothing_is_heard(void **state)
{
    (void)state;
    es_sounder *s = new_sounder();
    es_trim_snapshot n = shot(ES_TRIM_READING, 0.1), gone = shot(ES_TRIM_LISTENING, 0.0);
    es_sounder_set(s, ES_SOUNDER_BEAT, LEVEL);
    es_sounder_steer(s, &n);
    es_sounder_render(s, sound, RATE);
    assert_true(peak(0, RATE) > 0.9 * LEVEL);
    es_sounder_steer(s, &gone);
    es_sounder_render(s, sound, RATE);
    assert_true(peak(RATE / 5, RATE) < 1e-6);
    es_sounder_destroy(s);
}

/* --- guide ------------------------------------------------------------------------------ */

typedef struct ticks {
    size_t count;
    double rate, hz;
} ticks;

/* Sounding stretches with silence between them. */
static ticks ticks_in(size_t from, size_t to)
{
    ticks t = {0};
    size_t block = RATE / 200, first = 0, last = 0;
    int was = 1;
    for (size_t at = from; at + block <= to; at += block) {
        int is = peak(at, at + block) > 0.01 * LEVEL;
        if (is && !was && at + RATE / 16 <= to) {
            first = t.count++ ? first : at;
            last = at;
        }
        was = is;
    }
    t.rate = t.count > 1 ? (double)(t.count - 1) * RATE / (double)(last - first) : 0.0;
    double strongest = 0.0;
    for (double hz = 100.0; hz < 1200.0; hz += 2.0)
        if (t.count && amplitude_at(hz, last, RATE / 16) > strongest) {
            strongest = amplitude_at(hz, last, RATE / 16);
            t.hz = hz;
        }
    return t;
}

static void ticks_slow_down_towards_the_target(void **state)
{
    (void)state;
    static const double error[] = {0.1, 0.3, 1.0, 3.0, 6.0};
    double before = 0.0;
    for (size_t k = 0; k < COUNT(error); k++) {
        play(ES_SOUNDER_GUIDE, ES_TRIM_READING, error[k], SECONDS);
        ticks t = ticks_in(RATE, SECONDS * RATE);
        assert_true(t.rate > before + 0.5);
        before = t.rate;
        if (k == 0)
            assert_near(t.rate, 1.0, 0.02);
    }
    assert_near(before, 8.0, 0.05);
    play(ES_SOUNDER_GUIDE, ES_TRIM_READING, 40.0, 4.0);
    assert_near(ticks_in(RATE, 4 * RATE).rate, 8.0, 0.1); /* and no faster */
}

static void the_pitch_of_a_tick_tells_the_side(void **state)
{
    (void)state;
    play(ES_SOUNDER_GUIDE, ES_TRIM_READING, 0.5, 4.0);
    assert_near(ticks_in(RATE, 4 * RATE).hz, ES_SOUNDER_FAST_HZ, 6.0);
    play(ES_SOUNDER_GUIDE, ES_TRIM_READING, -0.5, 4.0);
    assert_near(ticks_in(RATE, 4 * RATE).hz, ES_SOUNDER_SLOW_HZ, 6.0);
    play(ES_SOUNDER_GUIDE, ES_TRIM_TURNING, -0.5, 4.0); /* the live trace will do */
    assert_near(ticks_in(RATE, 4 * RATE).hz, ES_SOUNDER_SLOW_HZ, 6.0);
}

static void a_steady_note_means_there_and_a_fifth_means_done(void **state)
{
    (void)state;
    es_sounder *s = new_sounder();
    es_trim_snapshot n = shot(ES_TRIM_THERE, 0.03);
    es_sounder_set(s, ES_SOUNDER_GUIDE, LEVEL);
    es_sounder_steer(s, &n);
    es_sounder_render(s, sound, 2 * RATE);
    assert_near(amplitude_at(ES_SOUNDER_THERE_HZ, RATE, RATE), 0.3 * LEVEL, 1e-3 * LEVEL);
    assert_near(amplitude_at(1.5 * ES_SOUNDER_THERE_HZ, RATE, RATE), 0.0, 1e-3 * LEVEL);
    assert_int_equal(ticks_in(RATE, 2 * RATE).count, 0);
    n.final = 1;
    es_sounder_steer(s, &n);
    es_sounder_render(s, sound, 2 * RATE);
    assert_near(amplitude_at(1.5 * ES_SOUNDER_THERE_HZ, RATE, RATE), 0.2 * LEVEL, 1e-3 * LEVEL);
    es_sounder_destroy(s);
}

static void no_reading_is_a_soft_tick_now_and_then(void **state)
{
    (void)state;
    play(ES_SOUNDER_GUIDE, ES_TRIM_LISTENING, 0.0, SECONDS);
    ticks t = ticks_in(0, SECONDS * RATE);
    assert_near(t.rate, 0.5, 0.01);
    assert_near(t.hz, ES_SOUNDER_SOFT_HZ, 6.0);
    assert_true(peak(0, SECONDS * RATE) < 0.13 * LEVEL);
    play(ES_SOUNDER_GUIDE, ES_TRIM_LOOK_FIRST, 1.0, SECONDS); /* pairs */
    assert_near((double)ticks_in(0, SECONDS * RATE).count, 8.0, 1.0);
}

/* --- no clicks -------------------------------------------------------------------------- */

/* Everything that can change does, in the middle of things. No step from sample to sample may be
 * larger than that of the loudest, highest tone; and what spills far from the tones stays 70 dB
 * down. */
static void nothing_clicks(void **state)
{
    (void)state;
    es_sounder *s = new_sounder();
    uint64_t chance = 3;
    size_t at = 0, all = SECONDS * RATE;
    while (at < all) {
        chance = chance * 6364136223846793005u + 1442695040888963407u;
        int kind = (int)((chance >> 33) % ES_SOUNDER_KIND_COUNT);
        es_trim_snapshot n = shot((es_trim_state)((chance >> 40) % (ES_TRIM_LOOK_FIRST + 1)),
                                  ((double)((chance >> 20) % 1000) - 500.0) / 400.0);
        n.final = (int)(chance >> 50) % 2;
        n.reference_hz = 3000.0 + (double)((chance >> 25) % 300);
        if ((chance >> 60) % 3 == 0)
            es_sounder_set(s, (es_sounder_kind)kind, LEVEL);
        es_sounder_steer(s, &n);
        size_t take = 300 + (chance >> 45) % 4000;
        take = all - at < take ? all - at : take;
        es_sounder_render(s, sound + at, take);
        at += take;
    }
    es_sounder_destroy(s);
    double step_most = LEVEL * TWO_PI * 3300.0 / RATE * 1.5, step = 0.0;
    for (size_t i = 1; i < all; i++)
        step = fmax(step, fabs((double)sound[i] - (double)sound[i - 1]));
    assert_true(peak(0, all) > 0.5 * LEVEL && peak(0, all) <= 1.5 * LEVEL);
    assert_true(step <= step_most);
    for (size_t from = 0; from + 4800 <= all; from += 4800)
        for (double hz = 6000.0; hz < 23000.0; hz += 487.0)
            assert_true(amplitude_at(hz, from, 4800) < LEVEL * 3.2e-4);
}

/* A tick of 50 ms under a raised cosine is 60 dB down 200 Hz from its tone (main lobe 40 Hz wide, side
 * lobes falling with the third power: Harris, Proc. IEEE 66, 1978; from memory). */
static void a_tick_is_heard_at_its_pitch_only(void **state)
{
    (void)state;
    play(ES_SOUNDER_GUIDE, ES_TRIM_READING, 0.1, 0.5);
    double at_pitch = amplitude_at(ES_SOUNDER_FAST_HZ, 0, RATE / 20 * 2);
    assert_true(at_pitch > 0.05 * LEVEL);
    for (double hz = 100.0; hz < 20000.0; hz += 37.0)
        if (fabs(hz - ES_SOUNDER_FAST_HZ) > 200.0)
            assert_true(amplitude_at(hz, 0, RATE / 20 * 2) < 1e-3 * at_pitch);
}

/* Length of the period that begins after frame `from` [frames]. */
static double period_after(size_t from)
{
    double at[2] = {0.0, 0.0};
    int found = 0;
    for (size_t i = from; found < 2; i++)
        if (sound[i] < 0.0f && sound[i + 1] >= 0.0f)
            at[found++] = (double)i + (double)sound[i] / ((double)sound[i] - (double)sound[i + 1]);
    return at[1] - at[0];
}

static void a_frequency_glides(void **state)
{
    (void)state;
    es_sounder *s = new_sounder();
    es_trim_snapshot n = shot(ES_TRIM_READING, 0.1);
    n.reference_hz = 1000.0;
    es_sounder_set(s, ES_SOUNDER_REFERENCE, LEVEL);
    es_sounder_steer(s, &n);
    es_sounder_render(s, sound, RATE);
    n.reference_hz = 1200.0;
    es_sounder_steer(s, &n);
    es_sounder_render(s, sound + RATE, RATE);
    assert_near(RATE / period_after(RATE - 200), 1000.0, 0.1);
    assert_true(RATE / period_after(RATE + 48) < 1050.0);
    assert_near(RATE / period_after(RATE + RATE / 66), 1126.0, 15.0); /* 1 - 1/e of the way */
    assert_near(RATE / period_after(RATE + RATE / 2), 1200.0, 0.1);
    es_sounder_destroy(s);
}

/* --- the piece of machinery ------------------------------------------------------------- */

static void any_block_size_gives_the_same_sound(void **state)
{
    (void)state;
    static float other[4 * RATE];
    es_trim_snapshot n = shot(ES_TRIM_READING, 0.7);
    play(ES_SOUNDER_GUIDE, ES_TRIM_READING, 0.7, 4.0);
    es_sounder *s = new_sounder();
    es_sounder_set(s, ES_SOUNDER_GUIDE, LEVEL);
    es_sounder_steer(s, &n);
    for (size_t at = 0; at < COUNT(other); at += 77)
        es_sounder_render(s, other + at, COUNT(other) - at < 77 ? COUNT(other) - at : 77);
    assert_memory_equal(other, sound, sizeof other);
    es_sounder_destroy(s);
}

static void only_create_allocates_and_may_fail(void **state)
{
    (void)state;
    es_sounder *s = (es_sounder *)1;
    alloc_probe_fail_after(0);
    assert_int_equal(es_sounder_create(RATE, &s), ES_ERR_NOMEM);
    assert_null(s);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
    s = new_sounder();
    es_trim_snapshot n = shot(ES_TRIM_READING, 0.7);
    alloc_probe_reset();
    es_sounder_set(s, ES_SOUNDER_GUIDE, LEVEL);
    es_sounder_steer(s, &n);
    es_sounder_render(s, sound, RATE);
    assert_int_equal(alloc_probe_calls(), 0);
    es_sounder_destroy(s);
    es_sounder_destroy(NULL);
}

/* 5 us and half a decibel sound like 0.1 % of speed: six beats a second, ticks of one a second. */
static void other_quantities_sound_like_the_speed_at_their_tolerance(void **state)
{
    (void)state;
    static const es_adjust which[] = {ES_ADJUST_AZIMUTH, ES_ADJUST_LEVEL, ES_ADJUST_BALANCE};
    for (size_t k = 0; k < COUNT(which); k++) {
        double tolerance = es_adjust_facts_of(which[k])->tolerance;
        es_trim_snapshot n = shot(ES_TRIM_READING, tolerance), fast = shot(ES_TRIM_READING, 0.1);
        n.adjust = which[k];
        n.tolerance_percent = tolerance;
        for (int kind = ES_SOUNDER_BEAT; kind <= ES_SOUNDER_GUIDE; kind++) {
            static float other[2 * RATE];
            es_sounder *a = new_sounder(), *b = new_sounder();
            es_sounder_set(a, (es_sounder_kind)kind, LEVEL);
            es_sounder_set(b, (es_sounder_kind)kind, LEVEL);
            es_sounder_steer(a, &n);
            es_sounder_steer(b, &fast);
            es_sounder_render(a, sound, 2 * RATE);
            es_sounder_render(b, other, 2 * RATE);
            es_sounder_destroy(a);
            es_sounder_destroy(b);
            for (size_t i = 0; i < 2 * RATE; i++)
                assert_near((double)sound[i], (double)other[i], 1e-6);
        }
    }
}

static void refuses_what_is_out_of_range(void **state)
{
    (void)state;
    static const double rate[] = {0.0, 7999.0, 1e6, (double)NAN};
    for (size_t i = 0; i < COUNT(rate); i++) {
        es_sounder *s = (es_sounder *)1;
        assert_int_equal(es_sounder_create(rate[i], &s), ES_ERR_ARG);
        assert_null(s);
    }
    for (int k = 0; k < ES_SOUNDER_KIND_COUNT; k++) {
        es_sounder_kind kind;
        const char *name = es_sounder_kind_name((es_sounder_kind)k);
        assert_int_equal(es_sounder_kind_from_name(name, &kind), ES_OK);
        assert_int_equal(kind, k);
    }
    es_sounder_kind kind = ES_SOUNDER_BEAT;
    assert_int_equal(es_sounder_kind_from_name("louder", &kind), ES_ERR_ARG);
    assert_int_equal(kind, ES_SOUNDER_NONE);
    assert_string_equal(es_sounder_kind_name(ES_SOUNDER_KIND_COUNT), "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_silent_until_a_kind_is_chosen),
        cmocka_unit_test(the_level_is_as_asked_and_never_above_the_ceiling),
        cmocka_unit_test(no_kind_is_louder_than_asked),
        cmocka_unit_test(the_reference_is_where_the_snapshot_says),
        cmocka_unit_test(without_a_tone_there_is_no_reference),
        cmocka_unit_test(the_beat_is_ten_times_the_error),
        cmocka_unit_test(the_beat_stops_when_nothing_is_heard),
        cmocka_unit_test(ticks_slow_down_towards_the_target),
        cmocka_unit_test(the_pitch_of_a_tick_tells_the_side),
        cmocka_unit_test(a_steady_note_means_there_and_a_fifth_means_done),
        cmocka_unit_test(no_reading_is_a_soft_tick_now_and_then),
        cmocka_unit_test(nothing_clicks),
        cmocka_unit_test(a_tick_is_heard_at_its_pitch_only),
        cmocka_unit_test(a_frequency_glides),
        cmocka_unit_test(any_block_size_gives_the_same_sound),
        cmocka_unit_test(only_create_allocates_and_may_fail),
        cmocka_unit_test(other_quantities_sound_like_the_speed_at_their_tolerance),
        cmocka_unit_test(refuses_what_is_out_of_range),
    };
    return cmocka_run_group_tests_name("task/sound", tests, NULL, NULL);
}
