/* The document of `tape read`, read back by the JSON library. */
#include "cm.h"

#include "json/tape_json.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

static es_tape_result result;
static json_t *document;

static json_t *printed(void)
{
    char *text;
    json_error_t fault;
    assert_int_equal(es_tape_to_json(&result, "side \"a\".wav", 0, &text), ES_OK);
    assert_null(strchr(text, '\n'));
    json_decref(document);
    document = json_loads(text, 0, &fault);
    free(text);
    assert_non_null(document);
    return document;
}

static const json_t *at(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    if (!value)
        fail_msg("no key %s", key);
    return value;
}

static const json_t *channel(size_t index)
{
    return json_array_get(at(document, "channels"), index);
}

static void fill(void)
{
    memset(&result, 0, sizeof result);
    result.channel_count = 2;
    result.side = 2;
    memcpy(result.programme, "cassette", 9);
    result.section_count = 1;
    memcpy(result.sections[0].name, "level", 6);
    result.sections[0].kind = ES_SECTION_LEVEL;
    result.sections[0].start_s = 3.5;
    result.sections[0].end_s = (double)NAN;
    result.azimuth = (es_tape_azimuth){1, -3.25, 0.5, 1, -0.6, 0.1, -11.7, -0.01, -0.05};
    es_tape_channel *right = &result.channels[1];
    right->level_db = -12.25;
    right->response_count = 2;
    right->response[0] = (es_tape_point){315.0, 0.0, 0.0, 0};
    right->response[1] = (es_tape_point){10000.0, (double)NAN, (double)NAN, 0};
    right->separation_count = 1;
    right->separation[0] = (es_tape_point){1000.0, 60.5, (double)NAN, 1};
    right->third_harmonic_count = 1;
    right->third_harmonic[0] = (es_tape_harmonic){3.0, 2.75, 1.5, 0.01};
    right->level_3_percent_db = (double)NAN;
    right->hum_count = 1;
    right->hum[0] = (es_tape_hum){150.0, -61.5, 50.0, 3};
    right->noise.a = -52.5;
    result.verdict_count = 1;
    memcpy(result.verdicts[0].what, "balance", 8);
    result.verdicts[0].verdict = ES_VERDICT_ADJUST;
    memcpy(result.verdicts[0].text, "Turn it.", 9);
}

static void writes_figures_under_their_keys(void **state)
{
    (void)state;
    fill();
    printed();
    assert_string_equal(json_string_value(at(document, "schema")), "evenspool.tape/1");
    assert_string_equal(json_string_value(at(document, "file")), "side \"a\".wav");
    assert_string_equal(json_string_value(at(document, "side")), "b");
    const json_t *azimuth = at(document, "azimuth"), *right = channel(1);
    assert_near(json_number_value(at(azimuth, "delay_us")), -3.25, 0.0);
    assert_true(json_is_true(at(azimuth, "sure")));
    assert_string_equal(json_string_value(at(right, "name")), "right");
    assert_near(json_number_value(at(right, "level_db")), -12.25, 0.0);
    assert_near(json_number_value(at(at(right, "noise_db"), "a")), -52.5, 0.0);
    const json_t *harmonic = json_array_get(at(right, "third_harmonic"), 0);
    assert_near(json_number_value(at(harmonic, "level_db")), 3.0, 0.0);
    assert_near(json_number_value(at(harmonic, "percent")), 1.5, 0.0);
    assert_true(json_is_true(at(json_array_get(at(right, "separation"), 0), "limit")));
    assert_int_equal(json_integer_value(at(json_array_get(at(right, "hum"), 0), "multiple")), 3);
    const json_t *verdict = json_array_get(at(document, "verdicts"), 0);
    assert_string_equal(json_string_value(at(verdict, "verdict")), "adjust");
    assert_true(json_is_null(at(verdict, "source")));
}

static void what_is_not_known_is_null(void **state)
{
    (void)state;
    static const char *const groups[] = {"tone", "speed", "wow_flutter", "components", "gate"};
    fill();
    result.azimuth.known = 0;
    printed();
    for (size_t i = 0; i < COUNT(groups); i++)
        assert_true(json_is_null(at(document, groups[i])));
    assert_true(json_is_null(at(document, "azimuth")));
    assert_true(json_is_null(at(document, "polarity")));
    assert_true(json_is_null(at(document, "bias")));
    assert_true(json_is_null(at(channel(1), "level_3_percent_db")));
    assert_true(json_is_null(at(json_array_get(at(channel(1), "response"), 1), "db")));
    assert_true(json_is_null(at(json_array_get(at(document, "sections"), 0), "end_s")));
    result.speed_known = 1;
    result.check.speed.error_percent = 0.5;
    printed();
    assert_near(json_number_value(at(at(document, "speed"), "error_percent")), 0.5, 0.0);
    assert_true(json_is_object(at(document, "wow_flutter")));
}

static void one_channel_is_called_mono(void **state)
{
    (void)state;
    fill();
    result.channel_count = 1;
    result.side = 0;
    printed();
    assert_int_equal(json_array_size(at(document, "channels")), 1);
    assert_string_equal(json_string_value(at(channel(0), "name")), "mono");
    assert_true(json_is_null(at(document, "side")));
    assert_int_equal(json_array_size(at(document, "treble_db")), 1);
}

static void reads_back_what_a_comparison_takes(void **state)
{
    (void)state;
    static es_tape_result back;
    es_error error = {0};
    char *text;
    fill();
    result.channels[0] = result.channels[1];
    assert_int_equal(es_tape_to_json(&result, "x", 1, &text), ES_OK);
    assert_int_equal(es_tape_from_json(text, strlen(text), &back, &error), ES_OK);
    free(text);
    assert_string_equal(back.programme, "cassette");
    assert_int_equal(back.channel_count, 2);
    assert_int_equal(back.channels[1].response_count, 2);
    assert_near(back.channels[1].response[1].hz, 10000.0, 0.0);
    assert_true(isnan(back.channels[1].response[1].db));
    assert_near(back.channels[0].level_db, -12.25, 0.0);
}

static void refuses_what_is_no_such_document(void **state)
{
    (void)state;
    static es_tape_result back;
    static const char *const texts[] = {
        "",
        "{",
        "[1]",
        "{}",
        "{\"schema\": 3}",
        "{\"schema\": \"evenspool.tape/1\"}",
        "{\"schema\": \"evenspool.tape/1\", \"channels\": [1, 2, 3]}",
        "{\"schema\": \"evenspool.tape/1\", \"channels\": [{}]}"};
    for (size_t i = 0; i < COUNT(texts); i++) {
        es_error error = {0};
        es_status status = es_tape_from_json(texts[i], strlen(texts[i]), &back, &error);
        assert_int_equal(status, ES_ERR_INPUT);
        assert_string_equal(error.code, "not-tape-json");
        assert_int_equal(back.channel_count, 0);
    }
}

static int clean(void **state)
{
    (void)state;
    json_decref(document);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(writes_figures_under_their_keys),
        cmocka_unit_test(what_is_not_known_is_null),
        cmocka_unit_test(one_channel_is_called_mono),
        cmocka_unit_test(reads_back_what_a_comparison_takes),
        cmocka_unit_test(refuses_what_is_no_such_document),
    };
    return cmocka_run_group_tests_name("json/tape_json", tests, NULL, clean);
}
