#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "evenspool/base/status.h"
#include "evenspool/base/units.h"
#include "near.h"

/* cents = 1200 log2(1 + e), the definition of the cent; worked by hand to seven digits. */
static void converts_cents_both_ways(void **state)
{
    (void)state;
    static const double pairs[][2] = {{0.001, 1.7303690},
                                      {0.005, 8.6346017},
                                      {0.01, 17.2263516},
                                      {-0.01, -17.3994836},
                                      {0.05946309436, 100.0}};
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
        assert_near(es_cents(pairs[i][0]), pairs[i][1], 2e-5);
        assert_near(es_error_from_cents(pairs[i][1]), pairs[i][0], 2e-8);
    }
}

/* A tape made 0.40 % fast, played 0.65 % slow: 3150 Hz reads 3117.05677 Hz (by hand). */
static void takes_the_tape_and_the_clock_off(void **state)
{
    (void)state;
    double heard = 3117.0567729 / 3150.0 - 1.0;
    assert_near(es_true_error(heard, 0.004, 0.0), -0.0065, 1e-9);
    assert_near(es_true_error(0.0, 0.0, 50e-6), 50e-6, 1e-15);
    assert_near(es_true_error(-0.01, 0.004, 100e-6), 0.99 * 1.004 * 1.0001 - 1.0, 1e-15);
}

/* 250 against 200 nWb/m is 1.93820 dB: 20 log10 of the ratio. */
static void converts_levels(void **state)
{
    (void)state;
    assert_near(es_db(250.0 / 200.0), 1.938200, 1e-6);
    assert_near(es_amplitude(-20.0), 0.1, 1e-15);
}

static void has_a_text_for_every_status(void **state)
{
    (void)state;
    for (int i = 0; i < ES_STATUS_COUNT; i++)
        assert_string_not_equal(es_status_text((es_status)i), "unknown status");
    assert_string_equal(es_status_text((es_status)99), "unknown status");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(converts_cents_both_ways),
        cmocka_unit_test(takes_the_tape_and_the_clock_off),
        cmocka_unit_test(converts_levels),
        cmocka_unit_test(has_a_text_for_every_status),
    };
    return cmocka_run_group_tests_name("base/units", tests, NULL, NULL);
}
