#include "cm.h"

#include "evenspool/base/cue_sheet.h"

#include <math.h>
#include <string.h>

static char words[80];
static es_text text;

static es_text *empty(void)
{
    text = es_text_over(words, sizeof words);
    return &text;
}

static void times_are_minutes_and_seconds(void **state)
{
    (void)state;
    static const struct {
        double seconds;
        const char *words;
    } cases[] = {{0.0, "0:00"},      {59.4, "0:59"}, {59.6, "1:00"},    {185.0, "3:05"},
                 {6000.0, "100:00"}, {-1.0, "-"},    {(double)NAN, "-"}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        es_cue_time(empty(), cases[i].seconds);
        assert_string_equal(words, cases[i].words);
    }
}

static const es_programme programme = {.broad_low_hz = 200.0, .broad_high_hz = 16000.0};

static void assert_words(es_programme_section section, const char *tones, const char *levels)
{
    es_cue_tones(empty(), &programme, &section);
    assert_string_equal(words, tones);
    es_cue_levels(empty(), &section);
    assert_string_equal(words, levels);
}

static void sections_are_told_in_words(void **state)
{
    (void)state;
    assert_words((es_programme_section){ES_SECTION_SPEED, "s", 1, {{3150, -6, 60}}}, "3150 Hz",
                 "-6 dB");
    assert_words((es_programme_section){ES_SECTION_LEVEL, "s", 1, {{315, 0, 60}}}, "315 Hz",
                 "0 dB");
    assert_words(
        (es_programme_section){
            ES_SECTION_RESPONSE, "s", 3, {{315, -20, 4}, {31.5, -20, 4}, {12500, -20, 4}}},
        "3 tones, 31.5 Hz to 12.5 kHz", "-20 dB");
    assert_words(
        (es_programme_section){ES_SECTION_DISTORTION, "s", 2, {{1000, -6, 4}, {1000, 8.25, 4}}},
        "1000 Hz, 2 steps", "-6 to +8.3 dB");
    assert_words((es_programme_section){ES_SECTION_AZIMUTH_BROADBAND, "s", 1, {{0, -20, 4}}},
                 "200 Hz to 16 kHz at once", "-20 dB");
    assert_words((es_programme_section){ES_SECTION_SILENCE, "s", 1, {{0, 0, 4}}}, "silence", "-");
    assert_words((es_programme_section){.kind = ES_SECTION_END}, "marker only", "-");
}

static void channels_and_sides_have_their_words(void **state)
{
    (void)state;
    es_programme_section s = {.kind = ES_SECTION_LEFT_ONLY};
    assert_string_equal(es_cue_channels(&s), "left");
    s.kind = ES_SECTION_RIGHT_ONLY;
    assert_string_equal(es_cue_channels(&s), "right");
    s.kind = ES_SECTION_RESPONSE;
    assert_string_equal(es_cue_channels(&s), "both");
    assert_int_equal(es_side_letter(0), 'a');
    assert_int_equal(es_side_letter(1), 'b');
}

/* So that no list has a hole. */
static void every_kind_says_what_it_is_for(void **state)
{
    (void)state;
    for (int k = 0; k < ES_SECTION_KIND_COUNT; k++) {
        const es_section_rule *rule = es_section_rule_of((es_section_kind)k);
        assert_true(strlen(rule->name) > 2 && strlen(rule->about) > 10);
        assert_true(rule->steps_most <= ES_PROGRAMME_STEPS);
        assert_string_equal(es_section_kind_name((es_section_kind)k), rule->name);
    }
    assert_null(es_section_rule_of(ES_SECTION_KIND_COUNT));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(times_are_minutes_and_seconds),
        cmocka_unit_test(sections_are_told_in_words),
        cmocka_unit_test(channels_and_sides_have_their_words),
        cmocka_unit_test(every_kind_says_what_it_is_for),
    };
    return cmocka_run_group_tests_name("base/cue_sheet", tests, NULL, NULL);
}
