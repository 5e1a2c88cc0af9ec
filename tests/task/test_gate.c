#include "cm.h"

#include <stdio.h>
#include <string.h>

#include "evenspool/task/gate.h"

/* A deck that is steady and too fast, heard for a minute: nothing but its setting is wrong. */
static es_check_result steady(double error_percent, double u95_percent)
{
    return (es_check_result){.tone = {.nominal_hz = 3150.0,
                                      .nominal_source = ES_NOMINAL_GIVEN,
                                      .measured_hz = 31.5 * (100.0 + error_percent),
                                      .snr_db = 50.0,
                                      .present_percent = 100.0},
                             .speed = {.error_percent = error_percent,
                                       .u95_percent = u95_percent,
                                       .heard_percent = error_percent,
                                       .drift_percent_per_min = 0.0,
                                       .start_percent = error_percent,
                                       .end_percent = error_percent},
                             .flutter = {.weighted_two_sigma_percent = 0.05, .reliable = 1}};
}

/* Limits that binary fractions hold exactly, so that "at the limit" means it. */
static es_gate_limits exact(void)
{
    return (es_gate_limits){.tolerance_percent = 0.25,
                            .u95_percent = 0.125,
                            .drift_percent_per_min = 0.25,
                            .spread_percent = 0.5,
                            .flutter_percent = 0.25,
                            .component_percent = 0.125,
                            .range_percent = 6.0,
                            .snr_db = 15.0,
                            .dropouts_per_min = 6.0,
                            .duration_s = 10.0,
                            .tone_doubt_percent = 3.0};
}

static const es_note *judged(es_check_result *r, double good_s, const char *code)
{
    es_gate_limits limits = exact();
    es_gate_judge(&limits, good_s, r);
    return es_notes_find(&r->gate.reasons, code);
}

/* What a bench needs of every sentence: whole, ended, and no figure that is none. */
static void assert_sentence(const es_note *note)
{
    size_t length = strlen(note->text);
    if (length < 2 || length >= sizeof note->text - 1 || note->text[length - 1] != '.')
        fail_msg("%s is no whole sentence: \"%s\"", note->code, note->text);
    if (strstr(note->text, "nan") || strstr(note->text, "inf"))
        fail_msg("%s tells a figure that is none: \"%s\"", note->code, note->text);
}

static void assert_sentences(const es_check_result *r)
{
    assert_true(r->gate.reasons.count > 0);
    for (size_t i = 0; i < r->gate.reasons.count; i++)
        assert_sentence(&r->gate.reasons.at[i]);
}

static void assert_only(const es_check_result *r, es_verdict verdict, const char *code)
{
    if (r->gate.verdict != verdict || r->gate.reasons.count != 1 ||
        strcmp(r->gate.reasons.at[0].code, code) != 0)
        fail_msg("verdict %d with %zu reasons, first %s; expected %d for %s alone",
                 (int)r->gate.verdict, r->gate.reasons.count, r->gate.reasons.at[0].code,
                 (int)verdict, code);
    assert_sentences(r);
}

static void assert_says(const es_note *note, const char *figure)
{
    assert_non_null(note);
    if (!strstr(note->text, figure))
        fail_msg("%s does not say \"%s\": \"%s\"", note->code, figure, note->text);
}

/* --- leave and adjust ------------------------------------------------------------------------ */

static void leaves_alone_only_what_is_surely_inside(void **state)
{
    (void)state;
    static const struct {
        double error, u95;
        es_verdict verdict;
        const char *code;
    } cases[] = {{0.0, 0.01, ES_VERDICT_LEAVE, "within-tolerance"},
                 {0.125, 0.125, ES_VERDICT_LEAVE, "within-tolerance"}, /* just fits */
                 {-0.125, 0.125, ES_VERDICT_LEAVE, "within-tolerance"},
                 {0.25, 0.0, ES_VERDICT_LEAVE, "within-tolerance"},
                 {0.1251, 0.125, ES_VERDICT_ADJUST, "at-the-edge"},
                 {-0.1251, 0.125, ES_VERDICT_ADJUST, "at-the-edge"},
                 {0.25, 0.001, ES_VERDICT_ADJUST, "at-the-edge"},
                 {0.2501, 0.0, ES_VERDICT_ADJUST, "steady-and-off"},
                 {-0.2501, 0.0, ES_VERDICT_ADJUST, "steady-and-off"},
                 {6.0, 0.01, ES_VERDICT_ADJUST, "steady-and-off"},
                 {-6.0, 0.125, ES_VERDICT_ADJUST, "steady-and-off"}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        es_check_result r = steady(cases[i].error, cases[i].u95);
        judged(&r, 60.0, "");
        assert_only(&r, cases[i].verdict, cases[i].code);
    }
}

