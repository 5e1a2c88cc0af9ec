#include "cm.h"

#include "device/pace.h"

#include <math.h>

#define RATE 48000.0
#define BLOCK 480

/* A device with a clock of its own, blocks that come late and in bursts, and losses. */
typedef struct world {
    es_pace pace;
    double fast;  /* the card's clock against ours, fraction            */
    int64_t made; /* frames the card made                               */
    int64_t lost; /* of these, frames that never came                   */
    unsigned seed;
    double late_s; /* largest delay of a block                           */
    int64_t found; /* what the pace said                                 */
    int64_t back;
    double found_s; /* when                                               */
    double now_s;
} world;

static unsigned dice(unsigned *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return *seed >> 8;
}

static world new_world(double fast, double late_s)
{
    world w = {.fast = fast, .late_s = late_s, .seed = 5};
    es_pace_begin(&w.pace, RATE);
    return w;
}

static void deliver(world *w, double at_s)
{
    int64_t back;
    int64_t lost = es_pace_block(&w->pace, BLOCK, (int64_t)(at_s * 1e9), &back);
    if (lost > 0) {
        w->found += lost;
        w->back = back;
        w->found_s = at_s;
    }
}

/* Blocks come when they are made plus a random delay, but never before the one before them. */
static void run(world *w, double seconds)
{
    double end = (double)w->made / (RATE * (1.0 + w->fast)) + seconds;
    for (;;) {
        double made_s = (double)(w->made + BLOCK) / (RATE * (1.0 + w->fast));
        if (made_s > end)
            return;
        w->made += BLOCK;
        double at = made_s + w->late_s * (double)(dice(&w->seed) % 1000) / 1000.0;
        w->now_s = at > w->now_s ? at : w->now_s;
        deliver(w, w->now_s);
    }
}

static void lose(world *w, int64_t frames)
{
    w->made += frames;
    w->lost += frames;
}

/* Everything made in these seconds comes at their end. */
static void stall(world *w, double seconds)
{
    int64_t blocks = (int64_t)(seconds * RATE) / BLOCK;
    w->made += blocks * BLOCK;
    w->now_s = (double)w->made / (RATE * (1.0 + w->fast));
    for (int64_t i = 0; i < blocks; i++)
        deliver(w, w->now_s);
}

static void an_hour_of_late_blocks_and_a_slow_card_loses_nothing(void **state)
{
    (void)state;
    static const double fast[] = {0.0, -0.0005, 0.0005};
    for (size_t i = 0; i < COUNT(fast); i++) {
        world w = new_world(fast[i], 0.06);
        run(&w, 3600.0);
        assert_int_equal(w.found, 0);
    }
}

static void finds_what_was_lost_without_a_word(void **state)
{
    (void)state;
    static const int64_t lost[] = {7200, 24000, 233234};
    for (size_t i = 0; i < COUNT(lost); i++) {
        world w = new_world(0.00002, 0.04);
        run(&w, 10.0);
        lose(&w, lost[i]);
        double at = (double)w.made / RATE;
        run(&w, 5.0);
        assert_near((double)w.found, (double)lost[i], 0.01 * RATE);
        assert_true(w.found_s - at <= 1.6);
        assert_true((double)w.back >= 0.5 * RATE && (double)w.back <= 1.7 * RATE);
        run(&w, 600.0);
        assert_near((double)w.found, (double)lost[i], 0.01 * RATE); /* told once */
    }
}

static void late_is_not_lost(void **state)
{
    (void)state;
    static const double seconds[] = {0.3, 1.5, 8.0};
    for (size_t i = 0; i < COUNT(seconds); i++) {
        world w = new_world(0.0, 0.04);
        run(&w, 10.0);
        stall(&w, seconds[i]);
        run(&w, 10.0);
        assert_int_equal(w.found, 0);
    }
}

/* What waited comes at three times its speed: 0.8 s until all of it is there. */
static void late_sound_may_come_slowly(void **state)
{
    (void)state;
    world w = new_world(0.0, 0.02);
    run(&w, 10.0);
    double from = w.now_s + 1.6;
    for (int i = 0; i < 240; i++) {
        w.made += BLOCK;
        w.now_s = from + 0.01 / 3.0 * i;
        deliver(&w, w.now_s);
    }
    run(&w, 10.0);
    assert_int_equal(w.found, 0);
}

/* A stop of 16 s of which the sound server kept 10.9 s: what comes late came, the rest is lost. */
static void a_stall_that_overflows_is_lost_in_part(void **state)
{
    (void)state;
    world w = new_world(0.0, 0.04);
    run(&w, 10.0);
    lose(&w, 233280);
    stall(&w, 10.9);
    run(&w, 5.0);
    assert_near((double)w.found, 233280.0, 0.01 * RATE);
}

static void a_burst_at_the_start_is_no_loss(void **state)
{
    (void)state;
    world w = new_world(0.0, 0.02);
    for (int i = 0; i < 100; i++) /* a second at once, kept from before we came */
        deliver(&w, 0.0);
    run(&w, 60.0);
    assert_int_equal(w.found, 0);
}

static void a_hesitant_start_is_no_loss(void **state)
{
    (void)state;
    world w = new_world(0.0, 0.02);
    deliver(&w, -0.4);
    deliver(&w, -0.39);
    deliver(&w, -0.38); /* and then nothing for 0.4 s */
    run(&w, 60.0);
    assert_int_equal(w.found, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_hour_of_late_blocks_and_a_slow_card_loses_nothing),
        cmocka_unit_test(finds_what_was_lost_without_a_word),
        cmocka_unit_test(late_is_not_lost),
        cmocka_unit_test(late_sound_may_come_slowly),
        cmocka_unit_test(a_hesitant_start_is_no_loss),
        cmocka_unit_test(a_stall_that_overflows_is_lost_in_part),
        cmocka_unit_test(a_burst_at_the_start_is_no_loss),
    };
    return cmocka_run_group_tests_name("device/pace", tests, NULL, NULL);
}
