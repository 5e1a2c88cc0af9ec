#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "paper/axes.h"

static void a_linear_scale_runs_from_end_to_end(void **state)
{
    (void)state;
    es_scale s = {-1.0, 3.0, 400.0, 200.0, 0};
    assert_near(es_scale_at(&s, -1.0), 400.0, 1e-12);
    assert_near(es_scale_at(&s, 3.0), 200.0, 1e-12);
    assert_near(es_scale_at(&s, 0.0), 350.0, 1e-12);
    assert_near(es_scale_held(&s, 99.0), 200.0, 1e-12);
}

static void decades_of_a_logarithmic_scale_are_equally_long(void **state)
{
    (void)state;
    es_scale s = {0.1, 100.0, 0.0, 300.0, 1};
    assert_near(es_scale_at(&s, 1.0), 100.0, 1e-9);
    assert_near(es_scale_at(&s, 10.0), 200.0, 1e-9);
    assert_near(es_scale_held(&s, 0.001), 0.0, 1e-9);
}

static void assert_texts(const es_ticks *ticks, const char *const *texts, size_t count)
{
    assert_int_equal(ticks->count, count);
    for (size_t i = 0; i < count; i++)
        assert_string_equal(ticks->text[i], texts[i]);
}

static void linear_ticks_are_round_and_carry_signs(void **state)
{
    (void)state;
    static const char *const texts[] = {"\u22121.0", "\u22120.5", "0.0", "+0.5"};
    es_ticks ticks = es_ticks_linear(-1.37, 0.61, 4, 1);
    assert_texts(&ticks, texts, 4);
    assert_near(ticks.at[1], -0.5, 1e-12);
}

static void rates_are_numbered_one_two_five(void **state)
{
    (void)state;
    static const char *const texts[] = {"0.1", "0.2", "0.5", "1",   "2",  "5",
                                        "10",  "20",  "50",  "100", "200"};
    es_ticks ticks = es_ticks_logarithmic(0.1, 200.0, 1);
    assert_texts(&ticks, texts, 11);
}

static void wide_ranges_number_only_decades(void **state)
{
    (void)state;
    static const char *const texts[] = {"0.01", "", "", "0.1", "", "", "1"};
    es_ticks ticks = es_ticks_logarithmic(0.01, 1.0, 0);
    assert_texts(&ticks, texts, 7);
}

static void time_is_told_in_the_unit_that_suits(void **state)
{
    (void)state;
    static const char *const seconds[] = {"0", "2", "4", "6", "8", "10"};
    static const char *const minutes[] = {"0:00", "1:00", "2:00", "3:00", "4:00", "5:00"};
    static const char *const hours[] = {"0:00", "2:00", "4:00", "6:00", "8:00", "10:00"};
    const char *unit;
    es_ticks ticks = es_ticks_time(10.0, 7, &unit);
    assert_texts(&ticks, seconds, 6);
    assert_string_equal(unit, "s");
    ticks = es_ticks_time(301.0, 7, &unit);
    assert_texts(&ticks, minutes, 6);
    assert_string_equal(unit, "min:s");
    ticks = es_ticks_time(36000.0, 7, &unit);
    assert_texts(&ticks, hours, 6);
    assert_string_equal(unit, "h:min");
}

/* Any range: a few ticks, never none, never more than there is room for. */
static void every_range_has_some_ticks(void **state)
{
    (void)state;
    const char *unit;
    for (double range = 1e-4; range < 1e6; range *= 1.7) {
        es_ticks ticks = es_ticks_linear(-0.3 * range, 0.7 * range, 6, 1);
        assert_in_range(ticks.count, 2, 7);
        if (range > 0.2)
            assert_in_range(es_ticks_time(range, 7, &unit).count, 2, 8);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_linear_scale_runs_from_end_to_end),
        cmocka_unit_test(decades_of_a_logarithmic_scale_are_equally_long),
        cmocka_unit_test(linear_ticks_are_round_and_carry_signs),
        cmocka_unit_test(rates_are_numbered_one_two_five),
        cmocka_unit_test(wide_ranges_number_only_decades),
        cmocka_unit_test(time_is_told_in_the_unit_that_suits),
        cmocka_unit_test(every_range_has_some_ticks),
    };
    return cmocka_run_group_tests_name("paper/axes", tests, NULL, NULL);
}
