#include "cm.h"

#include "alloc_sweep.h"
#include "device/ring.h"

#include <pthread.h>
#include <sched.h>
#include <string.h>

static es_ring *new_ring(int channels, size_t frames)
{
    es_ring *r;
    assert_int_equal(es_ring_create(channels, frames, &r), ES_OK);
    return r;
}

static void write_count(es_ring *r, float from, size_t count)
{
    float frames[64];
    for (size_t i = 0; i < count; i++)
        frames[i] = from + (float)i;
    es_ring_write(r, frames, count);
}

static void gives_back_what_went_in_across_its_end(void **state)
{
    (void)state;
    es_ring *r = new_ring(2, 5); /* rounded up to 8 */
    float in[12], out[16];
    float next_in = 0, next_out = 0;
    es_gap gap;
    assert_int_equal(es_ring_room(r), 8);
    for (int round = 0; round < 50; round++) {
        for (int i = 0; i < 12; i++)
            in[i] = next_in++;
        assert_int_equal(es_ring_write(r, in, 6), 6);
        assert_int_equal(es_ring_waiting(r), 6);
        assert_int_equal(es_ring_read(r, out, 8, &gap), 6);
        assert_int_equal(gap.reasons, 0);
        for (int i = 0; i < 12; i++)
            assert_near((double)out[i], (double)next_out++, 0.0);
    }
    assert_int_equal(es_ring_frame(r), 300);
    assert_int_equal(es_ring_gaps(r), 0);
    assert_int_equal(es_ring_read(r, out, 8, &gap), 0);
    es_ring_destroy(r);
}

/* 8 fit of 8 and 3 more: 3 dropped, and the read stops at the place where they would have been. */
static void what_finds_no_room_is_a_gap(void **state)
{
    (void)state;
    es_ring *r = new_ring(1, 8);
    float out[16];
    es_gap gap;
    write_count(r, 0, 6);
    write_count(r, 6, 5);
    write_count(r, 90, 1); /* still no room: joins the same gap */
    assert_int_equal(es_ring_dropped(r), 4);
    assert_int_equal(es_ring_gaps(r), 0); /* nothing after it yet */
    assert_int_equal(es_ring_read(r, out, 4, &gap), 4);
    write_count(r, 20, 2);
    assert_int_equal(es_ring_gaps(r), 1);
    assert_int_equal(es_ring_read(r, out, 16, &gap), 4); /* not across */
    assert_int_equal(gap.reasons, 0);
    assert_near((double)out[3], 7.0, 0.0);
    assert_int_equal(es_ring_read(r, out, 16, &gap), 2);
    assert_int_equal(gap.reasons, ES_GAP_FULL);
    assert_int_equal(gap.frame, 8);
    assert_int_equal(gap.since_frame, 8);
    assert_int_equal(gap.lost, 4);
    assert_near((double)out[0], 20.0, 0.0);
    write_count(r, 22, 1);
    assert_int_equal(es_ring_read(r, out, 16, &gap), 1);
    assert_int_equal(gap.reasons, 0); /* told once */
    es_ring_destroy(r);
}

static void gaps_at_one_place_are_one(void **state)
{
    (void)state;
    es_ring *r = new_ring(1, 64);
    float out[64];
    es_gap gap;
    write_count(r, 0, 10);
    es_ring_gap(r, (es_gap){.reasons = ES_GAP_SILENT, .since_frame = 4, .lost = 100});
    es_ring_gap(r, (es_gap){.reasons = ES_GAP_AWAY, .since_frame = -1, .lost = 20});
    write_count(r, 10, 5);
    es_ring_gap(r, (es_gap){.reasons = ES_GAP_OVERFLOW, .since_frame = -1, .lost = -1});
    es_ring_gap(r, (es_gap){.reasons = ES_GAP_SILENT, .since_frame = 12, .lost = 7});
    write_count(r, 15, 1);
    assert_int_equal(es_ring_read(r, out, 64, &gap), 10);
    assert_int_equal(es_ring_read(r, out, 2, &gap), 2);
    assert_int_equal(gap.reasons, ES_GAP_SILENT | ES_GAP_AWAY);
    assert_int_equal(gap.frame, 10);
    assert_int_equal(gap.since_frame, 4);
    assert_int_equal(gap.lost, 120);
    assert_int_equal(es_ring_read(r, out, 64, &gap), 3);
    assert_int_equal(es_ring_read(r, out, 64, &gap), 1);
    assert_int_equal(gap.lost, -1); /* 7 and an unknown number: unknown */
    assert_int_equal(gap.since_frame, 12);
    assert_int_equal(es_ring_gaps(r), 2);
    es_ring_destroy(r);
}

/* More gaps than can be remembered: frames are given up rather than delivered unmarked. */
static void never_bridges_a_gap_that_could_not_be_told(void **state)
{
    (void)state;
    es_ring *r = new_ring(1, 4096);
    float out[8];
    es_gap gap;
    int64_t lost = 0, got = 0, gaps = 0;
    for (int i = 0; i < 200; i++) {
        es_ring_gap(r, (es_gap){.reasons = ES_GAP_OVERFLOW, .since_frame = -1, .lost = 1000});
        write_count(r, 0, 1);
    }
    write_count(r, 0, 1);
    for (size_t n = es_ring_read(r, out, 8, &gap); n > 0; n = es_ring_read(r, out, 8, &gap)) {
        assert_int_equal(n, 1);
        assert_true(gap.reasons);
        got++;
        gaps++;
        lost += gap.lost;
    }
    write_count(r, 0, 1);
    assert_int_equal(es_ring_read(r, out, 8, &gap), 1);
    assert_int_equal(gap.reasons, ES_GAP_OVERFLOW | ES_GAP_FULL);
    lost += gap.lost;
    assert_int_equal(got + 1 + es_ring_dropped(r), 202); /* nothing came or went unseen */
    assert_int_equal(lost, 200 * 1000 + es_ring_dropped(r));
    assert_int_equal(es_ring_gaps(r), gaps + 1);
    es_ring_destroy(r);
}

