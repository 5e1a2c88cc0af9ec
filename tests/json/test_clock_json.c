#include "cm.h"

#include "json/clock_json.h"

#include <jansson.h>

#include <math.h>
#include <stdlib.h>

static es_clock_result sample(void)
{
    es_clock_result r = {.input = "line",
                         .system = "ALSA",
                         .direct = 1,
                         .rate_hz = 48000.0,
                         .listened_s = 61.0,
                         .line_u95_ppm = 0.5,
                         .u95_ppm = 1.25,
                         .clock_ppm = -12.5,
                         .figures = {.error_ppm = -12.5,
                                     .used_s = 60.0,
                                     .jitter_s = 0.002,
                                     .blocks = 6000,
                                     .interruptions = 1},
                         .reference = {.discipline = ES_CLOCK_DISCIPLINED,
                                       .limit_ppm = 1.0,
                                       .correction_ppm = 7.0,
                                       .in_force_ppm = 7.5,
                                       .estimated_error_s = (double)NAN}};
    es_notes_add(&r.notes, "use", "Use it.");
    return r;
}

static json_t *document_of(const es_clock_result *result)
{
    char *text;
    assert_int_equal(es_clock_to_json(result, 0, &text), ES_OK);
    json_t *document = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(document);
    free(text);
    return document;
}

static double number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

static void every_figure_has_its_key(void **state)
{
    (void)state;
    es_clock_result r = sample();
    json_t *d = document_of(&r);
    const json_t *reference = json_object_get(d, "reference");
    assert_string_equal(json_string_value(json_object_get(d, "schema")), "evenspool.clock/1");
    assert_string_equal(json_string_value(json_object_get(d, "input")), "line");
    assert_true(json_is_true(json_object_get(d, "direct")));
    assert_near(number(d, "rate_hz"), 48000.0, 0.0);
    assert_near(number(d, "error_ppm"), -12.5, 0.0);
    assert_near(number(d, "u95_ppm"), 1.25, 0.0);
    assert_near(number(d, "line_u95_ppm"), 0.5, 0.0);
    assert_near(number(d, "clock_ppm"), -12.5, 0.0);
    assert_near(number(d, "listened_s"), 61.0, 0.0);
    assert_near(number(d, "used_s"), 60.0, 0.0);
    assert_near(number(d, "jitter_ms"), 2.0, 1e-9);
    assert_near(number(d, "interruptions"), 1.0, 0.0);
    assert_near(number(d, "blocks"), 6000.0, 0.0);
    assert_true(json_is_true(json_object_get(reference, "disciplined")));
    assert_near(number(reference, "limit_ppm"), 1.0, 0.0);
    assert_near(number(reference, "correction_ppm"), 7.0, 0.0);
    assert_near(number(reference, "in_force_ppm"), 7.5, 0.0);
    assert_int_equal(json_array_size(json_object_get(d, "notes")), 1);
    json_decref(d);
}

static void what_is_not_known_is_null(void **state)
{
    (void)state;
    es_clock_result r = sample();
    r.clock_ppm = (double)NAN;
    r.reference.discipline = ES_CLOCK_UNKNOWN;
    json_t *d = document_of(&r);
    const json_t *reference = json_object_get(d, "reference");
    assert_true(json_is_null(json_object_get(d, "clock_ppm")));
    assert_true(json_is_null(json_object_get(reference, "disciplined")));
    assert_true(json_is_null(json_object_get(reference, "estimated_error_s")));
    json_decref(d);
    r.reference.discipline = ES_CLOCK_FREE;
    d = document_of(&r);
    assert_true(json_is_false(json_object_get(json_object_get(d, "reference"), "disciplined")));
    json_decref(d);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_figure_has_its_key),
        cmocka_unit_test(what_is_not_known_is_null),
    };
    return cmocka_run_group_tests_name("json/clock_json", tests, NULL, NULL);
}
