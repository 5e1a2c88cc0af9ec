#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "command/options.h"
#include "command/verb.h"
#include "near.h"

#include <ctype.h>
#include <string.h>

enum { SPEED, MODE, NAME, QUIET, OUT, OPTIONS };

static const es_option table[OPTIONS] = {
    [SPEED] = {"speed", 0, ES_OPTION_NUMBER, "PERCENT", "Speed.", -10.0, 10.0, NULL},
    [MODE] = {"mode", 0, ES_OPTION_CHOICE, "MODE", "Mode.", 0.0, 0.0, "auto|always|never"},
    [NAME] = {"name", 0, ES_OPTION_WORD, "NAME", "Name.", 0.0, 0.0, NULL},
    [QUIET] = {"quiet", 'q', ES_OPTION_FLAG, NULL, "Quiet.", 0.0, 0.0, NULL},
    [OUT] = {"out", 'o', ES_OPTION_FILE, "FILE", "Out.", 0.0, 0.0, NULL},
};

#define WORDS_MOST 8

static es_status read_words(const char *const *words, es_arguments *out, es_error *error)
{
    static char *argv[WORDS_MOST + 1];
    int argc = 0;
    for (; words[argc]; argc++)
        argv[argc] = (char *)words[argc];
    return es_options_read(table, OPTIONS, argc, argv, out, error);
}

static void reads(const char *const *words, es_arguments *out)
{
    es_error error = {0};
    if (read_words(words, out, &error) != ES_OK)
        fail_msg("%s", error.text);
}

static void refuses(const char *const *words, const char *part_of_the_sentence)
{
    es_arguments out;
    es_error error = {0};
    assert_int_equal(read_words(words, &out, &error), ES_ERR_ARG);
    assert_string_equal(error.code, "usage");
    if (!strstr(error.text, part_of_the_sentence))
        fail_msg("\"%s\" does not say \"%s\"", error.text, part_of_the_sentence);
}

#define WORDS(...) ((const char *const[]){__VA_ARGS__, NULL})

static void reads_values_joined_and_apart(void **state)
{
    (void)state;
    es_arguments a;
    reads(WORDS("--speed=-0.5", "one", "--mode", "never", "two", "-q", "-ofile"), &a);
    assert_near(a.values[SPEED].number, -0.5, 0.0);
    assert_string_equal(a.values[MODE].text, "never");
    assert_true(a.values[QUIET].given);
    assert_string_equal(a.values[OUT].text, "file");
    assert_false(a.values[NAME].given);
    assert_int_equal(a.operand_count, 2);
    assert_string_equal(a.operands[0], "one");
    assert_string_equal(a.operands[1], "two");

    reads(WORDS("--speed", "-0.5", "-o", "-", "--name=a=b"), &a);
    assert_near(a.values[SPEED].number, -0.5, 0.0);
    assert_string_equal(a.values[OUT].text, "-");
    assert_string_equal(a.values[NAME].text, "a=b");
    assert_true(isnan(a.values[NAME].number));
}

static void ends_options_at_two_dashes(void **state)
{
    (void)state;
    es_arguments a;
    reads(WORDS("-q", "--", "--speed", "-", "-x"), &a);
    assert_int_equal(a.operand_count, 3);
    assert_string_equal(a.operands[0], "--speed");
    assert_string_equal(a.operands[2], "-x");
    assert_false(a.values[SPEED].given);
}

static void takes_a_single_dash_for_an_operand(void **state)
{
    (void)state;
    es_arguments a;
    reads(WORDS("-"), &a);
    assert_int_equal(a.operand_count, 1);
}

static void counts_the_last_of_several(void **state)
{
    (void)state;
    es_arguments a;
    reads(WORDS("--speed", "1", "--speed=2"), &a);
    assert_near(a.values[SPEED].number, 2.0, 0.0);
}

static void knows_help_everywhere(void **state)
{
    (void)state;
    es_arguments a;
    reads(WORDS("--help"), &a);
    assert_true(a.help);
    reads(WORDS("x", "-h"), &a);
    assert_true(a.help);
}

static void says_what_is_wrong(void **state)
{
    (void)state;
    refuses(WORDS("--sped=1"), "did you mean --speed?");
    refuses(WORDS("--hepl"), "did you mean --help?");
    refuses(WORDS("--nothing-like-it"), "no option --nothing-like-it;");
    refuses(WORDS("-x"), "no option -x;");
    refuses(WORDS("--speed"), "--speed wants a value: --speed PERCENT");
    refuses(WORDS("--speed", "--quiet"), "--speed wants a value");
    refuses(WORDS("--speed=11"), "from -10 to 10");
    refuses(WORDS("--speed=-10.001"), "from -10 to 10");
    refuses(WORDS("--speed=0,4"), "with a point, as in 0.4");
    refuses(WORDS("--speed="), "wants a number");
    refuses(WORDS("--mode=sometimes"), "auto|always|never");
    refuses(WORDS("--mode=aut"), "auto|always|never");
    refuses(WORDS("--mode="), "auto|always|never");
    refuses(WORDS("--mode=auto|always"), "auto|always|never");
    refuses(WORDS("--name="), "not empty");
    refuses(WORDS("--quiet=yes"), "takes no value");
    refuses(WORDS("--help=me"), "no option --help");
    refuses(WORDS("-o"), "wants a value");
}