static void verdicts_name_their_figures(void **state)
{
    (void)state;
    es_check_result r = steady(0.05, 0.02);
    assert_says(judged(&r, 60.0, "within-tolerance"), "0.25 %");
    r = steady(-1.84, 0.02);
    assert_says(judged(&r, 60.0, "steady-and-off"), "1.84 % slow");
    r = steady(1.84, 0.02);
    assert_says(judged(&r, 60.0, "steady-and-off"), "1.84 % fast");
    r = steady(-0.21, 0.08);
    const es_note *edge = judged(&r, 60.0, "at-the-edge");
    assert_says(edge, "0.21 % slow");
    assert_says(edge, "0.08 %");
    assert_says(edge, "0.25 %");
}

/* Whatever else is wrong, a reason to look first is never joined by one to adjust or to leave. */
static void a_fault_outweighs_the_setting(void **state)
{
    (void)state;
    static const double errors[] = {0.0, 0.2, 2.0};
    for (size_t i = 0; i < COUNT(errors); i++) {
        es_check_result r = steady(errors[i], 0.0625);
        r.flutter.weighted_two_sigma_percent = 0.9;
        judged(&r, 60.0, "");
        assert_only(&r, ES_VERDICT_LOOK_FIRST, "flutter");
    }
}

/* --- every limit, at it and beyond it --------------------------------------------------------- */

typedef double *field_of(es_check_result *r);
static double *snr(es_check_result *r)
{
    return &r->tone.snr_db;
}
static double *drift(es_check_result *r)
{
    return &r->speed.drift_percent_per_min;
}
static double *start(es_check_result *r)
{
    return &r->speed.start_percent;
}
static double *end(es_check_result *r)
{
    return &r->speed.end_percent;
}
static double *flutter(es_check_result *r)
{
    return &r->flutter.weighted_two_sigma_percent;
}
static double *u95(es_check_result *r)
{
    return &r->speed.u95_percent;
}
static double *error_of(es_check_result *r)
{
    return &r->speed.error_percent;
}

static void each_limit_holds_at_its_value_and_not_beyond(void **state)
{
    (void)state;
    static const struct {
        field_of *field;
        double inside, outside;
        const char *code, *figure;
    } cases[] = {{snr, 15.0, 14.5, "noisy", "14 dB"}, /* half to even */
                 {snr, 15.0, 3.0, "noisy", "3 dB"},
                 {drift, 0.25, 0.27, "drift", "+0.27 % a minute"},
                 {drift, -0.25, -0.31, "drift", "-0.31 % a minute"},
                 {end, 1.5, 1.51, "uneven", "+0.51 %"},
                 {end, 0.5, 0.48, "uneven", "-0.52 %"},
                 {start, 0.5, 0.25, "uneven", "+0.75 %"},
                 {flutter, 0.25, 0.26, "flutter", "0.26 %"},
                 {u95, 0.125, 0.13, "unsure", "0.13 %"},
                 {error_of, 6.0, 6.1, "far-off", "6.1 % fast"},
                 {error_of, -6.0, -7.3, "far-off", "7.3 % slow"}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        es_check_result r = steady(1.0, 0.01);
        *cases[i].field(&r) = cases[i].inside;
        judged(&r, 60.0, "");
        assert_only(&r, ES_VERDICT_ADJUST, "steady-and-off");
        *cases[i].field(&r) = cases[i].outside;
        const es_note *note = judged(&r, 60.0, cases[i].code);
        assert_only(&r, ES_VERDICT_LOOK_FIRST, cases[i].code);
        assert_says(note, cases[i].figure);
    }
}

static void ten_seconds_are_enough_and_less_is_not(void **state)
{
    (void)state;
    es_check_result r = steady(1.0, 0.01);
    judged(&r, 10.0, "");
    assert_only(&r, ES_VERDICT_ADJUST, "steady-and-off");
    const es_note *note = judged(&r, 9.4, "too-short");
    assert_only(&r, ES_VERDICT_LOOK_FIRST, "too-short");
    assert_says(note, "9.4 s");
    assert_says(note, "10 s");
    judged(&r, 0.0, "");
    assert_only(&r, ES_VERDICT_LOOK_FIRST, "too-short");
}

/* 6 a minute is allowed; fewer than three in all is bad luck, however short the capture. */
static void counts_dropouts_by_the_minute(void **state)
{
    (void)state;
    static const struct {
        int dropouts;
        double good_s;
        int fault;
        const char *figure;
    } cases[] = {{6, 60.0, 0, ""},          {7, 60.0, 1, "7 times"}, {60, 600.0, 0, ""},
                 {61, 600.0, 1, "6 times"}, {2, 10.0, 0, ""},        {3, 10.0, 1, "18 times"},
                 {3, 30.0, 0, ""},          {0, 10.0, 0, ""}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        es_check_result r = steady(1.0, 0.01);
        r.tone.dropouts = cases[i].dropouts;
        const es_note *note = judged(&r, cases[i].good_s, "dropouts");
        if (!cases[i].fault) {
            assert_only(&r, ES_VERDICT_ADJUST, "steady-and-off");
            continue;
        }
        assert_only(&r, ES_VERDICT_LOOK_FIRST, "dropouts");
        assert_says(note, cases[i].figure);
    }
}

