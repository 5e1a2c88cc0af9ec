#include "cm.h"

#include <string.h>

#include "task/nominal.h"

static es_notes notes;

static double nearest(double heard_hz)
{
    memset(&notes, 0, sizeof notes);
    return es_nearest_nominal(heard_hz, &notes);
}

static const char *text_of(const char *code)
{
    const es_note *note = es_notes_find(&notes, code);
    if (!note)
        fail_msg("no note %s", code);
    assert_int_equal(notes.count, 1);
    size_t length = strlen(note->text);
    if (length < 2 || length >= sizeof note->text - 1 || note->text[length - 1] != '.')
        fail_msg("no whole sentence: \"%s\"", note->text);
    return note->text;
}

static void assert_says(const char *text, const char *part)
{
    assert_non_null(text);
    if (!strstr(text, part))
        fail_msg("\"%s\" is not in \"%s\"", part, text);
}

/* 3150 Hz: IEC 60386; 3000 Hz: NAB and JIS; others: sections of calibration tapes (IEC 60094-2, common
 * practice). Exactly on the tone, and 3 % off to either side for those that stand alone. */
static void knows_the_test_tones_of_the_trade(void **state)
{
    (void)state;
    static const double all[] = {315, 333, 400, 440, 1000, 3000, 3150, 6300, 8000, 10000, 12500};
    static const double alone[] = {1000, 6300, 8000, 10000, 12500};
    for (size_t i = 0; i < COUNT(all); i++)
        assert_near(nearest(all[i]), all[i], 0.0);
    for (size_t i = 0; i < COUNT(alone); i++)
        for (int side = -1; side <= 1; side++) {
            assert_near(nearest(alone[i] * (1.0 + 0.03 * side)), alone[i], 0.0);
            assert_int_equal(notes.count, 0);
        }
}

/* Between two tones the nearer in ratio is taken: they part at the geometric mean,
 * sqrt(3000 x 3150) = 3074.09 Hz, sqrt(315 x 333) = 323.875 Hz, sqrt(400 x 440) = 419.524 Hz. */
static void takes_the_nearer_in_ratio(void **state)
{
    (void)state;
    static const double edges[][3] = {
        {3074.09, 3000, 3150}, {323.875, 315, 333}, {419.524, 400, 440}};
    for (size_t i = 0; i < COUNT(edges); i++) {
        assert_near(nearest(edges[i][0] - 0.1), edges[i][1], 0.0);
        assert_near(nearest(edges[i][0] + 0.1), edges[i][2], 0.0);
    }
}

/* 3135 of 3150 is -0.476 %, of 3000 +4.50 %; 3020 of 3150 is -4.13 %; 360 of 333 is +8.11 % and of 400
 * -10.0 %; worked by hand. */
static void names_what_else_it_could_be_with_its_error(void **state)
{
    (void)state;
    nearest(3135.0);
    const char *text = text_of("nominal-ambiguous");
    assert_says(text, "Taken for a 3150 Hz tape");
    assert_says(text, "3000 Hz (then the speed error is +4.50 %)");
    assert_says(text, "--tone");
    nearest(3020.0);
    text = text_of("nominal-ambiguous");
    assert_says(text, "Taken for a 3000 Hz tape");
    assert_says(text, "3150 Hz (then the speed error is -4.13 %)");
    assert_near(nearest(361.0), 333.0, 0.0);
    assert_says(text_of("nominal-ambiguous"), "400 Hz (then the speed error is -9.75 %)");
}

/* 405 Hz lies within 10 % of 400 (taken) and of 440 (-7.95 %), not of 333 (+21.6 %); 363 within 10 % of
 * 333 (+9.01 %) and 400 (-9.25 %), not of 315 (+15.2 %) or 440 (-17.5 %); 345 within 10 % of 333 (taken) and 315
 * (+9.52 %); worked by hand. */
