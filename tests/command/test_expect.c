#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "command/check_options.h"
#include "command/expect.h"
#include "command/verb.h"
#include "evenspool/tape/transport.h"
#include "near.h"

#include <stdio.h>
#include <string.h>

static es_expect expecting(const char *text)
{
    es_expect expect;
    es_error error = {0};
    if (es_expect_read(text, &expect, &error) != ES_OK)
        fail_msg("%s", error.text);
    return expect;
}

static es_check_result result_of(double error, double u95)
{
    es_check_result r = {0};
    r.speed.error_percent = error;
    r.speed.u95_percent = u95;
    return r;
}

static void is_met_up_to_the_limit_on_both_sides(void **state)
{
    (void)state;
    static const struct {
        double error;
        int outside;
    } errors[] = {{0.0, 0},   {0.5, 0},      {-0.5, 0},       {0.500001, 1},
                  {-0.51, 1}, {HUGE_VAL, 1}, {(double)NAN, 1}};
    es_expect expect = expecting("error_percent=0.5");
    for (size_t i = 0; i < sizeof errors / sizeof *errors; i++) {
        es_check_result r = result_of(errors[i].error, 0.0);
        assert_int_equal(es_expect_judge(&expect, &r, "a.wav"), errors[i].outside);
    }
}

static void judges_each_of_several(void **state)
{
    (void)state;
    es_expect expect = expecting("error_percent=0.5,u95_percent=0.1,cents=1");
    assert_int_equal(expect.count, 3);
    es_check_result r = result_of(0.6, 0.2);
    assert_int_equal(es_expect_judge(&expect, &r, "a.wav"), 2);
    r = result_of(0.4, 0.2);
    assert_int_equal(es_expect_judge(&expect, &r, "a.wav"), 1);
    r = result_of(0.4, 0.05);
    assert_int_equal(es_expect_judge(&expect, &r, "a.wav"), 0);
}

static void knows_figures_with_and_without_their_unit(void **state)
{
    (void)state;
    static const struct {
        const char *text, *key;
    } names[] = {{"error=1", "error_percent"},
                 {"drift=1", "drift_percent_per_min"},
                 {"weighted_two_sigma=1", "weighted_two_sigma_percent"},
                 {"delay=1", "delay_us"},
                 {"level_difference=1", "level_difference_db"},
                 {"cents=1", "cents"},
                 {"drift_percent_per_min=1", "drift_percent_per_min"}};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        es_expect expect = expecting(names[i].text);
        assert_string_equal(expect.at[0].figure->key, names[i].key);
    }
}

static void refuses_what_it_does_not_understand(void **state)
{
    (void)state;
    static const struct {
        const char *text, *part;
    } wrong[] = {{"", "NAME=LIMIT"},
                 {"error", "NAME=LIMIT"},
                 {"error=", "NAME=LIMIT"},
                 {"=1", "no figure"},
                 {"error=1,", "NAME=LIMIT"},
                 {"err=1", "no figure \"err\""},
                 {"eror_percent=1", "did you mean error_percent?"},
                 {"error_percent=-1", "0 or more"},
                 {"error_percent=x", "0 or more"},
                 {"snr_db=20", "no figure"}, /* more of it is better: a limit would mislead */
                 {"error_percent==1", "0 or more"}};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        es_expect expect;
        es_error error = {0};
        assert_int_equal(es_expect_read(wrong[i].text, &expect, &error), ES_ERR_ARG);
        if (!strstr(error.text, wrong[i].part))
            fail_msg("\"%s\" does not say \"%s\"", error.text, wrong[i].part);
    }
}

static void takes_a_limit_for_every_figure_of_which_less_is_better(void **state)
{
    (void)state;
    static const char *const keys[] = {
        "clipped_percent",
        "error_percent",
        "u95_percent",
        "cents",
        "drift_percent_per_min",
        "start_percent",
        "end_percent",
        "heard_percent",
        "weighted_quasi_peak_percent",
        "weighted_two_sigma_percent",
        "weighted_rms_percent",
        "unweighted_peak_percent",
        "unweighted_rms_percent",
        "wow_rms_percent",
        "flutter_rms_percent",
        "delay_us",
        "level_difference_db",
    };
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
        char text[64];
        snprintf(text, sizeof text, "%s=1", keys[i]);
        es_expect expect = expecting(text);
        assert_string_equal(expect.at[0].figure->key, keys[i]);
    }
}

/* The manual lists what --expect knows: the list there must be whole. */
static void the_manual_names_every_figure(void **state)
{
    (void)state;
    char manual[8192] = "";
    for (size_t i = 0; es_verb_check.details[i]; i++)
        strcat(manual, es_verb_check.details[i]);
    const es_check_figure *figure;
    for (size_t i = 0; (figure = es_check_figure_at(i)); i++)
        if (figure->limited && !strstr(manual, figure->key))
            fail_msg("the manual does not name %s", figure->key);
}

/* The classes that the option offers are those that the tape floor knows. */
static void every_class_on_offer_is_known(void **state)
{
    (void)state;
    const char *at = es_check_options[ES_CHECK_CLASS].choices;
    int count = 0;
    while (*at) {
        char name[32] = "";
        size_t length = strcspn(at, "|");
        memcpy(name, at, length);
        es_transport_class transport;
        assert_int_equal(es_transport_from_name(name, &transport), ES_OK);
        at += length + (at[length] == '|');
        count++;
    }
    assert_int_equal(count, ES_TRANSPORT_CLASS_COUNT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_met_up_to_the_limit_on_both_sides),
        cmocka_unit_test(judges_each_of_several),
        cmocka_unit_test(knows_figures_with_and_without_their_unit),
        cmocka_unit_test(takes_a_limit_for_every_figure_of_which_less_is_better),
        cmocka_unit_test(refuses_what_it_does_not_understand),
        cmocka_unit_test(the_manual_names_every_figure),
        cmocka_unit_test(every_class_on_offer_is_known),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
