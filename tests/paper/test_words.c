#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "paper/words.h"
#include "samples.h"

#include <string.h>

static char room[700];

static es_text fresh(void)
{
    return es_text_over(room, sizeof room);
}

static void assert_number(double value, int decimals, int sign, const char *expected)
{
    es_text text = fresh();
    es_word_number(&text, value, decimals, sign);
    assert_string_equal(room, expected);
}

static void numbers_carry_true_signs_and_nothing_carries_none(void **state)
{
    (void)state;
    assert_number(-1.238, 2, 1, "\u22121.24");
    assert_number(1.238, 2, 1, "+1.24");
    assert_number(1.238, 2, 0, "1.24");
    assert_number(-0.004, 2, 1, "0.00");
    assert_number(0.0, 1, 1, "0.0");
}

static void what_is_not_known_is_a_dash(void **state)
{
    (void)state;
    assert_number((double)NAN, 2, 1, "\u2013");
    assert_number(HUGE_VAL, 2, 1, "\u2013");
    es_text text = fresh();
    es_word_percent(&text, (double)NAN, 0.1, 4);
    assert_string_equal(room, "\u2013");
    text = fresh();
    es_word_percent(&text, -1.2, (double)NAN, 4);
    assert_string_equal(room, "\u22121.20 ± \u2013 %");
}

/* JCGM 100:2008, 7.2.6: at most two digits of the uncertainty, the value rounded alike. */
static void value_and_uncertainty_are_rounded_alike(void **state)
{
    (void)state;
    es_text text = fresh();
    es_word_percent(&text, -1.23842, 0.0213, 4);
    assert_string_equal(room, "\u22121.238 ± 0.021 %");
    text = fresh();
    es_word_percent(&text, 0.8712, 0.31, 4);
    assert_string_equal(room, "+0.87 ± 0.31 %");
}

static void a_small_uncertainty_is_never_written_as_none(void **state)
{
    (void)state;
    es_text text = fresh();
    es_word_percent(&text, 0.5, 0.0000012, 4);
    assert_string_equal(room, "+0.5000 ± 0.0001 %");
}

static es_direction direction(double error, double u95)
{
    es_speed_facts speed = {.error_percent = error, .u95_percent = u95};
    return es_direction_of(&speed);
}

static void a_direction_is_told_only_beyond_the_uncertainty(void **state)
{
    (void)state;
    assert_int_equal(direction(-1.2, 0.1), ES_DIRECTION_SLOW);
    assert_int_equal(direction(1.2, 0.1), ES_DIRECTION_FAST);
    assert_int_equal(direction(0.05, 0.1), ES_DIRECTION_NEITHER);
    assert_int_equal(direction(0.0, (double)NAN), ES_DIRECTION_NEITHER);
    assert_int_equal(direction(-1.2, (double)NAN), ES_DIRECTION_SLOW);
    assert_int_equal(direction((double)NAN, 0.1), ES_DIRECTION_UNKNOWN);
}

static void headlines_say_verdict_and_direction(void **state)
{
    (void)state;
    static const char *const expected[SAMPLE_COUNT] = {
        [SAMPLE_SLOW] = "Adjust: it runs slow",
        [SAMPLE_FAULT] = "Look first: it runs fast",
        [SAMPLE_GOOD] = "Leave as it is: it runs on speed",
        [SAMPLE_UNKNOWN] = "Look first: the speed is not known",
    };
    static es_check_result result;
    for (int s = 0; s < SAMPLE_COUNT; s++) {
        if (!expected[s])
            continue;
        sample_fill((sample)s, &result);
        es_text text = fresh();
        es_word_headline(&text, &result);
        assert_string_equal(room, expected[s]);
    }
}

static void the_method_names_tone_channel_and_length(void **state)
{
    (void)state;
    static es_check_result result;
    sample_fill(SAMPLE_SLOW, &result);
    es_text text = fresh();
    es_word_method(&text, &result);
    assert_string_equal(room, "Measured from a played test tone, nominal 3150 Hz (the test tone "
                              "nearest to what was heard). Capture of 61.4 s at 48000 Hz, 24 bit, "
                              "2 channels; channel 1 was used (the louder of the two).");
    sample_fill(SAMPLE_UNKNOWN, &result);
    text = fresh();
    es_word_method(&text, &result);
    assert_string_equal(room, "No test tone was found. Capture of unknown length at 44100 Hz, "
                              "1 channel.");
}

static void lengths_are_told_as_people_do(void **state)
{
    (void)state;
    static const struct {
        double seconds;
        const char *words;
    } cases[] = {{61.44, "61.4 s"},
                 {725.0, "12 min 5 s"},
                 {11400.0, "3 h 10 min"},
                 {(double)NAN, "unknown length"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        es_text text = fresh();
        es_word_duration(&text, cases[i].seconds);
        assert_string_equal(room, cases[i].words);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_carry_true_signs_and_nothing_carries_none),
        cmocka_unit_test(what_is_not_known_is_a_dash),
        cmocka_unit_test(value_and_uncertainty_are_rounded_alike),
        cmocka_unit_test(a_small_uncertainty_is_never_written_as_none),
        cmocka_unit_test(a_direction_is_told_only_beyond_the_uncertainty),
        cmocka_unit_test(headlines_say_verdict_and_direction),
        cmocka_unit_test(the_method_names_tone_channel_and_length),
        cmocka_unit_test(lengths_are_told_as_people_do),
    };
    return cmocka_run_group_tests_name("paper/words", tests, NULL, NULL);
}
