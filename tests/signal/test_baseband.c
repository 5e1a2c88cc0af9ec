#include "cm.h"

#include <stdlib.h>

#include "alloc_sweep.h"
#include "evenspool/signal/baseband.h"
#include "tone.h"

#define FRAMES 96000

static float sound[FRAMES];
static es_phasor phasors[FRAMES], others[FRAMES];

static es_baseband *tuned(double rate_hz, double centre_hz)
{
    es_baseband *b;
    assert_int_equal(es_baseband_create(rate_hz, &b), ES_OK);
    assert_int_equal(es_baseband_tune(b, centre_hz, 0.15), ES_OK);
    return b;
}

static size_t run(es_baseband *b, const float *in, size_t frames, es_phasor *out)
{
    size_t count;
    assert_int_equal(es_baseband_process(b, in, 1, frames, out, FRAMES, &count), ES_OK);
    return count;
}

/* A tone off the centre turns by the difference, at half its amplitude, at the instant promised. */
static void a_tone_becomes_a_turning_phasor(void **state)
{
    (void)state;
    static const double cases[][3] = {
        {48000, 3150, 0.0},    {48000, 3150, 0.1}, {44100, 3000, -0.14}, {8000, 3150, 0.1},
        {192000, 12500, 0.05}, {48000, 440, 0.1},  {384000, 300, -0.1},  {96000, 1000, 0.15}};
    for (size_t k = 0; k < COUNT(cases); k++) {
        test_tone t = {
            .rate_hz = cases[k][0], .tone_hz = cases[k][1], .amplitude = 0.5, .error = cases[k][2]};
        test_tone_fill(&t, 0, sound, 1, FRAMES);
        es_baseband *b = tuned(t.rate_hz, t.tone_hz);
        es_baseband_plan plan = es_baseband_plan_of(b);
        size_t count = run(b, sound, FRAMES, phasors);
        assert_true(count > 100);
        for (size_t n = 0; n < count; n++) {
            double frame = plan.delay_frames + (double)n * (double)plan.hop_frames;
            double cycles = test_tone_phase(&t, frame / t.rate_hz) -
                            plan.centre_hz * frame / t.rate_hz - 0.25; /* a sine, against cosine */
            double re = (double)phasors[n].re, im = (double)phasors[n].im;
            double angle = atan2(im, re) / TONE_TWO_PI;
            /* the mixer turns from the first sample of the first filter, a constant angle */
            static double constant;
            if (n == 0)
                constant = angle - cycles;
            double off = angle - cycles - constant;
            assert_near(off - floor(off + 0.5), 0.0, 2e-5);
            assert_near(hypot(re, im), 0.25, 6e-5);
        }
        es_baseband_destroy(b);
    }
}

/* Second harmonic, hum and hiss at the tone's own strength stay 60 dB below it, and what is left lies
 * outside the pass band (the tracker's test shows that no reading sees it). */
static void little_else_comes_through(void **state)
{
    (void)state;
    static const double strangers_hz[] = {50.0, 150.0, 1000.0, 6300.0, 9450.0, 15734.0};
    for (size_t k = 0; k < COUNT(strangers_hz); k++) {
        test_tone t = {.rate_hz = 48000, .tone_hz = strangers_hz[k], .amplitude = 0.5};
        test_tone_fill(&t, 0, sound, 1, FRAMES);
        es_baseband *b = tuned(48000, 3150);
        size_t count = run(b, sound, FRAMES, phasors);
        for (size_t n = 40; n < count; n++) /* past the click of its sudden start */
            assert_near(hypot((double)phasors[n].re, (double)phasors[n].im), 0.0, 0.25e-3);
        es_baseband_destroy(b);
    }
}

static void any_block_size_gives_the_same_phasors(void **state)
{
    (void)state;
    test_tone t = {
        .rate_hz = 48000, .tone_hz = 3150, .amplitude = 0.5, .depth = 0.01, .flutter_hz = 7.0};
    test_tone_fill(&t, 0, sound, 1, FRAMES);
    es_baseband *b = tuned(48000, 3150);
    size_t whole = run(b, sound, FRAMES, phasors), parts = 0, at = 0;
    es_baseband_reset(b);
    for (size_t size = 1; at < FRAMES; size = size * 3 % 1009 + 1) {
        size_t take = size < FRAMES - at ? size : FRAMES - at;
        parts += run(b, sound + at, take, others + parts);
        at += take;
    }
    assert_int_equal(parts, whole);
    assert_memory_equal(phasors, others, whole * sizeof *phasors);
    es_baseband_destroy(b);
}

