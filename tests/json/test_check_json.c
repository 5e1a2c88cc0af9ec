/* The documents of `check`, read back by the JSON library. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "json/check_figures.h"
#include "json/check_json.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

/* Every double of a record NaN, everything else zero. */
static es_check_result unknown(void)
{
    es_check_result r = {0};
    double nothing = (double)NAN;
    const es_check_figure *figure;
    for (size_t i = 0; (figure = es_check_figure_at(i)); i++)
        memcpy((char *)&r + figure->at, &nothing, sizeof nothing);
    r.flutter.band_hz[0] = r.flutter.band_hz[1] = nothing;
    return r;
}

static es_check_result filled(void)
{
    es_check_result r = unknown();
    const es_check_figure *figure;
    for (size_t i = 0; (figure = es_check_figure_at(i)); i++) {
        double value = 0.1234567891 * (double)(i + 1);
        memcpy((char *)&r + figure->at, &value, sizeof value);
    }
    r.capture.samplerate_hz = 48000;
    r.capture.channels = 2;
    r.capture.bits = 24;
    r.capture.channel_used = 2;
    strcpy(r.capture.channel_why, "the louder of the two");
    r.tone.nominal_source = ES_NOMINAL_GIVEN;
    r.tone.dropouts = 3;
    r.speed.budget_count = 2;
    strcpy(r.speed.budget[0].source, "noise");
    r.speed.budget[0].u_percent = 0.25;
    strcpy(r.speed.budget[1].source, "tape");
    r.speed.budget[1].u_percent = (double)NAN;
    r.flutter.band_hz[0] = 0.1;
    r.flutter.band_hz[1] = 200.0;
    r.flutter.reliable = 1;
    r.component_count = 2;
    r.components[0] = (es_component){.rate_hz = 7.5,
                                     .peak_percent = 0.3,
                                     .share_percent = 60.0,
                                     .rate_slope_hz_per_min = (double)NAN,
                                     .harmonics = 2,
                                     .suspect = "capstan",
                                     .significance_db = 30.0};
    r.components[1] = (es_component){.rate_hz = 0.5, .peak_percent = 0.1};
    r.stereo.known = 1;
    r.stereo.opposed = 1;
    r.gate.verdict = ES_VERDICT_ADJUST;
    es_notes_add(&r.gate.reasons, "steady-and-off", "It is %d.", 1);
    es_notes_add(&r.warnings, "clipped", "Too \"loud\".");
    return r;
}

static json_t *document(const es_check_result *result, int indented)
{
    char *text;
    json_error_t error;
    assert_int_equal(es_check_to_json(result, "a b.wav", indented, &text), ES_OK);
    assert_int_equal(strchr(text, '\n') != NULL, indented);
    json_t *json = json_loads(text, 0, &error);
    if (!json)
        fail_msg("%s in %s", error.text, text);
    free(text);
    return json;
}

/* "a b c": the keys of an object in order. */
static void has_keys(const json_t *object, const char *expected)
{
    char keys[1024] = "";
    for (void *at = json_object_iter((json_t *)object); at;
         at = json_object_iter_next((json_t *)object, at)) {
        strcat(keys, keys[0] ? " " : "");
        strcat(keys, json_object_iter_key(at));
    }
    assert_string_equal(keys, expected);
}

/* The contract: keys, their names and order, as programs that read it know them. */
static void has_the_keys_of_the_contract(void **state)
{
    (void)state;
    es_check_result r = filled();
    json_t *json = document(&r, 1);
    has_keys(json, "schema version file capture tone speed wow_flutter components stereo gate "
                   "warnings");
    has_keys(json_object_get(json, "capture"),
             "samplerate_hz channels duration_s bits clipped_percent channel_used channel_why");
    has_keys(json_object_get(json, "tone"),
             "nominal_hz nominal_source measured_hz snr_db present_percent dropouts");
    has_keys(json_object_get(json, "speed"),
             "error_percent u95_percent cents drift_percent_per_min start_percent end_percent "
             "tape_error_percent clock_ppm budget heard_percent");
    has_keys(json_object_get(json, "wow_flutter"),
             "weighted_quasi_peak_percent weighted_two_sigma_percent weighted_rms_percent "
             "unweighted_peak_percent unweighted_rms_percent wow_rms_percent flutter_rms_percent "
             "band_hz reliable");
    has_keys(json_array_get(json_object_get(json, "components"), 0),
             "rate_hz peak_percent rate_slope_hz_per_min suspect share_percent harmonics "
             "significance_db");
    has_keys(json_object_get(json, "stereo"),
             "delay_us delay_period_us level_difference_db polarity");
    has_keys(json_object_get(json, "gate"), "verdict reasons");
    has_keys(json_array_get(json_object_get(json_object_get(json, "gate"), "reasons"), 0),
             "code text");
    has_keys(json_array_get(json_object_get(json_object_get(json, "speed"), "budget"), 0),
             "source u_percent");
    json_decref(json);
}

static const char *text_at(const json_t *json, const char *group, const char *key)
{
    const json_t *at = group ? json_object_get(json, group) : json;
    return json_string_value(json_object_get(at, key));
}

