#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "evenspool/tape/scenario.h"
#include "near.h"

#include "tape/number.h"
#include "tape/scenario_keys.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static es_scenario parsed(const char *text)
{
    es_scenario s;
    es_error error = {0};
    if (es_scenario_parse(text, strlen(text), &s, &error) != ES_OK)
        fail_msg("%s", error.text);
    return s;
}

static void same(const es_scenario *a, const es_scenario *b)
{
    char one[ES_SCENARIO_TEXT], two[ES_SCENARIO_TEXT];
    assert_int_equal(es_scenario_write(a, one, sizeof one), ES_OK);
    assert_int_equal(es_scenario_write(b, two, sizeof two), ES_OK);
    assert_string_equal(one, two);
}

/* --- numbers ----------------------------------------------------------------------- */

/* The C library reads the same text in the "C" locale: the outside answer. */
static void reads_numbers_as_the_c_library_does(void **state)
{
    (void)state;
    static const char *const texts[] = {"0",
                                        "-0.0",
                                        "1.25",
                                        "+7",
                                        "3150",
                                        ".5",
                                        "5.",
                                        "1e3",
                                        "2.5E-7",
                                        "0.1",
                                        "-12.34",
                                        "1e22",
                                        "9007199254740993",
                                        "0.30000000000000004",
                                        "000123.4500",
                                        "1234567890123456789",
                                        "4.9e-100",
                                        "1e400"};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        es_decimal d;
        assert_int_equal(es_decimal_read(texts[i], strlen(texts[i]), &d), strlen(texts[i]));
        double truth = strtod(texts[i], NULL), got = es_decimal_value(d, 0);
        assert_true(got == truth || fabs(got / truth - 1.0) < 1e-15);
        assert_int_equal(signbit(got) != 0, signbit(truth) != 0);
    }
}

static void reads_nothing_that_is_no_number(void **state)
{
    (void)state;
    static const char *const texts[] = {"", "-", "+", ".", "-.", "e5", "nan", "inf", "abc", " 1"};
    es_decimal d;
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        assert_int_equal(es_decimal_read(texts[i], strlen(texts[i]), &d), 0);
    assert_int_equal(es_decimal_read("0x10", 4, &d), 1);
    assert_int_equal(es_decimal_read("1e", 2, &d), 1);
    assert_int_equal(es_decimal_read("1.2.3", 5, &d), 3);
    assert_int_equal(es_decimal_read("12345", 2, &d), 2);
}

/* Per cent is two places, whatever binary makes of it: 1.2 % is the double of the text 0.012. */
static void moves_the_point_without_rounding_twice(void **state)
{
    (void)state;
    es_decimal d;
    assert_int_equal(es_decimal_read("1.2", 3, &d), 3);
    assert_true(es_decimal_value(d, -2) == 0.012);
    assert_int_equal(es_decimal_read("0.07", 4, &d), 4);
    assert_true(es_decimal_value(d, -2) == 0.0007);
}

static void write_and_read(double value, int shift)
{
    char room[64];
    es_decimal d;
    es_text text = es_text_over(room, sizeof room);
    es_decimal_write(&text, value, shift);
    assert_false(text.cut);
    assert_int_equal(es_decimal_read(room, strlen(room), &d), strlen(room));
    if (es_decimal_value(d, shift) != value)
        fail_msg("%.17g was written as %s", value, room);
}

static void writes_numbers_that_read_back_exactly(void **state)
{
    (void)state;
    uint64_t x = 88172645463325252u; /* Marsaglia's xorshift, good enough to pick numbers */
    for (int i = 0; i < 20000; i++) {
        x ^= x << 13;
        x ^= x >> 7;
        x ^= x << 17;
        double value = ((double)(x >> 11) * 0x1p-53 - 0.5) * pow(10.0, (double)(x % 13) - 8.0);
        write_and_read(value, (int)(x % 3) * -2);
    }
}

