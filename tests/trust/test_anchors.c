#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "alloc_probe.h"
#include "evenspool/trust/anchors.h"
#include "near.h"

/* --- filling in forms ----------------------------------------------------------------------- */

typedef struct answer {
    const char *key;
    double value;
} answer;

typedef struct form {
    double value[ES_QUESTIONS_MOST];
    size_t count;
} form;

static form fill(es_anchor_method method, const answer *answers)
{
    form f;
    const es_anchor_question *q = es_anchor_questions(method, &f.count);
    for (size_t i = 0; i < f.count; i++)
        f.value[i] = (double)NAN;
    for (; answers->key; answers++) {
        size_t i = 0;
        while (i < f.count && strcmp(q[i].key, answers->key) != 0)
            i++;
        assert_true(i < f.count);
        f.value[i] = answers->value;
    }
    return f;
}

#define ANSWERS(...) ((const answer[]){__VA_ARGS__, {NULL, 0.0}})

static es_anchor evaluate(es_anchor_method method, const answer *answers)
{
    es_anchor a;
    es_error error = {0};
    form f = fill(method, answers);
    if (es_anchor_evaluate(method, f.value, f.count, &a, &error) != ES_OK)
        fail_msg("%s", error.text);
    return a;
}

static void refuses(es_anchor_method method, const answer *answers, const char *code)
{
    es_anchor a;
    es_error error = {0};
    form f = fill(method, answers);
    assert_int_equal(es_anchor_evaluate(method, f.value, f.count, &a, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, code);
    assert_true(error.text[0] && error.text[strlen(error.text) - 1] == '.');
    assert_true(isnan(a.estimate.value) && isnan(a.estimate.u95) && isnan(a.heard.value));
    assert_int_equal(a.budget.count, 0);
    assert_int_equal(es_anchor_evaluate(method, f.value, f.count, &a, NULL), ES_ERR_INPUT);
}

static double part(const es_anchor *a, const char *what)
{
    for (size_t i = 0; i < a->budget.count; i++)
        if (strcmp(a->budget.at[i].what, what) == 0)
            return a->budget.at[i].u;
    fail_msg("no part called %s", what);
    return (double)NAN;
}

/* --- tape length ---------------------------------------------------------------------------- */

/* Service practice: 112.5 in at 1 7/8 in/s and 450 in at 7 1/2 in/s both last 60 s. */
static void a_measured_length_in_its_nominal_time_is_no_error(void **state)
{
    (void)state;
    es_anchor a =
        evaluate(ES_ANCHOR_TAPE_LENGTH, ANSWERS({"length_m", 112.5 * 0.0254}, {"time_s", 60.0}));
    assert_near(a.estimate.value, 0.0, 1e-12);
    a = evaluate(ES_ANCHOR_TAPE_LENGTH,
                 ANSWERS({"length_m", 450.0 * 0.0254}, {"time_s", 60.0}, {"nominal_cm_s", 19.05}));
    assert_near(a.estimate.value, 0.0, 1e-12);
    /* in less time the deck is fast: 60 / 59.7 - 1 */
    a = evaluate(ES_ANCHOR_TAPE_LENGTH, ANSWERS({"length_m", 2.8575}, {"time_s", 59.7}));
    assert_near(a.estimate.value, 0.00502513, 1e-8);
}

/* Budget by hand: rule 0.021 % and marks 0.0175 % (+-), clock 100 ppm (+-), each / sqrt(3), stretch
 * 0.03 %, repeat 0.02 %: 0.0121, 0.0101, 0.0058, 0.03, 0.02, together 0.0398 %, twice 0.080 %. */
static void the_length_budget_comes_out_as_by_hand(void **state)
{
    (void)state;
    es_anchor a = evaluate(ES_ANCHOR_TAPE_LENGTH,
                           ANSWERS({"length_m", 2.8575}, {"time_s", 60.0}, {"rule_mm", 0.6001}));
    assert_near(part(&a, "rule"), 0.000121, 1e-6);
    assert_near(part(&a, "marks"), 0.000101, 1e-6);
    assert_near(part(&a, "timing clock"), 0.000058, 1e-6);
    assert_near(part(&a, "stretch under tension"), 0.0003, 1e-12);
    assert_near(part(&a, "repeat"), 0.0002, 1e-12);
    assert_near(a.estimate.u, 0.000398, 1e-6);
    assert_near(2.0 * a.estimate.u, 0.00080, 1e-5);
    assert_near(a.u95_by_shape, a.estimate.u95, 0.01 * a.estimate.u95);
    for (size_t i = 0; i < a.budget.count; i++)
        assert_true(a.budget.at[i].formula[0] && a.budget.at[i].source[0]);
}

/* A class II rule over 30 m: 0.3 mm + 0.2 mm per metre = 6.3 mm (European rule classes). */
static void an_open_rule_is_one_of_class_two(void **state)
{
    (void)state;
    es_anchor a = evaluate(ES_ANCHOR_TAPE_LENGTH, ANSWERS({"length_m", 30.0}, {"time_s", 630.0}));
    double ratio = 1.0 + a.estimate.value;
    assert_near(part(&a, "rule") / ratio, 6.3 / 30000.0 / sqrt(3.0), 1e-9);
}

/* +-0.1 s twice over 600 s: 0.024 %. */
static void a_watch_costs_its_reaction_twice(void **state)
{
    (void)state;
    es_anchor a = evaluate(ES_ANCHOR_TAPE_LENGTH,
                           ANSWERS({"length_m", 28.575}, {"time_s", 600.0}, {"timer", 1}));
    assert_near(part(&a, "pressing the watch"), 0.000236, 1e-6);
    assert_string_equal(a.caution, "");
    a = evaluate(ES_ANCHOR_TAPE_LENGTH,
                 ANSWERS({"length_m", 2.8575}, {"time_s", 60.0}, {"timer", 1}));
    assert_non_null(strstr(a.caution, "ten minutes"));
}

/* JCGM 100 4.2.3: s / sqrt(n) with n - 1 degrees of freedom, and Welch-Satterthwaite on top. */
static void runs_bring_their_degrees_of_freedom(void **state)
{
    (void)state;
    es_anchor a = evaluate(ES_ANCHOR_TAPE_LENGTH, ANSWERS({"length_m", 2.8575}, {"time_s", 60.0},
                                                          {"runs", 4}, {"spread_percent", 0.1}));
    assert_near(part(&a, "repeat"), 0.0005, 1e-12);
    double u = a.estimate.u;
    assert_near(a.estimate.dof, 3.0 * u * u * u * u / (0.0005 * 0.0005 * 0.0005 * 0.0005), 1e-6);
    assert_true(isnan(a.u95_by_shape));
    refuses(ES_ANCHOR_TAPE_LENGTH,
            ANSWERS({"length_m", 2.8575}, {"time_s", 60.0}, {"spread_percent", 0.1}),
            "too-few-runs");
    refuses(ES_ANCHOR_TAPE_LENGTH, ANSWERS({"length_m", 2.8575}, {"time_s", 60.0}, {"runs", 2.5}),
            "impossible-answer");
}

/* --- others without a signal ---------------------------------------------------------------- */

static void a_counter_is_a_rough_check(void **state)
{
    (void)state;
    es_anchor a = evaluate(ES_ANCHOR_COUNTER, ANSWERS({"counter_s", 1812.0}, {"watch_s", 1800.0}));
    assert_near(a.estimate.value, 0.0066667, 1e-7);
    assert_true(a.estimate.u > 0.0055 && a.estimate.u < 0.0062);
    assert_non_null(strstr(a.caution, "rough"));
    /* one rectangle rules: the interval by shape is narrower than 1.96 u */
    assert_true(a.u95_by_shape < 0.95 * a.estimate.u95);
}

/* Capstan of 2.0 mm and tape of 18 um turn at 7.51214 Hz for 4.7625 cm/s; with 12 um the speed is
 * 0.2973 % less (handbook arithmetic: pi f (d + h)). */
static void a_capstan_turns_at_its_handbook_rate(void **state)
{
    (void)state;
    double rpm = 60.0 * 7.51214;
    es_anchor a = evaluate(ES_ANCHOR_CAPSTAN, ANSWERS({"diameter_mm", 2.0}, {"rate_rpm", rpm}));
    assert_near(a.estimate.value, 0.0, 1e-6);
    assert_near(part(&a, "capstan diameter"), 0.002 / 2.018 / sqrt(3.0), 1e-8);
    assert_near(a.estimate.u, 0.00146, 0.00002); /* 0.057, 0.057, 0.0115, 0.12 % */
    assert_non_null(strstr(a.caution, "unplugged"));
    a = evaluate(ES_ANCHOR_CAPSTAN,
                 ANSWERS({"diameter_mm", 2.0}, {"rate_rpm", rpm}, {"thickness_um", 12.0}));
    assert_near(a.estimate.value, -0.002973, 1e-6);
}

static void a_test_tape_is_as_good_as_its_maker_and_its_age(void **state)
{
    (void)state;
    es_anchor a = evaluate(ES_ANCHOR_TEST_TAPE,
                           ANSWERS({"heard_percent", -1.045817}, {"stated_percent", 0.40}));
    assert_near(a.estimate.value, -0.0065, 1e-8);
    assert_near(part(&a, "maker's tolerance"), 0.9935 * 0.002 / sqrt(3.0), 1e-9);
    double fresh = a.estimate.u;
    a = evaluate(ES_ANCHOR_TEST_TAPE,
                 ANSWERS({"heard_percent", 0.0}, {"age_years", 20.0}, {"history", 1.0}));
    assert_near(part(&a, "age"), 0.003, 1e-12);
    assert_near(part(&a, "unknown past"), 0.003, 1e-12);
    assert_true(a.estimate.u > 3.0 * fresh);
    assert_true(isnan(a.heard.value));
}

static void another_measurement_is_taken_as_stated(void **state)
{
    (void)state;
    es_anchor a = evaluate(ES_ANCHOR_OTHER, ANSWERS({"error_percent", 2.0}, {"u95_percent", 0.3},
                                                    {"k", 3.0}, {"dof", 8.0}));
    assert_near(a.estimate.value, 0.02, 1e-15);
    assert_near(a.estimate.u, 0.001, 1e-15);
    assert_near(a.estimate.dof, 8.0, 1e-9);
    assert_near(a.estimate.k, 2.31, 0.005); /* table G.2 */
    refuses(ES_ANCHOR_OTHER, ANSWERS({"error_percent", 0.0}, {"u95_percent", 0.0}),
            "impossible-answer");
    refuses(ES_ANCHOR_OTHER, ANSWERS({"error_percent", 0.0}, {"u95_percent", -0.1}),
            "impossible-answer");
}

/* --- recorded signals ----------------------------------------------------------------------- */

/* 19 kHz +- 2 Hz (47 CFR 73.322): 60.8 ppm. Studio machine +- 0.2 %: 0.115 %. */
static void a_stereo_pilot_is_only_as_good_as_the_recorder(void **state)
{
    (void)state;
    es_anchor a = evaluate(ES_ANCHOR_STEREO_PILOT,
                           ANSWERS({"heard_hz", 19000.0 * 1.003}, {"recorder", 0.0},
                                   {"recorder_percent", 0.1}, {"recorder_limit_percent", 0.2}));
    assert_near(a.estimate.value, 1.003 * 1.001 - 1.0, 1e-12);
    assert_near(part(&a, "pilot frequency") / (1.003 * 1.001), 60.8e-6, 0.1e-6);
    assert_near(part(&a, "machine that recorded it") / (1.003 * 1.001), 0.00115, 0.00001);
    /* what was heard is a play: without the machine that recorded it */
    assert_near(a.heard.value, 0.003, 1e-12);
    assert_near(a.heard.u, 1.003 * sqrt(60.8e-6 * 60.8e-6 + 1e-8 + 57.7e-6 * 57.7e-6), 1e-7);
}

/* 4.5 MHz / 286 = 15734.265734 Hz; 10 Hz of 3579545 Hz = 2.8 ppm. */
static void the_line_whistle_depends_on_what_drove_the_set(void **state)
{
    (void)state;
    es_anchor a = evaluate(ES_ANCHOR_LINE_WHISTLE,
                           ANSWERS({"heard_hz", 15734.265734}, {"lines", 525.0}, {"driven", 0.0},
                                   {"recorder", 0.0}, {"recorder_limit_percent", 0.2}));
    assert_near(a.estimate.value, 0.0, 1e-10);
    assert_near(part(&a, "line frequency"), 2.8e-6 / sqrt(3.0), 2e-8);
    a = evaluate(ES_ANCHOR_LINE_WHISTLE,
                 ANSWERS({"heard_hz", 15625.0}, {"lines", 625.0}, {"driven", 1.0},
                         {"recorder", 0.0}, {"recorder_limit_percent", 0.2}));
    assert_near(a.estimate.value, 0.0, 1e-12);
    assert_near(part(&a, "line frequency"), 0.005 / sqrt(3.0), 1e-9);
    assert_non_null(strstr(a.caution, "free"));
    refuses(ES_ANCHOR_LINE_WHISTLE,
            ANSWERS({"heard_hz", 15625.0}, {"lines", 600.0}, {"driven", 0.0}, {"recorder", 0.0},
                    {"recorder_limit_percent", 0.2}),
            "impossible-answer");
}

static void mains_hum_knows_its_region_and_its_time(void **state)
{
    (void)state;
    es_anchor a = evaluate(ES_ANCHOR_MAINS_HUM,
                           ANSWERS({"heard_hz", 100.4}, {"mains_hz", 50.0}, {"harmonic", 2.0},
                                   {"recorder", 0.0}, {"recorder_limit_percent", 0.2}));
    assert_near(a.estimate.value, 0.004, 1e-12);
    assert_near(part(&a, "mains frequency"), 1.004 * 0.0004, 1e-9); /* 20 mHz of 50 Hz */
    refuses(ES_ANCHOR_MAINS_HUM,
            ANSWERS({"heard_hz", 50.0}, {"mains_hz", 50.0}, {"year", 1958.0}, {"recorder", 0.0},
                    {"recorder_limit_percent", 0.2}),
            "mains-too-old");
    refuses(ES_ANCHOR_MAINS_HUM,
            ANSWERS({"heard_hz", 50.0}, {"mains_hz", 50.0}, {"harmonic", 1.5}, {"recorder", 0.0},
                    {"recorder_limit_percent", 0.2}),
            "impossible-answer");
    refuses(ES_ANCHOR_MAINS_HUM,
            ANSWERS({"heard_hz", 120.0}, {"mains_hz", 50.0}, {"recorder", 0.0},
                    {"recorder_limit_percent", 0.2}),
            "impossible-speed");
}

/* A bought cassette: duplicator +- 1 %: 0.58 %. */
static void music_carries_the_doubt_of_the_duplicator(void **state)
{
    (void)state;
    es_anchor a = evaluate(ES_ANCHOR_MUSIC, ANSWERS({"heard_percent", 0.0}, {"recorder", 0.0}));
    assert_near(part(&a, "machine that recorded it"), 0.00577, 0.00001);
    assert_near(a.estimate.u, hypot(0.00577, 0.00173), 0.0001);
}

static void its_own_recording_is_no_anchor(void **state)
{
    (void)state;
    refuses(ES_ANCHOR_STEREO_PILOT,
            ANSWERS({"heard_hz", 19000.0}, {"recorder", 1.0}, {"recorder_limit_percent", 0.2}),
            "same-deck");
    refuses(ES_ANCHOR_MUSIC, ANSWERS({"heard_percent", 0.0}, {"recorder", 1.0}), "same-deck");
}

/* --- forms ---------------------------------------------------------------------------------- */

static void every_form_can_be_shown(void **state)
{
    (void)state;
    const es_anchor_about *about = es_anchor_methods();
    for (size_t m = 0; m < ES_ANCHOR_METHOD_COUNT; m++) {
        es_anchor_method found = ES_ANCHOR_OTHER;
        size_t count;
        assert_int_equal(es_anchor_find(about[m].key, &found), ES_OK);
        assert_int_equal(found, m);
        assert_true(about[m].name[0] && about[m].text[0] && about[m].formula[0]);
        assert_true(about[m].usual_u > 0.0);
        const es_anchor_question *q = es_anchor_questions((es_anchor_method)m, &count);
        assert_true(count > 0 && count <= ES_QUESTIONS_MOST);
        for (size_t i = 0; i < count; i++) {
            assert_true(q[i].key && q[i].key[0] && q[i].text && q[i].unit);
            assert_true(q[i].low < q[i].high);
            assert_true(!q[i].needed || isnan(q[i].standard));
            assert_true(isnan(q[i].standard) ||
                        (q[i].standard >= q[i].low && q[i].standard <= q[i].high));
            assert_true(!q[i].only || q[i].choice[1].text);
            for (size_t k = 0; k < i; k++)
                assert_string_not_equal(q[i].key, q[k].key);
        }
    }
    es_anchor_method kept = ES_ANCHOR_COUNTER;
    assert_int_equal(es_anchor_find("sundial", &kept), ES_ERR_ARG);
    assert_int_equal(es_anchor_find(NULL, &kept), ES_ERR_ARG);
    assert_int_equal(kept, ES_ANCHOR_COUNTER);
}

/* Every question that must be answered is missed, and every limit is kept, in every method. */
static void every_missing_or_impossible_answer_is_refused(void **state)
{
    (void)state;
    for (size_t m = 0; m < ES_ANCHOR_METHOD_COUNT; m++) {
        size_t count;
        const es_anchor_question *q = es_anchor_questions((es_anchor_method)m, &count);
        for (size_t i = 0; i < count; i++) {
            double bad[] = {(double)NAN, q[i].low - 1.0, q[i].high + 1.0, (double)INFINITY};
            for (size_t b = q[i].needed ? 0 : 1; b < 4; b++) {
                double x[ES_QUESTIONS_MOST];
                es_anchor a;
                es_error error = {0};
                for (size_t k = 0; k < count; k++) /* lowest answers: fine, or refused later */
                    x[k] = isnan(q[k].standard) && q[k].needed ? q[k].low : (double)NAN;
                x[i] = bad[b];
                assert_int_equal(es_anchor_evaluate((es_anchor_method)m, x, count, &a, &error),
                                 ES_ERR_INPUT);
                assert_non_null(strstr(error.text, q[i].key));
                assert_true(isnan(a.estimate.value));
            }
        }
    }
}

static void a_wrong_form_is_refused_and_nothing_allocates(void **state)
{
    (void)state;
    es_anchor a;
    double x[ES_QUESTIONS_MOST] = {0.0};
    size_t count = 5;
    alloc_probe_reset();
    assert_int_equal(es_anchor_evaluate(ES_ANCHOR_MUSIC, x, 2, &a, NULL), ES_ERR_ARG);
    assert_int_equal(es_anchor_evaluate((es_anchor_method)99, x, 2, &a, NULL), ES_ERR_ARG);
    assert_null(es_anchor_questions((es_anchor_method)99, &count));
    assert_int_equal(count, 0);
    evaluate(ES_ANCHOR_MUSIC, ANSWERS({"heard_percent", 0.0}, {"recorder", 0.0}));
    assert_int_equal(alloc_probe_calls(), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_measured_length_in_its_nominal_time_is_no_error),
        cmocka_unit_test(the_length_budget_comes_out_as_by_hand),
        cmocka_unit_test(an_open_rule_is_one_of_class_two),
        cmocka_unit_test(a_watch_costs_its_reaction_twice),
        cmocka_unit_test(runs_bring_their_degrees_of_freedom),
        cmocka_unit_test(a_counter_is_a_rough_check),
        cmocka_unit_test(a_capstan_turns_at_its_handbook_rate),
        cmocka_unit_test(a_test_tape_is_as_good_as_its_maker_and_its_age),
        cmocka_unit_test(another_measurement_is_taken_as_stated),
        cmocka_unit_test(a_stereo_pilot_is_only_as_good_as_the_recorder),
        cmocka_unit_test(the_line_whistle_depends_on_what_drove_the_set),
        cmocka_unit_test(mains_hum_knows_its_region_and_its_time),
        cmocka_unit_test(music_carries_the_doubt_of_the_duplicator),
        cmocka_unit_test(its_own_recording_is_no_anchor),
        cmocka_unit_test(every_form_can_be_shown),
        cmocka_unit_test(every_missing_or_impossible_answer_is_refused),
        cmocka_unit_test(a_wrong_form_is_refused_and_nothing_allocates),
    };
    return cmocka_run_group_tests_name("trust/anchors", tests, NULL, NULL);
}
