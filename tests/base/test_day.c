#include "cm.h"

#include "evenspool/base/day.h"

#include <string.h>

/* Counted by Python's datetime: (date(...) - date(1970, 1, 1)).days */
static const struct {
    const char *day;
    double number;
} days[] = {
    {"1970-01-01", 0.0},     {"1969-12-31", -1.0},      {"2000-02-29", 11016.0},
    {"2000-03-01", 11017.0}, {"1900-02-28", -25509.0},  {"1900-03-01", -25508.0},
    {"2026-11-25", 20782.0}, {"0001-01-01", -719162.0}, {"9999-12-31", 2932896.0},
};

static void counts_days_both_ways(void **state)
{
    (void)state;
    char text[16];
    for (size_t i = 0; i < COUNT(days); i++) {
        assert_near(es_day_of(days[i].day), days[i].number, 0.0);
        es_day_write(days[i].number, text, sizeof text);
        assert_string_equal(text, days[i].day);
    }
}

static void every_day_of_some_centuries_is_the_one_after_the_last(void **state)
{
    (void)state;
    char text[16];
    for (double day = -40000.0; day <= 60000.0; day += 1.0) {
        es_day_write(day, text, sizeof text);
        assert_near(es_day_of(text), day, 0.0);
    }
}

static void a_moment_is_of_its_day(void **state)
{
    (void)state;
    assert_near(es_day_of("2026-11-25T23:59:59Z"), 20782.0, 0.0);
}

static void what_is_no_day_is_not_known(void **state)
{
    (void)state;
    static const char *const none[] = {"",           "2026",        "2026-13-01", "2026-00-10",
                                       "2026-01-32", "26-01-01",    "2026/01/01", "2026-1-1",
                                       "0000-01-01", "2026-01-01 ", "yesterday!"};
    for (size_t i = 0; i < COUNT(none); i++)
        assert_true(isnan(es_day_of(none[i])));
    char text[16] = "x";
    es_day_write((double)NAN, text, sizeof text);
    assert_string_equal(text, "");
    es_day_write(1e9, text, sizeof text);
    assert_string_equal(text, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(counts_days_both_ways),
        cmocka_unit_test(every_day_of_some_centuries_is_the_one_after_the_last),
        cmocka_unit_test(a_moment_is_of_its_day),
        cmocka_unit_test(what_is_no_day_is_not_known),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