static void one_swinging_part_is_looked_at_by_name(void **state)
{
    (void)state;
    es_check_result r = steady(1.0, 0.01);
    r.component_count = 2;
    r.components[0] = (es_component){.rate_hz = 7.904, .peak_percent = 0.125, .suspect = "capstan"};
    r.components[1] = (es_component){.rate_hz = 1.5, .peak_percent = 0.1};
    judged(&r, 60.0, "");
    assert_only(&r, ES_VERDICT_ADJUST, "steady-and-off");
    r.components[0].peak_percent = 0.18;
    const es_note *note = judged(&r, 60.0, "component");
    assert_only(&r, ES_VERDICT_LOOK_FIRST, "component");
    assert_says(note, "0.18 %");
    assert_says(note, "7.90 Hz");
    assert_says(note, "the capstan");
    r.components[0].suspect[0] = '\0';
    note = judged(&r, 60.0, "component");
    assert_only(&r, ES_VERDICT_LOOK_FIRST, "component");
    assert_says(note, "0.18 % at 7.90 Hz");
    assert_null(strstr(note->text, "capstan"));
}

/* Drift over a few seconds is wow; and what drifts is not called uneven as well. */
static void drift_wants_time_and_covers_the_difference_of_the_ends(void **state)
{
    (void)state;
    es_check_result r = steady(1.0, 0.01);
    r.speed.drift_percent_per_min = 0.9;
    r.speed.start_percent = 0.5;
    r.speed.end_percent = 1.5;
    judged(&r, 60.0, "");
    assert_only(&r, ES_VERDICT_LOOK_FIRST, "drift");
    assert_null(judged(&r, 8.0, "drift"));
    assert_non_null(es_notes_find(&r.gate.reasons, "uneven"));
    assert_non_null(es_notes_find(&r.gate.reasons, "too-short"));
}

static void says_all_that_is_wrong_at_once(void **state)
{
    (void)state;
    es_check_result r = steady(-9.87, 1.25);
    r.tone.snr_db = 7.0;
    r.tone.dropouts = 40;
    r.speed.start_percent = -8.0;
    r.flutter.weighted_two_sigma_percent = 1.11;
    r.component_count = 1;
    r.components[0] = (es_component){.rate_hz = 0.5, .peak_percent = 1.0};
    memset(r.components[0].suspect, 'x', sizeof r.components[0].suspect - 1);
    judged(&r, 5.0, "");
    static const char *const codes[] = {"too-short", "noisy",   "dropouts", "uneven",
                                        "component", "flutter", "far-off",  "unsure"};
    assert_int_equal(r.gate.verdict, ES_VERDICT_LOOK_FIRST);
    assert_int_equal(r.gate.reasons.count, COUNT(codes));
    for (size_t i = 0; i < COUNT(codes); i++)
        if (!es_notes_find(&r.gate.reasons, codes[i]))
            fail_msg("%s is not said", codes[i]);
    assert_sentences(&r);
    assert_non_null(strstr(es_notes_find(&r.gate.reasons, "far-off")->text, "belt"));
}

static void slow_and_fast_decks_are_sent_to_different_parts(void **state)
{
    (void)state;
    es_check_result r = steady(8.0, 0.01);
    const es_note *note = judged(&r, 60.0, "far-off");
    assert_non_null(strstr(note->text, "regulator"));
    r = steady(-8.0, 0.01);
    note = judged(&r, 60.0, "far-off");
    assert_non_null(strstr(note->text, "belt"));
    assert_null(strstr(note->text, "regulator"));
}

/* 3150 x 0.98 = 3087 Hz is 2.9 % above 3000 Hz; 3150 x 0.985 = 3102.75 Hz is 3.425 % above; 3000 x 1.023 = 3069
 * Hz is 2.571 % below 3150 Hz; worked by hand. */
