#include "cm.h"

#include "evenspool/task/tape_limits.h"

#include <string.h>

static es_tape_limits limits;
static es_error error;

static es_status parse(const char *text)
{
    memset(&error, 0, sizeof error);
    return es_tape_limits_parse(text, strlen(text), &limits, &error);
}

static void assert_refused(const char *text, const char *says)
{
    assert_int_equal(parse(text), ES_ERR_INPUT);
    assert_string_equal(error.code, "limits");
    if (!strstr(error.text, says))
        fail_msg("\"%s\" lacks \"%s\"", error.text, says);
    assert_string_equal(limits.name, "cassette");
}

/* DIN 45500: stereo pair 20 dB at 1 kHz, 15 dB from 500 to 6300 Hz. */
static void built_in_sets_tell_their_sources(void **state)
{
    (void)state;
    assert_int_equal(es_tape_limits_named("cassette", &limits), ES_OK);
    assert_near(limits.value[ES_LIMIT_SEPARATION], 20.0, 0.0);
    assert_near(limits.value[ES_LIMIT_SEPARATION_WIDE], 15.0, 0.0);
    assert_non_null(strstr(limits.source[ES_LIMIT_SEPARATION], "DIN 45500"));
    for (int i = 0; i < ES_LIMIT_COUNT; i++) {
        assert_true(limits.value[i] > 0.0 && limits.source[i][0]);
        es_tape_limit_key key = (es_tape_limit_key)i;
        assert_true(es_tape_limit_name(key)[0] && es_tape_limit_unit(key)[0]);
    }
    assert_string_equal(es_tape_limit_name(ES_LIMIT_COUNT), "");
    es_tape_limits_usual("reel-19", &limits);
    assert_string_equal(limits.name, "reel");
    es_tape_limits_usual("microcassette", &limits);
    assert_string_equal(limits.name, "cassette");
    assert_int_equal(es_tape_limits_named("wire", &limits), ES_ERR_ARG);
    assert_string_equal(es_tape_limits_name(9), "");
}

static void reads_a_set_of_ones_own(void **state)
{
    (void)state;
    assert_int_equal(parse("# for the good deck\n"
                           "name my best deck \n"
                           "like reel\r\n"
                           "\n"
                           "separation 30 dB\n"
                           "\tspeed   0.15 # tight\n"
                           "azimuth 20 deg"),
                     ES_OK);
    assert_string_equal(limits.name, "my best deck");
    assert_near(limits.value[ES_LIMIT_SEPARATION], 30.0, 0.0);
    assert_near(limits.value[ES_LIMIT_SPEED], 0.15, 0.0);
    assert_near(limits.value[ES_LIMIT_AZIMUTH], 20.0, 0.0);
    assert_near(limits.value[ES_LIMIT_NOISE], 46.0, 0.0); /* the reel's */
    assert_string_equal(limits.source[ES_LIMIT_SPEED], "your own limits");
    assert_int_equal(parse(""), ES_OK);
    assert_string_equal(limits.name, "own");
}

static void says_where_a_text_is_wrong(void **state)
{
    (void)state;
    assert_refused("speed 0.2\nspeeed 0.3\n", "Line 2, column 1: expected a limit (speed, ");
    assert_refused("  speed fast", "Line 1, column 9: expected a number from 0 to 10 %");
    assert_refused("speed", "found nothing");
    assert_refused("speed -1", "found \"-1\"");
    assert_refused("speed 1e3", "found \"1e3\"");
    assert_refused("speed nan", "found \"nan\"");
    assert_refused("speed 11", "from 0 to 10 %");
    assert_refused("speed 0.2 dB", "column 11: expected %");
    assert_refused("speed 0.2 % or so", "the end of the line");
    assert_refused("level 1\nlike reel", "before the first limit");
    assert_refused("like wire", "cassette or reel");
    assert_refused("name", "a name of 1 to 47 letters");
    assert_refused("\xC3\xBC speed", "Line 1, column 1");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(built_in_sets_tell_their_sources),
        cmocka_unit_test(reads_a_set_of_ones_own),
        cmocka_unit_test(says_where_a_text_is_wrong),
    };
    return cmocka_run_group_tests_name("task/tape_limits", tests, NULL, NULL);
}
