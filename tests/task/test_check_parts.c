/* A check of parts of a capture, aimed on the way: what reading a test tape asks of it. */
#include "cm.h"

#include "evenspool/task/check.h"
#include "tone.h"

static es_check_result result;
static es_error error;

static void push_tone(es_check *check, test_tone *t, size_t from, size_t frames)
{
    float block[1000];
    for (size_t at = 0; at < frames; at += COUNT(block)) {
        test_tone_fill(t, from + at, block, 1, COUNT(block));
        es_check_push(check, block, COUNT(block));
    }
}

/* Two parts with the tone, 30 s apart, and faster by 0.2 % in the second: time goes on between them, but the
 * pause is neither a dropout nor missing tone. */
static void passes_over_what_is_no_tone(void **state)
{
    (void)state;
    es_check *check;
    es_check_config config = es_check_defaults(48000, 1);
    test_tone first = {.rate_hz = 48000, .tone_hz = 3150, .amplitude = 0.3, .noise_rms = 1e-4};
    test_tone second = first;
    second.error = 0.002;
    assert_int_equal(es_check_create(&config, &check, &error), ES_OK);
    es_check_skip(check, 12345);
    push_tone(check, &first, 0, 48000 * 15);
    es_check_skip(check, 48000 * 30);
    push_tone(check, &second, 48000 * 45, 48000 * 15);
    es_check_skip(check, 777);
    assert_int_equal(es_check_finish(check, &result, &error), ES_OK);
    es_check_destroy(check);
    assert_near(result.speed.start_percent, 0.0, 0.001);
    assert_near(result.speed.end_percent, 0.2, 0.001);
    assert_near(result.speed.error_percent, 0.1, 0.002);
    assert_int_equal(result.tone.dropouts, 0);
    assert_true(result.tone.present_percent > 97.0);
    assert_near(result.capture.duration_s, 60.0 + 13122.0 / 48000.0, 1e-6);
}

static void is_aimed_once_the_tone_is_known(void **state)
{
    (void)state;
    es_check *check;
    es_check_config config = es_check_defaults(48000, 1);
    es_geometry geometry = es_geometry_defaults(ES_REEL_19);
    es_gate_limits limits = es_gate_defaults();
    test_tone t = {.rate_hz = 48000, .tone_hz = 3000, .amplitude = 0.3, .noise_rms = 1e-4};
    limits.tolerance_percent = 6.0;
    limits.u95_percent = 3.0;
    assert_int_equal(es_check_create(&config, &check, &error), ES_OK);
    assert_int_equal(es_check_aim(check, 30000.0, ES_NOMINAL_TAPE, &geometry, &limits), ES_ERR_ARG);
    assert_int_equal(es_check_aim(check, 3150.0, ES_NOMINAL_TAPE, &geometry, &limits), ES_OK);
    push_tone(check, &t, 0, 48000 * 30);
    assert_int_equal(es_check_finish(check, &result, &error), ES_OK);
    es_check_destroy(check);
    assert_near(result.tone.nominal_hz, 3150.0, 0.0);
    assert_int_equal(result.tone.nominal_source, ES_NOMINAL_TAPE);
    assert_near(result.speed.error_percent, 100.0 * (3000.0 / 3150.0 - 1.0), 0.001);
    assert_int_equal(result.gate.verdict, ES_VERDICT_LEAVE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(passes_over_what_is_no_tone),
        cmocka_unit_test(is_aimed_once_the_tone_is_known),
    };
    return cmocka_run_group_tests_name("task/check_parts", tests, NULL, NULL);
}