/* --- two threads --------------------------------------------------------------------------- */

#define STRESS 3000000

typedef struct stress {
    es_ring *ring;
    int64_t sent;
} stress;

static unsigned dice(unsigned *seed)
{
    *seed = *seed * 1664525u + 1013904223u; /* Knuth, Numerical Recipes' constants */
    return *seed >> 8;
}

/* Frames carry their number; sometimes some are lost "in the device". */
static void *write_much(void *who)
{
    stress *s = who;
    unsigned seed = 7;
    int hurry = 0;
    float frames[2 * 300];
    while (s->sent <= STRESS) {
        size_t count = 1 + dice(&seed) % 300;
        if (dice(&seed) % 50 == 0) {
            int64_t lost = 1 + dice(&seed) % 1000;
            es_ring_gap(s->ring,
                        (es_gap){.reasons = ES_GAP_OVERFLOW, .since_frame = -1, .lost = lost});
            s->sent += lost;
        }
        for (size_t i = 0; i < count; i++) {
            frames[2 * i] = (float)s->sent; /* below 2^24: exact */
            frames[2 * i + 1] = -(float)s->sent++;
        }
        es_ring_write(s->ring, frames, count);
        if (dice(&seed) % 200 == 0)
            hurry = 12; /* more than fits */
        if (hurry > 0)
            hurry--;
        else
            while (es_ring_waiting(s->ring) > 1500)
                sched_yield();
    }
    while (es_ring_waiting(s->ring) > 0) /* a last one that is sure to go in */
        sched_yield();
    frames[0] = (float)s->sent;
    frames[1] = 1.0f;
    es_ring_write(s->ring, frames, 1);
    return NULL;
}

/* Every frame has the number it must have by the gaps told so far. */
static void two_threads_lose_nothing_unseen(void **state)
{
    (void)state;
    stress s = {.ring = new_ring(2, 2048)};
    pthread_t writer;
    float out[2 * 256];
    int64_t expected = 0, wrong = 0;
    unsigned seed = 3;
    assert_int_equal(pthread_create(&writer, NULL, write_much, &s), 0);
    for (int ended = 0; !ended;) {
        es_gap gap;
        int64_t frame = es_ring_frame(s.ring);
        size_t got = es_ring_read(s.ring, out, 1 + dice(&seed) % 256, &gap);
        if (gap.reasons) {
            wrong += gap.frame != frame;
            expected += gap.lost;
        }
        ended = got > 0 && out[2 * got - 1] > 0.0f;
        for (size_t i = 0; i < got - (size_t)ended; i++, expected++)
            wrong += (int64_t)out[2 * i] != expected || (int64_t)out[2 * i + 1] != -expected;
        if (got == 0)
            sched_yield();
    }
    pthread_join(writer, NULL);
    assert_int_equal(wrong, 0);
    assert_int_equal(expected, s.sent);
    print_message("stress: %lld frames in %lld gaps, %lld dropped for want of room\n",
                  (long long)expected, (long long)es_ring_gaps(s.ring),
                  (long long)es_ring_dropped(s.ring));
    es_ring_destroy(s.ring);
}

/* --- life ---------------------------------------------------------------------------------- */

static void refuses_settings_out_of_range(void **state)
{
    (void)state;
    es_ring *r;
    assert_int_equal(es_ring_create(0, 8, &r), ES_ERR_ARG);
    assert_int_equal(es_ring_create(65, 8, &r), ES_ERR_ARG);
    assert_int_equal(es_ring_create(2, 0, &r), ES_ERR_ARG);
    assert_int_equal(es_ring_create(2, ES_RING_FRAMES_MOST + 1u, &r), ES_ERR_ARG);
    assert_null(r);
    es_ring_destroy(NULL);
}

static void working_never_allocates(void **state)
{
    (void)state;
    es_ring *r = new_ring(1, 16);
    float out[16];
    es_gap gap;
    alloc_probe_reset();
    write_count(r, 0, 20);
    es_ring_read(r, out, 16, &gap);
    write_count(r, 0, 4);
    es_ring_read(r, out, 16, &gap);
    assert_int_equal(alloc_probe_calls(), 0);
    es_ring_destroy(r);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    es_ring *r = NULL;
    long n;
    ALLOC_SWEEP(n, es_ring_create(2, 64, &r), r);
    assert_int_equal(n, 3);
    es_ring_destroy(r);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gives_back_what_went_in_across_its_end),
        cmocka_unit_test(what_finds_no_room_is_a_gap),
        cmocka_unit_test(gaps_at_one_place_are_one),
        cmocka_unit_test(never_bridges_a_gap_that_could_not_be_told),
        cmocka_unit_test(two_threads_lose_nothing_unseen),
        cmocka_unit_test(refuses_settings_out_of_range),
        cmocka_unit_test(working_never_allocates),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("device/ring", tests, NULL, NULL);
}
