#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "paper/labels.h"

#define LEFT 10.0
#define RIGHT 440.0
#define ROW 10.0 /* height given to a row here */
#define BASE 200.0

static double chance(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u; /* from memory: a well-known congruential generator */
    return (double)(*seed >> 8) / 16777216.0;
}

static es_box box_of(const es_flag *flag)
{
    double left = flag->leftward ? flag->mast - flag->width : flag->mast;
    double bottom = BASE - ROW * (double)flag->row;
    return (es_box){left, bottom - ROW, left + flag->width, bottom};
}

/* The part of a mast below its own row, as a hair of a box; empty in row 0. */
static es_box mast_of(const es_flag *flag)
{
    return (es_box){flag->mast - 0.01, BASE - ROW * (double)flag->row, flag->mast + 0.01, BASE};
}

static void assert_in_order(const es_flag *flags, size_t count, size_t rows)
{
    for (size_t i = 0; i < count; i++) {
        assert_true(flags[i].row < rows);
        assert_true(
            es_box_holds((es_box){LEFT - 1e-9, -1e9, RIGHT + 1e-9, 1e9}, box_of(&flags[i])));
        for (size_t j = 0; j < count; j++) {
            if (i == j)
                continue;
            assert_false(es_boxes_overlap(box_of(&flags[i]), box_of(&flags[j])));
            if (fabs(flags[i].mast - flags[j].mast) > 0.1)
                assert_false(es_boxes_overlap(box_of(&flags[i]), mast_of(&flags[j])));
        }
    }
}

static void flags_never_meet_each_other_or_a_mast(void **state)
{
    (void)state;
    uint32_t seed = 5;
    for (int round = 0; round < 60; round++) {
        es_flag flags[ES_FLAGS_MOST];
        size_t count = 1 + (size_t)(chance(&seed) * ES_FLAGS_MOST);
        double spread = chance(&seed) * (RIGHT - LEFT), from = LEFT + chance(&seed) * 50.0;
        for (size_t i = 0; i < count; i++)
            flags[i] = (es_flag){.mast = fmin(RIGHT, from + chance(&seed) * spread),
                                 .width = 20.0 + 150.0 * chance(&seed)};
        size_t rows = es_flags_arrange(flags, count, LEFT, RIGHT);
        assert_in_range(rows, 1, count);
        assert_in_order(flags, count, rows);
    }
}

static void far_apart_flags_share_one_row_uncut(void **state)
{
    (void)state;
    es_flag flags[] = {{.mast = 60.0, .width = 80.0},
                       {.mast = 180.0, .width = 80.0},
                       {.mast = 420.0, .width = 80.0}};
    assert_int_equal(es_flags_arrange(flags, 3, LEFT, RIGHT), 1);
    assert_in_order(flags, 3, 1);
    for (int i = 0; i < 3; i++)
        assert_near(flags[i].width, 80.0, 0.0);
    assert_true(flags[2].leftward); /* no room at its right */
}

static void equal_masts_still_get_a_row_each(void **state)
{
    (void)state;
    es_flag flags[4];
    for (int i = 0; i < 4; i++)
        flags[i] = (es_flag){.mast = LEFT, .width = 100.0};
    size_t rows = es_flags_arrange(flags, 4, LEFT, RIGHT);
    assert_int_equal(rows, 4);
    assert_in_order(flags, 4, rows);
}

static void no_flags_or_too_many_need_no_rows(void **state)
{
    (void)state;
    es_flag flags[ES_FLAGS_MOST + 1] = {{0}};
    assert_int_equal(es_flags_arrange(flags, 0, LEFT, RIGHT), 0);
    assert_int_equal(es_flags_arrange(flags, ES_FLAGS_MOST + 1, LEFT, RIGHT), 0);
}

static void close_intervals_are_spread_in_their_order(void **state)
{
    (void)state;
    double centre[] = {50.0, 49.0, 51.0};
    const double height[] = {10.0, 10.0, 10.0};
    es_labels_spread(centre, height, 3, 0.0, 100.0);
    assert_true(centre[1] + 10.0 <= centre[0] + 1e-9);
    assert_true(centre[0] + 10.0 <= centre[2] + 1e-9);
}

static void spread_intervals_stay_inside(void **state)
{
    (void)state;
    double centre[] = {99.0, 98.0, 1.0};
    const double height[] = {12.0, 12.0, 12.0};
    es_labels_spread(centre, height, 3, 0.0, 100.0);
    assert_near(centre[2], 6.0, 1e-9);
    assert_near(centre[0], 94.0, 1e-9);
    assert_near(centre[1], 82.0, 1e-9);
}

static void boxes_that_touch_do_not_overlap(void **state)
{
    (void)state;
    es_box a = {0.0, 0.0, 10.0, 10.0}, b = {10.0, 0.0, 20.0, 10.0};
    assert_false(es_boxes_overlap(a, b));
    assert_true(es_boxes_overlap(es_box_grown(a, 0.1), b));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(flags_never_meet_each_other_or_a_mast),
        cmocka_unit_test(far_apart_flags_share_one_row_uncut),
        cmocka_unit_test(equal_masts_still_get_a_row_each),
        cmocka_unit_test(no_flags_or_too_many_need_no_rows),
        cmocka_unit_test(close_intervals_are_spread_in_their_order),
        cmocka_unit_test(spread_intervals_stay_inside),
        cmocka_unit_test(boxes_that_touch_do_not_overlap),
    };
    return cmocka_run_group_tests_name("paper/labels", tests, NULL, NULL);
}
