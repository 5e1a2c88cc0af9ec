#include "cm.h"

#include "alloc_sweep.h"
#include "evenspool/signal/stretch.h"
#include "tone.h"

typedef struct heard {
    size_t breaks, lead, counts, bridged, outside;
    double first_s, last_s, worst; /* of what counts: span, and largest |hz - 3150| */
    double bridged_worst;
} heard;

static void listen(void *who, const es_steady *s)
{
    heard *h = who;
    h->breaks += s->role == ES_ROLE_BREAK;
    h->lead += s->role == ES_ROLE_LEAD;
    h->bridged += s->role == ES_ROLE_BRIDGED;
    h->outside += s->role == ES_ROLE_OUTSIDE;
    if (s->role == ES_ROLE_BRIDGED)
        h->bridged_worst = fmax(h->bridged_worst, fabs(s->hz - 3150.0));
    if (s->role != ES_ROLE_COUNTS)
        return;
    if (h->counts++ == 0)
        h->first_s = s->time_s;
    h->last_s = s->time_s;
    h->worst = fmax(h->worst, fabs(s->hz - 3150.0));
}

typedef double curve(double time_s); /* hz */
typedef int presence(double time_s); /* good */

static heard play(curve *hz, presence *good, double seconds)
{
    heard h = {0};
    es_stretch *s;
    assert_int_equal(es_stretch_create(listen, &h, &s), ES_OK);
    for (size_t i = 0; (double)i < seconds * ES_READINGS_HZ; i++) {
        double t = (double)i / ES_READINGS_HZ;
        es_tone_reading r = {.time_s = t, .hz = hz(t), .amplitude_fs = 0.5, .good = good(t)};
        es_stretch_push(s, &r);
    }
    es_stretch_end(s);
    h.outside += 1000000 * es_stretch_gaps(s); /* both in one number: gaps * 1e6 + outside */
    es_stretch_destroy(s);
    return h;
}

static double level(double t)
{
    (void)t;
    return 3150.0;
}

static double wobbling(double t)
{
    return 3150.0 * (1.0 + 0.002 * sin(TONE_TWO_PI * 0.7 * t));
}

static double
starting(double t) /* a motor that comes up to speed within two seconds, and is stopped */
{
    double up = 1.0 - exp(-t / 0.3), down = t > 17.0 ? exp(-(t - 17.0) / 0.4) : 1.0;
    return 3150.0 * up * down;
}

static double drifting(double t)
{
    return 3150.0 * (1.0 + 0.0005 * t);
}

static int always(double t)
{
    (void)t;
    return 1;
}

static int while_turning(double t)
{
    return starting(t) > 0.85 * 3150.0;
}

static int with_gaps(double t) /* 100 ms at 6 s, 1 s at 10 s */
{
    return !((t > 6.0 && t < 6.1) || (t > 10.0 && t < 11.0));
}

static int late_and_early(double t)
{
    return t > 2.0 && t < 12.0;
}

static void a_steady_tone_is_one_stretch_from_end_to_end(void **state)
{
    (void)state;
    heard h = play(level, always, 20.0);
    assert_int_equal(h.breaks, 1);
    assert_int_equal(h.counts, 24020);
    assert_int_equal(h.bridged + h.outside, 0);
    assert_in_range(h.lead, 4700, 4804);
    h = play(wobbling, always, 20.0);
    assert_int_equal(h.counts, 24020);
}

static void start_and_stop_are_left_out(void **state)
{
    (void)state;
    heard h = play(starting, while_turning, 20.0);
    assert_int_equal(h.breaks, 1);
    assert_in_range(h.first_s * 1000, 1400, 3000);
    assert_in_range(h.last_s * 1000, 16500, 17100);
    assert_true(h.worst < 0.02 * 3150.0);
    assert_int_equal(h.outside / 1000000, 0); /* neither is a dropout */
}

static void a_short_gap_is_bridged_and_a_long_one_breaks(void **state)
{
    (void)state;
    heard h = play(wobbling, with_gaps, 20.0);
    assert_int_equal(h.breaks, 2);
    assert_in_range(h.bridged, 118, 122);
    assert_int_equal(h.outside / 1000000, 2);
    assert_in_range(h.counts, 24020 - 122 - 1250, 24020 - 118 - 1200);
    assert_true(h.bridged_worst <= 0.002 * 3150.0 * 1.001); /* the line between the shores */
}

/* The same long gap, but said to be another part: the tone was not lost. */
static void another_part_is_no_loss_of_the_tone(void **state)
{
    (void)state;
    heard h = {0};
    es_stretch *s;
    assert_int_equal(es_stretch_create(listen, &h, &s), ES_OK);
    for (int part = 0; part < 2; part++) {
        for (int i = 0; i < (int)(8.0 * ES_READINGS_HZ); i++) {
            double t = 20.0 * part + i / ES_READINGS_HZ;
            es_tone_reading r = {.time_s = t, .hz = level(t), .amplitude_fs = 0.5, .good = 1};
            es_stretch_push(s, &r);
        }
        es_stretch_part(s);
        assert_int_equal(h.breaks, part + 1);
        assert_near(h.last_s, 20.0 * part + 8.0, 0.01);
    }
    es_stretch_end(s);
    assert_int_equal(es_stretch_gaps(s), 0);
    assert_int_equal(h.outside + h.bridged, 0);
    es_stretch_destroy(s);
}

static void silence_before_and_after_is_outside(void **state)
{
    (void)state;
    heard h = play(level, late_and_early, 15.0);
    assert_near(h.first_s, 2.0, 0.01);
    assert_near(h.last_s, 12.0, 0.01);
    assert_int_equal(h.breaks, 1);
    assert_int_equal(h.outside / 1000000, 0);
}

/* 3 % a minute is a fault to be measured, not a start to be left out. */
static void a_drifting_deck_still_counts(void **state)
{
    (void)state;
    heard h = play(drifting, always, 30.0);
    assert_int_equal(h.breaks, 1);
    assert_true(h.counts > 28 * 1201);
}

static void too_short_a_tone_is_no_stretch(void **state)
{
    (void)state;
    heard h = play(level, always, 0.4);
    assert_int_equal(h.counts + h.breaks, 0);
    h = play(level, always, 1.0);
    assert_int_equal(h.counts, 1201);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    heard h = {0};
    es_stretch *s = NULL;
    long n;
    ALLOC_SWEEP(n, es_stretch_create(listen, &h, &s), s);
    es_tone_reading r = {.hz = 3150.0, .good = 1};
    for (int i = 0; i < 60000; i++)
        es_stretch_push(s, &r);
    assert_int_equal(alloc_probe_calls(), n);
    es_stretch_destroy(s);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_steady_tone_is_one_stretch_from_end_to_end),
        cmocka_unit_test(start_and_stop_are_left_out),
        cmocka_unit_test(a_short_gap_is_bridged_and_a_long_one_breaks),
        cmocka_unit_test(another_part_is_no_loss_of_the_tone),
        cmocka_unit_test(silence_before_and_after_is_outside),
        cmocka_unit_test(a_drifting_deck_still_counts),
        cmocka_unit_test(too_short_a_tone_is_no_stretch),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("signal/stretch", tests, NULL, NULL);
}
