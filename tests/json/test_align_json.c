/* The coach's documents for azimuth, level and balance: evenspool.align/1, evenspool.align-session/1. */
#include "cm.h"

#include "json/session_json.h"
#include "json/trim_json.h"

#include <jansson.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

static es_trim_snapshot snapshot;

static es_trim_snapshot *azimuth_snapshot(void)
{
    double none = (double)NAN;
    snapshot =
        (es_trim_snapshot){.adjust = ES_ADJUST_AZIMUTH,
                           .time_s = 7.5,
                           .state = ES_TRIM_READING,
                           .error_percent = 12.5,
                           .u95_percent = 0.5,
                           .tolerance_percent = 5.0,
                           .final_percent = none,
                           .nudge_count = 1,
                           .nudges = {{.time_s = 3.0, .size_percent = -21.0, .asked = none}},
                           .advice = "Right late: about half of your last turn, the same way.",
                           .pair = {.known = 1,
                                    .level_dbfs = {-10.0, -HUGE_VAL},
                                    .balance_db = none,
                                    .reference_dbfs = none,
                                    .delay_us = 12.5,
                                    .angle_arcmin = 2.2739,
                                    .phase_10k_deg = 45.0,
                                    .sum_db = -0.3,
                                    .coherence = 0.998,
                                    .tone_hz = none,
                                    .turn_known = 1,
                                    .phase_count = 2,
                                    .phase = {{1000.0, -4.512345, 0.99912}, {2000.0, none, 0.0}},
                                    .dot_count = 2,
                                    .dot = {{10, -20}, {100, 99}}}};
    return &snapshot;
}

static json_t *document_of(const es_trim_snapshot *from)
{
    char *text;
    assert_int_equal(es_trim_to_json(from, &text), ES_OK);
    assert_null(strchr(text, '\n'));
    json_t *document = json_loads(text, 0, NULL);
    assert_non_null(document);
    free(text);
    return document;
}

static double number(const json_t *document, const char *key)
{
    const json_t *value = json_object_get(document, key);
    if (!json_is_number(value))
        fail_msg("%s is no number", key);
    return json_number_value(value);
}

static const char *text(const json_t *document, const char *key)
{
    return json_string_value(json_object_get(document, key));
}

/* FACTS of the trade: 12.5 us are 45 degrees at 10 kHz and 2.27 minutes of arc. */
static void a_key_carries_the_unit_of_its_figure(void **state)
{
    (void)state;
    json_t *d = document_of(azimuth_snapshot());
    assert_string_equal(text(d, "schema"), "evenspool.align/1");
    assert_string_equal(text(d, "adjust"), "azimuth");
    assert_near(number(d, "error_us"), 12.5, 0.0);
    assert_near(number(d, "u95_us"), 0.5, 0.0);
    assert_near(number(d, "tolerance_us"), 5.0, 0.0);
    assert_true(json_is_null(json_object_get(d, "final_us")));
    assert_null(json_object_get(d, "error_percent"));
    assert_null(json_object_get(d, "nominal_hz"));
    assert_near(number(json_array_get(json_object_get(d, "nudges"), 0), "size_us"), -21.0, 0.0);
    json_decref(d);
    snapshot.adjust = ES_ADJUST_BALANCE;
    d = document_of(&snapshot);
    assert_string_equal(text(d, "adjust"), "balance");
    assert_near(number(d, "error_db"), 12.5, 0.0);
    json_decref(d);
}

static void both_channels_stand_under_pair(void **state)
{
    (void)state;
    json_t *d = document_of(azimuth_snapshot());
    const json_t *p = json_object_get(d, "pair");
    assert_near(number(p, "left_dbfs"), -10.0, 0.0);
    assert_true(json_is_null(json_object_get(p, "right_dbfs")));
    assert_near(number(p, "phase_10k_deg"), 45.0, 0.0);
    assert_string_equal(text(p, "polarity"), "same");
    assert_true(json_is_true(json_object_get(p, "turn_known")));
    const json_t *phase = json_object_get(p, "phase");
    assert_int_equal(json_array_size(phase), 2);
    assert_near(number(json_array_get(phase, 0), "degrees"), -4.5, 1e-9);
    assert_true(json_is_null(json_object_get(json_array_get(phase, 1), "degrees")));
    const json_t *figure = json_object_get(p, "figure");
    assert_int_equal(json_array_size(figure), 4);
    assert_int_equal(json_integer_value(json_array_get(figure, 1)), -20);
    json_decref(d);
    snapshot.pair.known = 0;
    d = document_of(&snapshot);
    assert_true(json_is_null(json_object_get(d, "pair")));
    json_decref(d);
}

static void a_session_keeps_its_unit_too(void **state)
{
    (void)state;
    static es_trim_session s;
    char *written;
    s = (es_trim_session){.adjust = ES_ADJUST_LEVEL,
                          .duration_s = 10.0,
                          .tolerance_percent = 0.5,
                          .as_found = {2.0, -3.4, 0.1, 1.0},
                          .as_left = {.error_percent = (double)NAN},
                          .trace_count = 1,
                          .trace_percent = {-3.5f},
                          .course_count = 1,
                          .course_low_percent = {-3.5f},
                          .course_high_percent = {-3.25f}};
    assert_int_equal(es_session_to_json(&s, 0, &written), ES_OK);
    json_t *d = json_loads(written, 0, NULL);
    free(written);
    assert_string_equal(text(d, "schema"), "evenspool.align-session/1");
    assert_string_equal(text(d, "adjust"), "level");
    assert_near(number(json_object_get(d, "as_found"), "error_db"), -3.4, 0.0);
    assert_near(number(d, "tolerance_db"), 0.5, 0.0);
    assert_int_equal(json_array_size(json_object_get(json_object_get(d, "trace"), "db")), 1);
    const json_t *high = json_object_get(json_object_get(d, "course"), "high_db");
    assert_near(json_number_value(json_array_get(high, 0)), -3.25, 0.0);
    assert_null(json_object_get(d, "nominal_hz"));
    json_decref(d);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_key_carries_the_unit_of_its_figure),
        cmocka_unit_test(both_channels_stand_under_pair),
        cmocka_unit_test(a_session_keeps_its_unit_too),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