static void a_tone_that_may_be_another_is_asked_for(void **state)
{
    (void)state;
    es_check_result r = steady(-2.0, 0.01);
    r.tone.nominal_source = ES_NOMINAL_NEAREST;
    const es_note *note = judged(&r, 60.0, "tone-unsure");
    assert_only(&r, ES_VERDICT_LOOK_FIRST, "tone-unsure");
    assert_says(note, "with 3150 Hz the deck runs 2.00 % slow");
    assert_says(note, "with 3000 Hz 2.90 % fast");
    assert_says(note, "--tone");
    r = steady(2.3, 0.01);
    r.tone.nominal_source = ES_NOMINAL_NEAREST;
    r.tone.nominal_hz = 3000.0;
    r.tone.measured_hz = 3069.0;
    assert_says(judged(&r, 60.0, "tone-unsure"), "with 3150 Hz 2.57 % slow");
    r = steady(-1.5, 0.01);
    r.tone.nominal_source = ES_NOMINAL_NEAREST;
    judged(&r, 60.0, "");
    assert_only(&r, ES_VERDICT_ADJUST, "steady-and-off");
}

/* --- what is not known ------------------------------------------------------------------------ */

/* No figure, no decision: neither adjust nor leave, and no sentence that recites "nan". */
static void what_is_not_known_carries_no_decision(void **state)
{
    (void)state;
    static const struct {
        field_of *field;
        const char *code;
    } cases[] = {{error_of, "speed-unknown"}, {u95, "unsure"}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        es_check_result r = steady(0.0, 0.01);
        *cases[i].field(&r) = (double)NAN;
        judged(&r, 60.0, "");
        assert_only(&r, ES_VERDICT_LOOK_FIRST, cases[i].code);
    }
}

static void a_capture_of_nothing_is_looked_at_first(void **state)
{
    (void)state;
    double none = (double)NAN;
    es_check_result r = steady(none, none);
    *snr(&r) = *drift(&r) = *start(&r) = *end(&r) = *flutter(&r) = none;
    judged(&r, 0.0, "");
    assert_int_equal(r.gate.verdict, ES_VERDICT_LOOK_FIRST);
    assert_sentences(&r);
}

/* Figures that a short capture can't have (drift, ends) are not held against a sound one. */
static void a_drift_that_is_not_known_speaks_for_nothing(void **state)
{
    (void)state;
    es_check_result r = steady(1.0, 0.01);
    *drift(&r) = *start(&r) = *end(&r) = (double)NAN;
    judged(&r, 60.0, "");
    assert_only(&r, ES_VERDICT_ADJUST, "steady-and-off");
}

/* --- defaults --------------------------------------------------------------------------------- */

/* The figures of docs/methods.md#gate, in its order; sources stand there. */
static void the_defaults_are_those_of_the_manual(void **state)
{
    (void)state;
    es_gate_limits l = es_gate_defaults();
    const double table[][2] = {{l.tolerance_percent, 0.3},     {l.u95_percent, 0.15},
                               {l.drift_percent_per_min, 0.3}, {l.spread_percent, 0.5},
                               {l.flutter_percent, 0.3},       {l.component_percent, 0.15},
                               {l.range_percent, 6.0},         {l.snr_db, 15.0},
                               {l.dropouts_per_min, 6.0},      {l.duration_s, 10.0}};
    for (size_t i = 0; i < COUNT(table); i++)
        assert_near(table[i][0], table[i][1], 1e-12);
}

static void judging_again_forgets_the_first_verdict(void **state)
{
    (void)state;
    es_check_result r = steady(9.0, 0.01);
    judged(&r, 60.0, "");
    assert_only(&r, ES_VERDICT_LOOK_FIRST, "far-off");
    r.speed.error_percent = 0.0;
    judged(&r, 60.0, "");
    assert_only(&r, ES_VERDICT_LEAVE, "within-tolerance");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(leaves_alone_only_what_is_surely_inside),
        cmocka_unit_test(verdicts_name_their_figures),
        cmocka_unit_test(a_fault_outweighs_the_setting),
        cmocka_unit_test(each_limit_holds_at_its_value_and_not_beyond),
        cmocka_unit_test(ten_seconds_are_enough_and_less_is_not),
        cmocka_unit_test(counts_dropouts_by_the_minute),
        cmocka_unit_test(one_swinging_part_is_looked_at_by_name),
        cmocka_unit_test(drift_wants_time_and_covers_the_difference_of_the_ends),
        cmocka_unit_test(says_all_that_is_wrong_at_once),
        cmocka_unit_test(slow_and_fast_decks_are_sent_to_different_parts),
        cmocka_unit_test(a_tone_that_may_be_another_is_asked_for),
        cmocka_unit_test(what_is_not_known_carries_no_decision),
        cmocka_unit_test(a_capture_of_nothing_is_looked_at_first),
        cmocka_unit_test(a_drift_that_is_not_known_speaks_for_nothing),
        cmocka_unit_test(the_defaults_are_those_of_the_manual),
        cmocka_unit_test(judging_again_forgets_the_first_verdict),
    };
    return cmocka_run_group_tests_name("task/gate", tests, NULL, NULL);
}