static void writes_numbers_for_people(void **state)
{
    (void)state;
    static const struct {
        double value;
        int shift;
        const char *text;
    } rows[] = {{0.012, -2, "1.2"},
                {3150.0, 0, "3150"},
                {-0.0005, -2, "-0.05"},
                {18e-6, -6, "18"},
                {0.0, -2, "0"},
                {1e-5, -2, "0.001"},
                {9007199254740992.0, 0, "9007199254740992"},
                {1e12, 0, "1e12"},
                {1e-12, 0, "1e-12"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char room[64];
        es_text text = es_text_over(room, sizeof room);
        es_decimal_write(&text, rows[i].value, rows[i].shift);
        assert_string_equal(room, rows[i].text);
    }
}

/* --- built-in scenarios ------------------------------------------------------------- */

static void every_builtin_scenario_can_be_played(void **state)
{
    (void)state;
    assert_true(es_scenario_builtin_count() >= 12);
    for (size_t i = 0; i < es_scenario_builtin_count(); i++) {
        es_scenario s, found;
        es_error error = {0};
        assert_int_equal(es_scenario_builtin(i, &s), ES_OK);
        assert_string_equal(s.name, es_scenario_builtin_name(i));
        assert_string_equal(s.about, es_scenario_builtin_about(i));
        assert_true(strlen(s.about) > 20);
        if (es_scenario_check(&s, 48000.0, &error) != ES_OK)
            fail_msg("%s: %s", s.name, error.text);
        assert_int_equal(es_scenario_find(s.name, &found), ES_OK);
        same(&s, &found);
    }
}

static void builtin_names_differ(void **state)
{
    (void)state;
    for (size_t i = 0; i < es_scenario_builtin_count(); i++)
        for (size_t k = 0; k < i; k++)
            assert_string_not_equal(es_scenario_builtin_name(i), es_scenario_builtin_name(k));
}

static void an_unknown_name_is_an_error(void **state)
{
    (void)state;
    es_scenario s, defaults = es_scenario_defaults();
    assert_int_equal(es_scenario_find("no-such-deck", &s), ES_ERR_ARG);
    same(&s, &defaults);
    assert_int_equal(es_scenario_builtin(es_scenario_builtin_count(), &s), ES_ERR_ARG);
    assert_string_equal(es_scenario_builtin_name(999), "");
    assert_string_equal(es_scenario_builtin_about(999), "");
}

/* --- text form ------------------------------------------------------------------------ */

static void an_empty_text_is_the_flawless_deck(void **state)
{
    (void)state;
    es_scenario s = parsed(""), defaults = es_scenario_defaults();
    same(&s, &defaults);
    s = parsed("\xEF\xBB\xBF \r\n\n  # nothing but a remark\r\n");
    same(&s, &defaults);
}

static void reads_every_kind_of_setting(void **state)
{
    (void)state;
    es_scenario s = parsed("name = attic-find   # what the seller said\n"
                           "about = Two belts, one of them wrong.\n"
                           "seed=42\n"
                           "class = reel-9.5\r\n"
                           "\tcapstan-diameter = 5.5 mm\n"
                           "speed-error = -1.2%\n"
                           "clock-error = +35 ppm\n"
                           "tape-thickness = 26 um\n"
                           "capstan-flutter-2 = 0.08 %\n"
                           "wobble-3-rate = 0.8 Hz\n"
                           "wobble-3 = 0.02 %\n"
                           "trimmer-sense = anticlockwise\n"
                           "dead-channel = right\n"
                           "polarity = opposed\n"
                           "snr = none\n"
                           "hum = -40 dBFS\n"
                           "dropout-length = 12.5 ms\n"
                           "dc-offset = -1 %FS");
    assert_string_equal(s.name, "attic-find");
    assert_string_equal(s.about, "Two belts, one of them wrong.");
    assert_int_equal(s.seed, 42);
    assert_int_equal(s.geometry.transport, ES_REEL_9_5);
    assert_near(s.geometry.speed_m_s, 0.09525, 0.0);
    assert_near(s.geometry.capstan_m, 0.0055, 0.0);
    assert_near(s.speed_error, -0.012, 0.0);
    assert_near(s.clock_error, 35e-6, 0.0);
    assert_near(s.geometry.tape_thickness_m, 26e-6, 0.0);
    assert_near(s.flutter[ES_PART_CAPSTAN][1], 0.0008, 0.0);
    assert_near(s.wobble[2].rate_hz, 0.8, 0.0);
    assert_near(s.wobble[2].peak, 0.0002, 0.0);
    assert_true(s.trimmer.anticlockwise_is_faster && s.opposed);
    assert_int_equal(s.dead, ES_DEAD_RIGHT);
    assert_true(isinf(s.snr_db));
    assert_near(s.hum_dbfs, -40.0, 0.0);
    assert_near(s.dropout_s, 0.0125, 0.0);
    assert_near(s.dc_fs, -0.01, 0.0);
}

static void starts_from_a_builtin_scenario(void **state)
{
    (void)state;
    es_scenario start, s = parsed("# mine\nlike = slipping-belt\nspeed-error = -3 %\n");
    assert_int_equal(es_scenario_find("slipping-belt", &start), ES_OK);
    assert_string_equal(s.name, "unnamed");
    assert_near(s.speed_error, -0.03, 0.0);
    assert_near(s.flutter[ES_PART_BELT][0], start.flutter[ES_PART_BELT][0], 0.0);
}

static void writes_what_it_reads(void **state)
{
    (void)state;
    for (size_t i = 0; i < es_scenario_builtin_count(); i++) {
        char text[ES_SCENARIO_TEXT];
        es_scenario s, back;
        es_scenario_builtin(i, &s);
        s.seed = 9007199254740992u;
        s.speed_error = 0.1 / 3.0 * 0.1; /* a fraction no short text can hold */
        s.warm_up_min = 1.0 / 3.0;
        assert_int_equal(es_scenario_write(&s, text, sizeof text), ES_OK);
        back = parsed(text);
        same(&s, &back);
        assert_true(back.seed == s.seed && back.speed_error == s.speed_error);
        assert_true(back.warm_up_min == s.warm_up_min && back.snr_db == s.snr_db);
        assert_true(back.geometry.capstan_m == s.geometry.capstan_m);
        assert_memory_equal(back.flutter, s.flutter, sizeof s.flutter);
        assert_true(back.trimmer.per_turn == s.trimmer.per_turn);
    }
}

static void writing_needs_room(void **state)
{
    (void)state;
    char text[40] = "x";
    es_scenario s;
    es_scenario_find("slipping-belt", &s);
    assert_int_equal(es_scenario_write(&s, text, sizeof text), ES_ERR_SPACE);
    assert_string_equal(text, "");
    assert_int_equal(es_scenario_write(&s, text, 0), ES_ERR_SPACE);
    s.speed_error = (double)NAN;
    assert_int_equal(es_scenario_write(&s, text, sizeof text), ES_ERR_ARG);
}

/* Bad text, the code of its error, and pieces that the sentence must hold. */
static void says_where_a_text_is_wrong(void **state)
{
    (void)state;
    static const struct {
        const char *text, *code, *holds, *also;
    } rows[] = {
        {"speed = 1 %", "scenario-text", "Line 1, column 1: expected the name of a setting",
         "speed"},
        {"\n\n  nonsense", "scenario-text", "Line 3, column 3", "nonsense"},
        {"speed-error", "scenario-text", "Line 1, column 12: expected \"=\"", "nothing"},
        {"speed-error 1 %", "scenario-text", "expected the name of a setting", "speed-error 1"},
        {"= 1 %", "scenario-text", "column 1", "nothing"},
        {"speed-error =", "scenario-text", "a number from -30 to 30 with the unit %", "nothing"},
        {"speed-error = fast", "scenario-text", "Line 1, column 15", "fast"},
        {"speed-error = 1", "scenario-text", "with the unit %", "found nothing"},
        {"speed-error = 1 Hz", "scenario-text", "Line 1, column 17", "found \"Hz\""},
        {"speed-error = 1 % %", "scenario-text", "column 17", "% %"},
        {"speed-error = 1,5 %", "scenario-text", "column 16", ",5 %"},
        {"speed-error = 31 %", "scenario-text", "from -30 to 30", "31 %"},
        {"speed-error = 30.0001 %", "scenario-text", "from -30 to 30", "30.0001"},
        {"speed-error = -30.0001 %", "scenario-text", "from -30 to 30", "-30.0001"},
        {"speed-error = nan %", "scenario-text", "a number", "nan"},
        {"speed-error = inf %", "scenario-text", "a number", "inf"},
        {"speed-error = 1e999 %", "scenario-text", "a number", "1e999"},
        {"speed-error = 0x10 %", "scenario-text", "a number", "x10"},
        {"speed-error = none", "scenario-text", "a number", "none"},
        {"snr = lots", "scenario-text", "or \"none\"", "lots"},
        {"seed = -1", "scenario-text", "a whole number", "-1"},
        {"seed = 1.5", "scenario-text", "a whole number", "1.5"},
        {"seed = 9007199254740993", "scenario-text", "9007199254740992", ""},
        {"seed = 99999999999999999999999", "scenario-text", "a whole number", ""},
        {"class = wire", "scenario-text", "cassette, microcassette", "wire"},
        {"trimmer-sense = left", "scenario-text", "\"clockwise\" or \"anticlockwise\"", "left"},
        {"dead-channel = both", "scenario-text", "\"none\", \"left\" or \"right\"", "both"},
        {"name = My Deck", "scenario-text", "lower-case letters", "My Deck"},
        {"name =", "scenario-text", "lower-case letters", "nothing"},
        {"name = a-name-that-is-far-too-long-to-be-kept", "scenario-text", "at most 31", ""},
        {"like = no-such-deck", "scenario-text", "a built-in scenario", "no-such-deck"},
        {"like =", "scenario-text", "a built-in scenario", "nothing"},
        {"seed = 3\nlike = slipping-belt", "scenario-text", "Line 2", "first setting"},
        {"seed = 3\nseed = 4", "scenario-text", "Line 2", "line 1 already"},
        {"hub-radius = 9 mm\nclass = reel-19", "scenario-text", "Line 2", "line 1"},
        {"length = 5 s\nlead-in = 5 s", "scenario", "length must be more", "lead-in"},
        {"pinch-roller-diameter = 0 mm\npinch-roller-flutter = 1 %", "scenario",
         "pinch-roller-diameter", "needs"},
        {"class = reel-19\nmotor-flutter = 1 %", "scenario", "motor-pulley-diameter", "needs"},
        {"wobble-2 = 1 %", "scenario", "needs wobble-2-rate", ""},
        {"random-low = 60 Hz", "scenario", "random-low must be below", ""},
        {"scrape-low = 4000 Hz", "scenario", "scrape-low must be below", ""},
        {"tone-off = 2 s", "scenario", "needs a tone-on", ""},
        {"tape-position = 31 min", "scenario", "beyond its tape-length", ""},
        {"sp\x01\xC3\xA9"
         "ed = 1",
         "scenario-text", "sp???ed", ""},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        es_scenario s, defaults = es_scenario_defaults();
        es_error error = {0};
        assert_int_equal(es_scenario_parse(rows[i].text, strlen(rows[i].text), &s, &error),
                         ES_ERR_INPUT);
        assert_string_equal(error.code, rows[i].code);
        if (!strstr(error.text, rows[i].holds) || !strstr(error.text, rows[i].also))
            fail_msg("\"%s\": %s", rows[i].text, error.text);
        assert_int_equal(error.text[strlen(error.text) - 1], '.');
        same(&s, &defaults);
    }
}

static void counts_columns_in_characters(void **state)
{
    (void)state;
    static const char text[] = "about = Zw\xC3\xB6lf\nabout = x";
    es_error error = {0};
    es_scenario s;
    assert_int_equal(es_scenario_parse(text, 15, &s, NULL), ES_OK);
    assert_string_equal(s.about, "Zw\xC3\xB6lf");
    assert_int_equal(es_scenario_parse("\xC3\xB6 = 1", 6, &s, &error), ES_ERR_INPUT);
    assert_non_null(strstr(error.text, "column 1:"));
}

static void a_zero_byte_is_no_end_of_text(void **state)
{
    (void)state;
    es_scenario s;
    assert_int_equal(es_scenario_parse("seed = 3\n\0seed = 4", 18, &s, NULL), ES_ERR_INPUT);
    assert_int_equal(es_scenario_parse("name = a\0b", 10, &s, NULL), ES_ERR_INPUT);
    assert_int_equal(es_scenario_parse("like = one-ear\0", 15, &s, NULL), ES_ERR_INPUT);
}

/* --- checks --------------------------------------------------------------------------- */

static void refuses_settings_out_of_range(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    es_error error = {0};
    assert_int_equal(es_scenario_check(&s, 48000.0, NULL), ES_OK);
    assert_int_equal(es_scenario_check(&s, 0.0, NULL), ES_OK);
    s.flutter[ES_PART_BELT][2] = (double)NAN;
    assert_int_equal(es_scenario_check(&s, 0.0, &error), ES_ERR_INPUT);
    assert_non_null(strstr(error.text, "belt-flutter-3"));
    s = es_scenario_defaults();
    s.geometry.speed_m_s = 0.05;
    assert_int_equal(es_scenario_check(&s, 0.0, NULL), ES_ERR_INPUT);
    s = es_scenario_defaults();
    s.dead = (es_dead_channel)3;
    assert_int_equal(es_scenario_check(&s, 0.0, NULL), ES_ERR_INPUT);
    s = es_scenario_defaults();
    memset(s.about, 'x', sizeof s.about);
    assert_int_equal(es_scenario_check(&s, 0.0, NULL), ES_ERR_INPUT);
}

static void refuses_rates_that_do_not_suit(void **state)
{
    (void)state;
    es_scenario s = es_scenario_defaults();
    assert_int_equal(es_scenario_check(&s, 7999.0, NULL), ES_ERR_INPUT);
    assert_int_equal(es_scenario_check(&s, 384001.0, NULL), ES_ERR_INPUT);
    assert_int_equal(es_scenario_check(&s, (double)NAN, NULL), ES_ERR_INPUT);
    assert_int_equal(es_scenario_check(&s, 8000.0, NULL), ES_OK);
    s.tone_hz = 3300.0;
    assert_int_equal(es_scenario_check(&s, 8000.0, NULL), ES_ERR_INPUT);
    s = es_scenario_defaults();
    s.scrape.rms = 0.001;
    s.scrape.high_hz = 5000.0;
    assert_int_equal(es_scenario_check(&s, 11025.0, NULL), ES_ERR_INPUT);
    assert_int_equal(es_scenario_check(&s, 11200.0, NULL), ES_OK);
}

/* --- document ------------------------------------------------------------------------- */

static char document[65536];

static void read_document(void)
{
    FILE *file = fopen(ES_SCENARIO_DOCUMENT, "rb");
    assert_non_null(file);
    size_t length = fread(document, 1, sizeof document - 1, file);
    fclose(file);
    assert_true(length > 1000 && length < sizeof document - 1);
}

static void the_document_has_row(const char *row)
{
    if (!strstr(document, row))
        fail_msg("docs/scenarios.md lacks: %s", row);
}

static void add_number_row(es_text *row, const es_scenario_key *key)
{
    es_scenario defaults = es_scenario_defaults();
    double value = *es_scenario_number(&defaults, key);
    int level = key->kind == ES_KEY_LEVEL;
    es_text_add(row, " %s | ", key->unit);
    es_decimal_write(row, key->low, 0);
    es_text_add(row, " to ");
    es_decimal_write(row, key->high, 0);
    es_text_add(row, level ? ", none | " : " | ");
    if (level && value == key->none)
        es_text_add(row, "none");
    else
        es_decimal_write(row, value, key->shift);
    es_text_add(row, " |");
}

static void the_document_lists_every_key(void **state)
{
    (void)state;
    read_document();
    for (size_t i = 0; i < es_scenario_key_count(); i++) {
        const es_scenario_key *key = es_scenario_key_at(i);
        char room[200];
        es_text row = es_text_over(room, sizeof room);
        es_text_add(&row, "\n| `%s` |", key->name);
        if (key->kind == ES_KEY_NUMBER || key->kind == ES_KEY_LEVEL)
            add_number_row(&row, key);
        the_document_has_row(room);
    }
}

static void the_document_lists_every_builtin(void **state)
{
    (void)state;
    read_document();
    for (size_t i = 0; i < es_scenario_builtin_count(); i++) {
        char room[300];
        es_text row = es_text_over(room, sizeof room);
        es_text_add(&row, "\n| `%s` | %s |\n", es_scenario_builtin_name(i),
                    es_scenario_builtin_about(i));
        the_document_has_row(room);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_numbers_as_the_c_library_does),
        cmocka_unit_test(reads_nothing_that_is_no_number),
        cmocka_unit_test(moves_the_point_without_rounding_twice),
        cmocka_unit_test(writes_numbers_that_read_back_exactly),
        cmocka_unit_test(writes_numbers_for_people),
        cmocka_unit_test(every_builtin_scenario_can_be_played),
        cmocka_unit_test(builtin_names_differ),
        cmocka_unit_test(an_unknown_name_is_an_error),
        cmocka_unit_test(an_empty_text_is_the_flawless_deck),
        cmocka_unit_test(reads_every_kind_of_setting),
        cmocka_unit_test(starts_from_a_builtin_scenario),
        cmocka_unit_test(writes_what_it_reads),
        cmocka_unit_test(writing_needs_room),
        cmocka_unit_test(says_where_a_text_is_wrong),
        cmocka_unit_test(counts_columns_in_characters),
        cmocka_unit_test(a_zero_byte_is_no_end_of_text),
        cmocka_unit_test(refuses_settings_out_of_range),
        cmocka_unit_test(refuses_rates_that_do_not_suit),
        cmocka_unit_test(the_document_lists_every_key),
        cmocka_unit_test(the_document_lists_every_builtin),
    };
    return cmocka_run_group_tests_name("tape/scenario", tests, NULL, NULL);
}