static void names_neighbours_within_ten_percent_and_no_others(void **state)
{
    (void)state;
    static const struct {
        double heard, taken;
        const char *named, *not_named[2];
    } cases[] = {{405.0, 400.0, "440 Hz (then the speed error is -7.95 %)", {"333", "315"}},
                 {363.0, 333.0, "400 Hz (then the speed error is -9.25 %)", {"315 Hz", "440 Hz"}},
                 {345.0, 333.0, "315 Hz (then the speed error is +9.52 %)", {"400 Hz", "440 Hz"}}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        assert_near(nearest(cases[i].heard), cases[i].taken, 0.0);
        const char *text = text_of("nominal-ambiguous");
        assert_says(text, cases[i].named);
        for (size_t k = 0; k < 2; k++)
            if (strstr(text, cases[i].not_named[k]))
                fail_msg("%s is named in \"%s\"", cases[i].not_named[k], text);
    }
}

/* 3300 is +10 % of 3000 (within, the boundary counts) and 3301 is beyond; 2835 is -10 % of 3150. */
static void ten_percent_is_where_ambiguity_ends(void **state)
{
    (void)state;
    assert_near(nearest(3299.0), 3150.0, 0.0);
    assert_int_equal(notes.count, 1);
    assert_near(nearest(3301.0), 3150.0, 0.0);
    assert_int_equal(notes.count, 0);
    assert_near(nearest(2836.0), 3000.0, 0.0);
    assert_int_equal(notes.count, 1);
    assert_near(nearest(2834.0), 3000.0, 0.0);
    assert_int_equal(notes.count, 0);
}

/* 15 %: 3622.5 Hz is +15 % of 3150, 2550 Hz -15 % of 3000; 850 and 1150 Hz of 1000. */
static void farther_than_fifteen_percent_is_no_test_tone(void **state)
{
    (void)state;
    static const double known[] = {3622.0, 2551.0, 851.0, 1149.0, 14374.0};
    static const double unknown[] = {3623.0, 2549.0, 849.0, 1151.0, 14376.0, 700.0, 1800.0, 4500.0};
    for (size_t i = 0; i < COUNT(known); i++)
        if (isnan(nearest(known[i])) || notes.count)
            fail_msg("%g Hz is not taken for a test tone", known[i]);
    for (size_t i = 0; i < COUNT(unknown); i++) {
        if (!isnan(nearest(unknown[i])))
            fail_msg("%g Hz is taken for a test tone", unknown[i]);
        const char *text = text_of("nominal-unknown");
        assert_says(text, "--tone HZ");
        assert_says(text, unknown[i] == 700.0 ? "700.0 Hz" : "can't be known");
    }
}

/* 3087 Hz: 2.9 % above 3000; 330 Hz of 333: 4.76 % above 315, 17.5 % below 400; worked by hand. */
static void the_second_is_the_one_with_the_next_smallest_error(void **state)
{
    (void)state;
    assert_near(es_second_nominal(3087.0, 3150.0), 3000.0, 0.0);
    assert_near(es_second_nominal(3060.0, 3000.0), 3150.0, 0.0);
    assert_near(es_second_nominal(330.0, 333.0), 315.0, 0.0);
    assert_near(es_second_nominal(415.0, 400.0), 440.0, 0.0);
    assert_true(isnan(es_second_nominal((double)NAN, 3150.0)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(knows_the_test_tones_of_the_trade),
        cmocka_unit_test(takes_the_nearer_in_ratio),
        cmocka_unit_test(names_what_else_it_could_be_with_its_error),
        cmocka_unit_test(names_neighbours_within_ten_percent_and_no_others),
        cmocka_unit_test(ten_percent_is_where_ambiguity_ends),
        cmocka_unit_test(the_second_is_the_one_with_the_next_smallest_error),
        cmocka_unit_test(farther_than_fifteen_percent_is_no_test_tone),
    };
    return cmocka_run_group_tests_name("task/nominal", tests, NULL, NULL);
}