static void takes_only_plain_decimal_numbers(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int good;
        double value;
    } numbers[] = {{"0", 1, 0.0},    {"+0.25", 1, 0.25}, {"-1e-3", 1, -0.001}, {".5", 1, 0.5},
                   {"5.", 1, 5.0},   {"", 0, 0.0},       {"nan", 0, 0.0},      {"inf", 0, 0.0},
                   {"0x10", 0, 0.0}, {"1e999", 0, 0.0},  {"1 ", 0, 0.0},       {" 1", 0, 0.0},
                   {"1%", 0, 0.0},   {"--1", 0, 0.0},    {"1-1", 0, 0.0},      {"e5", 0, 0.0},
                   {"1,5", 0, 0.0}};
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        double value = 1.0;
        assert_int_equal(es_number_read(numbers[i].text, &value), numbers[i].good);
        if (numbers[i].good)
            assert_near(value, numbers[i].value, 0.0);
        else
            assert_true(isnan(value));
    }
}

static void finds_the_word_that_was_meant(void **state)
{
    (void)state;
    static const char *const words[] = {"check", "rehearse", "help"};
    assert_string_equal(es_nearest_word("chekc", words, 3), "check");
    assert_string_equal(es_nearest_word("check", words, 3), "check");
    assert_string_equal(es_nearest_word("reherse", words, 3), "rehearse");
    assert_string_equal(es_nearest_word("hlep", words, 3), "help");
    assert_null(es_nearest_word("trust", words, 3));
    assert_null(es_nearest_word("", words, 3));
    assert_null(es_nearest_word("x", words, 3));
}

static void assert_sound_option(const es_verb *verb, size_t i)
{
    const es_option *o = &verb->options[i];
    if (!o->name || !o->about)
        fail_msg("%s: option %zu has no name or no text", verb->name, i);
    assert_int_equal(o->value == NULL, o->kind == ES_OPTION_FLAG);
    assert_true(o->about[strlen(o->about) - 1] == '.' && isupper((unsigned char)o->about[0]));
    assert_true(o->kind != ES_OPTION_NUMBER || o->low < o->high);
    assert_true(o->kind != ES_OPTION_CHOICE || o->choices);
    for (size_t k = 0; k < i; k++)
        assert_string_not_equal(verb->options[k].name, o->name);
}

/* The tables themselves: what texts, pages and shells are made from must be whole. */
static void every_verb_has_a_sound_table(void **state)
{
    (void)state;
    const es_verb *verb, *part;
    for (size_t v = 0; (verb = es_verb_at(v)); v++) {
        assert_ptr_equal(es_verb_named(verb->name), verb);
        for (size_t p = 0; (part = es_verb_runnable(verb, p)); p++) {
            assert_true(part->about[0] && part->details[0] && part->run && part->operand_kind);
            assert_true(part->option_count < ES_OPTIONS_MOST);
            assert_true(part->operands_most >= part->operands_least);
            for (size_t i = 0; i < part->option_count; i++)
                assert_sound_option(part, i);
        }
    }
    assert_null(es_verb_named("trim the deck"));
}

/* "deck add": the verb's word, and a word of its own that no other part of it has. */
static void parts_are_found_by_their_words(void **state)
{
    (void)state;
    const es_verb *verb;
    size_t parts = 0;
    for (size_t v = 0; (verb = es_verb_at(v)); v++)
        for (size_t p = 0; verb->parts && verb->parts[p]; p++, parts++) {
            const es_verb *part = verb->parts[p];
            assert_memory_equal(part->name, verb->name, strlen(verb->name));
            assert_int_equal(part->name[strlen(verb->name)], ' ');
            assert_ptr_equal(es_verb_part(verb, es_verb_word(part)), part);
            assert_true(verb->about[0] && verb->details[0] && !verb->run && !part->parts);
        }
    assert_true(parts >= 12);
    assert_null(es_verb_part(es_verb_named("deck"), "trim"));
    assert_null(es_verb_part(es_verb_named("check"), "check"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_values_joined_and_apart),
        cmocka_unit_test(ends_options_at_two_dashes),
        cmocka_unit_test(takes_a_single_dash_for_an_operand),
        cmocka_unit_test(counts_the_last_of_several),
        cmocka_unit_test(knows_help_everywhere),
        cmocka_unit_test(says_what_is_wrong),
        cmocka_unit_test(takes_only_plain_decimal_numbers),
        cmocka_unit_test(finds_the_word_that_was_meant),
        cmocka_unit_test(every_verb_has_a_sound_table),
        cmocka_unit_test(parts_are_found_by_their_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
