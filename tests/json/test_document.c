#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "json/document.h"
#include "json/utf8.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void prints(const es_json *json, const char *expected)
{
    char *text;
    assert_int_equal(es_json_print(json, 0, &text), ES_OK);
    assert_string_equal(text, expected);
    free(text);
}

static void keeps_the_order_of_keys(void **state)
{
    (void)state;
    es_json *json;
    assert_int_equal(es_json_create(&json), ES_OK);
    es_json_part *root = es_json_root(json);
    es_json_text(json, root, "zebra", "last of all");
    es_json_count(json, root, "ant", INT64_C(9007199254740993));
    es_json_part *list = es_json_array(json, root, "middle");
    es_json_truth(json, list, NULL, 1);
    es_json_truth(json, list, NULL, 0);
    es_json_null(json, es_json_object(json, list, NULL), "b");
    es_json_text(json, root, "a", NULL);
    prints(json, "{\"zebra\": \"last of all\", \"ant\": 9007199254740993, "
                 "\"middle\": [true, false, {\"b\": null}], \"a\": null}");
    es_json_destroy(json);
}

static void prints_what_is_not_finite_as_null(void **state)
{
    (void)state;
    static const double values[] = {(double)NAN, HUGE_VAL, -HUGE_VAL};
    for (size_t i = 0; i < 3; i++) {
        es_json *json;
        assert_int_equal(es_json_create(&json), ES_OK);
        es_json_number(json, es_json_root(json), "x", values[i]);
        prints(json, "{\"x\": null}");
        es_json_destroy(json);
    }
}

static void prints_nine_digits_of_a_number(void **state)
{
    (void)state;
    static const struct {
        double value;
        const char *text;
    } numbers[] = {{-1.2345678901, "{\"x\": -1.23456789}"},
                   {0.0, "{\"x\": 0.0}"},
                   {-0.0, "{\"x\": 0.0}"},
                   {3150.0, "{\"x\": 3150.0}"},
                   {1e-12, "{\"x\": 1e-12}"},
                   {123456789.4, "{\"x\": 123456789.0}"}};
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        es_json *json;
        assert_int_equal(es_json_create(&json), ES_OK);
        es_json_number(json, es_json_root(json), "x", numbers[i].value);
        prints(json, numbers[i].text);
        es_json_destroy(json);
    }
}

/*
 * What is well-formed and what is not: RFC 3629 section 4 (the syntax of UTF-8) and section 3
 * (surrogates, overlong forms). U+FFFD is EF BF BD.
 */
static void cleans_what_is_no_utf_8(void **state)
{
    (void)state;
#define R "\xEF\xBF\xBD"
    static const struct {
        const char *in, *out;
    } texts[] = {
        {"plain.wav", "plain.wav"},
        {"", ""},
        {"gr\xC3\xBC\xC3\x9F", "gr\xC3\xBC\xC3\x9F"},
        {"\xE2\x82\xAC \xF0\x9F\x8E\xB5 \xF4\x8F\xBF\xBF",
         "\xE2\x82\xAC \xF0\x9F\x8E\xB5 \xF4\x8F\xBF\xBF"},
        {"gr\xFC\xDF.wav", "gr" R R ".wav"}, /* another coding of the same letters */
        {"\xC0\xAF", R R},                   /* overlong                           */
        {"\xE0\x80\xAF", R R R},             /* overlong                           */
        {"\xF0\x80\x80\xAF", R R R R},       /* overlong                           */
        {"\xED\xA0\x80", R R R},             /* surrogate                          */
        {"\xF4\x90\x80\x80", R R R R},       /* beyond U+10FFFF                    */
        {"a\x80z", "a" R "z"},               /* continues nothing                  */
        {"cut \xE2\x82", "cut " R R},        /* ends in the middle                 */
        {"\xC3(", R "("},                    /* not continued                      */
        {"\xEF\xBF\xBE", "\xEF\xBF\xBE"},    /* a noncharacter is well-formed      */
    };
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        char *clean = es_utf8_clean(texts[i].in);
        assert_string_equal(clean, texts[i].out);
        free(clean);
    }
}

static void takes_any_text_into_a_document(void **state)
{
    (void)state;
    es_json *json;
    assert_int_equal(es_json_create(&json), ES_OK);
    es_json_text(json, es_json_root(json), "file", "a\"b\\c\n\x01\xFF.wav");
    prints(json, "{\"file\": \"a\\\"b\\\\c\\n\\u0001\xEF\xBF\xBD.wav\"}");
    es_json_destroy(json);
    es_json_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keeps_the_order_of_keys),
        cmocka_unit_test(prints_what_is_not_finite_as_null),
        cmocka_unit_test(prints_nine_digits_of_a_number),
        cmocka_unit_test(cleans_what_is_no_utf_8),
        cmocka_unit_test(takes_any_text_into_a_document),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