/* A baseband that joins late reads the same phasors as one that was there all the time. */
static void skipping_joins_in_phase(void **state)
{
    (void)state;
    test_tone t = {.rate_hz = 48000, .tone_hz = 3150, .amplitude = 0.5, .error = 0.02};
    test_tone_fill(&t, 0, sound, 1, FRAMES);
    es_baseband *b = tuned(48000, 3150);
    size_t hop = es_baseband_plan_of(b).hop_frames, hops = 777;
    size_t whole = run(b, sound, FRAMES, phasors);
    es_baseband_reset(b);
    es_baseband_skip(b, hops * hop);
    size_t late = run(b, sound + hops * hop, FRAMES - hops * hop, others);
    assert_int_equal(late, whole - hops);
    assert_memory_equal(phasors + hops, others, late * sizeof *others);
    es_baseband_destroy(b);
}

static void refuses_what_it_can_not_follow(void **state)
{
    (void)state;
    es_baseband *b;
    size_t count;
    assert_int_equal(es_baseband_create(7999.0, &b), ES_ERR_ARG);
    assert_null(b);
    assert_int_equal(es_baseband_create((double)NAN, &b), ES_ERR_ARG);
    assert_int_equal(es_baseband_create(48000.0, &b), ES_OK);
    assert_int_equal(es_baseband_process(b, sound, 1, 10, phasors, 100, &count), ES_ERR_ARG);
    assert_int_equal(es_baseband_tune(b, 299.0, 0.15), ES_ERR_ARG);
    assert_int_equal(es_baseband_tune(b, 19201.0, 0.15), ES_ERR_ARG);
    assert_int_equal(es_baseband_tune(b, 3150.0, 0.31), ES_ERR_ARG);
    assert_int_equal(es_baseband_tune(b, 3150.0, 0.15), ES_OK);
    assert_int_equal(es_baseband_process(b, sound, 1, 1000, phasors, 3, &count), ES_ERR_SPACE);
    assert_int_equal(count, 0);
    es_baseband_destroy(b);
    es_baseband_destroy(NULL);
}

static void every_tone_of_every_rate_can_be_tuned(void **state)
{
    (void)state;
    static const double rates[] = {8000,  11025, 16000, 22050,  32000,  44100, 47999,
                                   48000, 88200, 96000, 176400, 192000, 384000};
    for (size_t r = 0; r < COUNT(rates); r++) {
        es_baseband *b;
        assert_int_equal(es_baseband_create(rates[r], &b), ES_OK);
        for (double hz = 300.0; hz <= 0.4 * rates[r]; hz *= 1.17) {
            assert_int_equal(es_baseband_tune(b, hz, 0.15), ES_OK);
            es_baseband_plan plan = es_baseband_plan_of(b);
            assert_near(plan.centre_hz, hz, fmax(1.2, 6e-4 * hz));
            assert_true(plan.pass_hz >= 0.15 * hz + 50.0 && plan.hop_hz >= 2.0 * plan.pass_hz);
        }
        es_baseband_destroy(b);
    }
}

static void processing_never_allocates(void **state)
{
    (void)state;
    es_baseband *b = tuned(48000, 3150);
    alloc_probe_reset();
    run(b, sound, FRAMES, phasors);
    es_baseband_reset(b);
    assert_int_equal(es_baseband_tune(b, 3000, 0.15), ES_OK);
    assert_int_equal(alloc_probe_calls(), 0);
    es_baseband_destroy(b);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_baseband *b = NULL;
    long n;
    ALLOC_SWEEP(n, es_baseband_create(48000, &b), b);
    es_baseband_destroy(b);
    assert_int_equal(alloc_probe_live(), 0);
    assert_true(n >= 2);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tone_becomes_a_turning_phasor),
        cmocka_unit_test(little_else_comes_through),
        cmocka_unit_test(any_block_size_gives_the_same_phasors),
        cmocka_unit_test(skipping_joins_in_phase),
        cmocka_unit_test(refuses_what_it_can_not_follow),
        cmocka_unit_test(every_tone_of_every_rate_can_be_tuned),
        cmocka_unit_test(processing_never_allocates),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("signal/baseband", tests, NULL, NULL);
}
