#include "cm.h"

#include "json/session_json.h"
#include "json/trim_json.h"

#include <jansson.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static es_trim_snapshot snapshot;

static es_trim_snapshot *plain_snapshot(es_trim_state state)
{
    snapshot = (es_trim_snapshot){
        .time_s = 12.35,
        .state = state,
        .error_percent = -0.42,
        .u95_percent = 0.03,
        .live_percent = -0.5,
        .tolerance_percent = 0.1,
        .snr_db = (double)NAN,
        .heard_hz = (double)NAN,
        .tape_error_percent = (double)NAN,
        .final_percent = (double)NAN,
        .nudge_count = 1,
        .nudges = {{.time_s = 3.0, .size_percent = 1.5, .overshoot = 0.0, .asked = (double)NAN}},
        .advice = "Too slow: turn a little."};
    return &snapshot;
}

static json_t *document_of(const es_trim_snapshot *from)
{
    char *text;
    assert_int_equal(es_trim_to_json(from, &text), ES_OK);
    assert_null(strchr(text, '\n')); /* one line, for JSON Lines and event streams */
    json_t *document = json_loads(text, 0, NULL);
    assert_non_null(document);
    free(text);
    return document;
}

static double number(const json_t *document, const char *key)
{
    const json_t *value = json_object_get(document, key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

/* The keys and their order of thought: the design's section on the command line. */
static void holds_the_promised_keys(void **state)
{
    (void)state;
    json_t *document = document_of(plain_snapshot(ES_TRIM_READING));
    assert_string_equal(json_string_value(json_object_get(document, "schema")), "evenspool.trim/1");
    assert_string_equal(json_string_value(json_object_get(document, "state")), "reading");
    assert_near(number(document, "time_s"), 12.35, 1e-12);
    assert_near(number(document, "error_percent"), -0.42, 1e-12);
    assert_near(number(document, "u95_percent"), 0.03, 1e-12);
    assert_near(number(document, "target_percent"), 0.0, 0.0);
    assert_near(number(document, "tolerance_percent"), 0.1, 1e-12);
    assert_string_equal(json_string_value(json_object_get(document, "advice")),
                        "Too slow: turn a little.");
    const json_t *nudge = json_array_get(json_object_get(document, "nudges"), 0);
    assert_near(number(nudge, "time_s"), 3.0, 0.0);
    assert_near(number(nudge, "size_percent"), 1.5, 0.0);
    assert_near(number(nudge, "overshoot"), 0.0, 0.0);
    json_decref(document);
}

static void names_every_state(void **state)
{
    (void)state;
    static const char *const names[] = {"listening", "unsteady", "turning",   "settling",
                                        "reading",   "there",    "look-first"};
    for (size_t i = 0; i < COUNT(names); i++)
        assert_string_equal(es_trim_state_name((es_trim_state)i), names[i]);
}

/* Even where the record still carries a figure. */
static void shows_no_figure_unless_reading_or_there(void **state)
{
    (void)state;
    for (int i = ES_TRIM_LISTENING; i <= ES_TRIM_LOOK_FIRST; i++) {
        json_t *document = document_of(plain_snapshot((es_trim_state)i));
        int shown = i == ES_TRIM_READING || i == ES_TRIM_THERE;
        assert_int_equal(json_is_null(json_object_get(document, "error_percent")), !shown);
        assert_int_equal(json_is_null(json_object_get(document, "u95_percent")), !shown);
        json_decref(document);
    }
}

static void what_is_not_known_is_null(void **state)
{
    (void)state;
    static const char *const keys[] = {"snr_db",        "heard_hz", "tape_error_percent",
                                       "final_percent", "reason",   "note"};
    json_t *document = document_of(plain_snapshot(ES_TRIM_READING));
    for (size_t i = 0; i < COUNT(keys); i++)
        assert_true(json_is_null(json_object_get(document, keys[i])));
    const json_t *nudge = json_array_get(json_object_get(document, "nudges"), 0);
    assert_true(json_is_null(json_object_get(nudge, "asked")));
    json_decref(document);
}

static void counts_more_nudges_than_it_keeps(void **state)
{
    (void)state;
    es_trim_snapshot *s = plain_snapshot(ES_TRIM_READING);
    s->nudge_count = 1000;
    json_t *document = document_of(s);
    assert_int_equal(json_array_size(json_object_get(document, "nudges")), ES_NUDGES_MOST);
    assert_near(number(document, "nudge_count"), 1000.0, 0.0);
    json_decref(document);
}

static es_trim_session *short_session(void)
{
    static es_trim_session s;
    s = (es_trim_session){.duration_s = 10.0,
                          .nominal_hz = 3150.0,
                          .tape_error_percent = (double)NAN,
                          .tolerance_percent = 0.1,
                          .as_found = {2.0, -3.0, 0.05, 1.0},
                          .as_left = {.error_percent = (double)NAN},
                          .trace_from_s = 5.0,
                          .trace_count = 3,
                          .trace_percent = {-3.0f, NAN, -2.5f},
                          .course_count = 1,
                          .course_step_s = 10.0,
                          .course_low_percent = {-3.0f},
                          .course_high_percent = {-2.5f}};
    return &s;
}

static void a_session_keeps_its_trace_with_its_gaps(void **state)
{
    (void)state;
    char *text;
    assert_int_equal(es_session_to_json(short_session(), 0, &text), ES_OK);
    json_t *document = json_loads(text, 0, NULL);
    free(text);
    assert_non_null(document);
    assert_string_equal(json_string_value(json_object_get(document, "schema")),
                        "evenspool.session/1");
    assert_near(number(json_object_get(document, "as_found"), "error_percent"), -3.0, 0.0);
    assert_true(json_is_null(json_object_get(document, "as_left")));
    const json_t *trace = json_object_get(document, "trace");
    assert_near(number(trace, "from_s"), 5.0, 0.0);
    assert_near(number(trace, "step_s"), 0.05, 1e-12);
    const json_t *points = json_object_get(trace, "percent");
    assert_int_equal(json_array_size(points), 3);
    assert_near(json_number_value(json_array_get(points, 0)), -3.0, 0.0);
    assert_true(json_is_null(json_array_get(points, 1)));
    assert_near(json_number_value(json_array_get(points, 2)), -2.5, 0.0);
    json_decref(document);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(holds_the_promised_keys),
        cmocka_unit_test(names_every_state),
        cmocka_unit_test(shows_no_figure_unless_reading_or_there),
        cmocka_unit_test(what_is_not_known_is_null),
        cmocka_unit_test(counts_more_nudges_than_it_keeps),
        cmocka_unit_test(a_session_keeps_its_trace_with_its_gaps),
    };
    return cmocka_run_group_tests_name("json/trim_json", tests, NULL, NULL);
}