static void says_what_the_record_says(void **state)
{
    (void)state;
    es_check_result r = filled();
    json_t *json = document(&r, 0);
    const es_check_figure *figure;
    for (size_t i = 0; (figure = es_check_figure_at(i)); i++) {
        const json_t *value = json_object_get(json_object_get(json, figure->group), figure->key);
        if (!json_is_real(value))
            fail_msg("%s.%s is not a number", figure->group, figure->key);
        double wanted = es_check_figure_of(figure, &r);
        assert_near(json_real_value(value), wanted, 5e-9 * wanted);
    }
    assert_string_equal(text_at(json, NULL, "schema"), "evenspool.check/1");
    assert_string_equal(text_at(json, NULL, "file"), "a b.wav");
    assert_string_equal(text_at(json, "tone", "nominal_source"), "given");
    assert_string_equal(text_at(json, "stereo", "polarity"), "opposed");
    assert_string_equal(text_at(json, "gate", "verdict"), "adjust");
    assert_string_equal(text_at(json, "capture", "channel_why"), "the louder of the two");
    const json_t *capture = json_object_get(json, "capture");
    assert_int_equal(json_integer_value(json_object_get(capture, "channel_used")), 2);
    assert_int_equal(json_integer_value(json_object_get(capture, "samplerate_hz")), 48000);
    assert_int_equal(json_integer_value(json_object_get(json_object_get(json, "tone"), "dropouts")),
                     3);
    const json_t *components = json_object_get(json, "components");
    assert_int_equal(json_array_size(components), 2);
    assert_string_equal(text_at(json_array_get(components, 0), NULL, "suspect"), "capstan");
    assert_true(json_is_null(json_object_get(json_array_get(components, 1), "suspect")));
    assert_true(json_is_true(json_object_get(json_object_get(json, "wow_flutter"), "reliable")));
    json_decref(json);
}

/* Every value below that is a number; arrays and objects are gone through. */
static size_t numbers_in(const json_t *json)
{
    size_t count = json_is_number(json);
    for (size_t i = 0; i < json_array_size(json); i++)
        count += numbers_in(json_array_get(json, i));
    for (void *at = json_object_iter((json_t *)json); at;
         at = json_object_iter_next((json_t *)json, at))
        count += numbers_in(json_object_iter_value(at));
    return count;
}

static void makes_null_of_what_is_not_known(void **state)
{
    (void)state;
    es_check_result r = unknown();
    json_t *json = document(&r, 0);
    assert_int_equal(numbers_in(json), 1); /* dropouts: none were counted */
    assert_true(json_is_null(json_object_get(json, "stereo")));
    assert_true(json_is_null(json_object_get(json_object_get(json, "tone"), "nominal_source")));
    assert_true(json_is_null(json_object_get(json_object_get(json, "capture"), "bits")));
    assert_int_equal(json_array_size(json_object_get(json, "components")), 0);
    assert_int_equal(
        json_array_size(json_object_get(json_object_get(json, "wow_flutter"), "band_hz")), 2);
    json_decref(json);
}

static void names_every_verdict(void **state)
{
    (void)state;
    static const char *const names[] = {"look-first", "adjust", "leave"};
    static const es_verdict verdicts[] = {ES_VERDICT_LOOK_FIRST, ES_VERDICT_ADJUST,
                                          ES_VERDICT_LEAVE};
    for (size_t i = 0; i < 3; i++) {
        es_check_result r = unknown();
        r.gate.verdict = verdicts[i];
        json_t *json = document(&r, 0);
        assert_string_equal(text_at(json, "gate", "verdict"), names[i]);
        json_decref(json);
    }
}

static void says_why_a_capture_is_refused(void **state)
{
    (void)state;
    es_error error = {0};
    char *text;
    es_fail(&error, ES_ERR_INPUT, "silence", "It is silent.");
    assert_int_equal(es_error_to_json(&error, "\xFF.wav", 0, &text), ES_OK);
    assert_string_equal(text, "{\"schema\": \"evenspool.error/1\", \"file\": \"\xEF\xBF\xBD.wav\", "
                              "\"code\": \"silence\", \"text\": \"It is silent.\"}");
    free(text);
}

static void figures_have_names_of_their_own(void **state)
{
    (void)state;
    const es_check_figure *figure;
    for (size_t i = 0; (figure = es_check_figure_at(i)); i++)
        assert_ptr_equal(es_check_figure_named(figure->key), figure);
    assert_null(es_check_figure_named("no_such_figure"));
}

/* --- want of memory: the library's allocations fail in turn ------------------------------ */

static long allowed, live;

static void *probed_malloc(size_t size)
{
    void *at = allowed-- != 0 ? malloc(size) : NULL; /* one fails, those after it do not */
    live += at != NULL;
    return at;
}

static void probed_free(void *at)
{
    live -= at != NULL;
    free(at);
}

static void survives_every_failing_allocation(void **state)
{
    (void)state;
    es_check_result r = filled();
    char *text = NULL;
    es_status status = ES_ERR_NOMEM;
    long round = 0;
    json_set_alloc_funcs(probed_malloc, probed_free);
    for (; status != ES_OK && round < 100000; round++) {
        allowed = round;
        live = 0;
        status = es_check_to_json(&r, "a.wav", 0, &text);
        assert_true(status == ES_OK || status == ES_ERR_NOMEM);
        assert_int_equal(text != NULL, status == ES_OK);
        assert_int_equal(live, text != NULL);
    }
    json_set_alloc_funcs(malloc, free);
    free(text);
    assert_int_equal(status, ES_OK);
    assert_true(round > 100);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(has_the_keys_of_the_contract),
        cmocka_unit_test(says_what_the_record_says),
        cmocka_unit_test(makes_null_of_what_is_not_known),
        cmocka_unit_test(names_every_verdict),
        cmocka_unit_test(says_why_a_capture_is_refused),
        cmocka_unit_test(figures_have_names_of_their_own),
        cmocka_unit_test(survives_every_failing_allocation),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
