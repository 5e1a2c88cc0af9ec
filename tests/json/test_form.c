#include "cm.h"

#include "json/form.h"

#include <math.h>
#include <string.h>

static es_error error;

static es_form *form_of(const char *text)
{
    es_form *form;
    error = (es_error){0};
    assert_int_equal(es_form_read(text, strlen(text), &form, &error), ES_OK);
    return form;
}

static void reads_what_is_there_and_leaves_what_is_not(void **state)
{
    (void)state;
    es_form *form = form_of("{\"turns\": -0.25, \"name\": \"deck\", \"unknown\": null}");
    double turns = 7.0, other = 7.0, unknown = 7.0;
    char name[8] = "", absent[8] = "as is";
    assert_int_equal(es_form_number(form, "turns", &turns, &error), ES_OK);
    assert_int_equal(es_form_number(form, "other", &other, &error), ES_OK);
    assert_int_equal(es_form_number(form, "unknown", &unknown, &error), ES_OK);
    assert_int_equal(es_form_text(form, "name", name, sizeof name, &error), ES_OK);
    assert_int_equal(es_form_text(form, "absent", absent, sizeof absent, &error), ES_OK);
    assert_near(turns, -0.25, 0.0);
    assert_near(other, 7.0, 0.0);
    assert_true(isnan(unknown));
    assert_string_equal(name, "deck");
    assert_string_equal(absent, "as is");
    assert_true(es_form_has(form, "turns"));
    assert_false(es_form_has(form, "unknown"));
    assert_int_equal(es_form_end(form, &error), ES_OK);
    es_form_destroy(form);
}

static void reads_true_and_false_and_nothing_else_as_a_truth(void **state)
{
    (void)state;
    es_form *form = form_of("{\"a\": true, \"b\": false, \"c\": null, \"d\": 1, \"e\": \"true\"}");
    int a = 0, b = 1, c = 1, d = 7, absent = 7;
    assert_int_equal(es_form_truth(form, "a", &a, &error), ES_OK);
    assert_int_equal(es_form_truth(form, "b", &b, &error), ES_OK);
    assert_int_equal(es_form_truth(form, "c", &c, &error), ES_OK);
    assert_int_equal(es_form_truth(form, "absent", &absent, &error), ES_OK);
    assert_int_equal(a, 1);
    assert_int_equal(b, 0);
    assert_int_equal(c, 0);
    assert_int_equal(absent, 7);
    assert_int_equal(es_form_truth(form, "d", &d, NULL), ES_ERR_INPUT);
    assert_int_equal(es_form_truth(form, "e", &d, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "wrong-kind");
    assert_int_equal(d, 7);
    es_form_destroy(form);
}

static void refuses_what_was_never_asked_for(void **state)
{
    (void)state;
    es_form *form = form_of("{\"turns\": 1, \"trun\": 1}");
    double turns;
    es_form_number(form, "turns", &turns, &error);
    assert_int_equal(es_form_end(form, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "unknown-key");
    assert_non_null(strstr(error.text, "trun"));
    es_form_destroy(form);
}

static void refuses_the_wrong_kind(void **state)
{
    (void)state;
    es_form *form = form_of("{\"a\": \"1\", \"b\": 1, \"c\": true, \"d\": [1]}");
    double number = 7.0;
    char text[8] = "";
    assert_int_equal(es_form_number(form, "a", &number, NULL), ES_ERR_INPUT);
    assert_int_equal(es_form_text(form, "b", text, sizeof text, NULL), ES_ERR_INPUT);
    assert_int_equal(es_form_number(form, "c", &number, NULL), ES_ERR_INPUT);
    assert_int_equal(es_form_text(form, "d", text, sizeof text, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "wrong-kind");
    assert_near(number, 7.0, 0.0);
    es_form_destroy(form);
}

static void never_cuts_a_text(void **state)
{
    (void)state;
    es_form *form = form_of("{\"a\": \"1234567\", \"b\": \"12345678\"}");
    char text[8] = "";
    assert_int_equal(es_form_text(form, "a", text, sizeof text, &error), ES_OK);
    assert_string_equal(text, "1234567");
    assert_int_equal(es_form_text(form, "b", text, sizeof text, &error), ES_ERR_INPUT);
    assert_string_equal(error.code, "too-long");
    assert_string_equal(text, "1234567");
    es_form_destroy(form);
}

/* Malformed JSON: RFC 8259. Also what a parser must survive rather than understand. */
static void refuses_what_is_not_json(void **state)
{
    (void)state;
    static char deep[100001];
    memset(deep, '[', sizeof deep - 1);
    const char *const broken[] = {"",
                                  "{",
                                  "{\"a\": }",
                                  "{\"a\": 1,}",
                                  "nonsense",
                                  "{\"a\": 1}x",
                                  "{\"a\": 1, \"a\": 2}",
                                  "{\"a\": 1e999}",
                                  "{\"a\": \"\xff\"}",
                                  "{\"a\": \"\\u0000\"}",
                                  "{a: 1}",
                                  deep};
    es_form *form;
    for (size_t i = 0; i < COUNT(broken); i++) {
        error = (es_error){0};
        assert_int_equal(es_form_read(broken[i], strlen(broken[i]), &form, &error), ES_ERR_INPUT);
        assert_null(form);
        assert_string_equal(error.code, "not-json");
    }
    static const char *const others[] = {"[]", "[1]"};
    for (size_t i = 0; i < COUNT(others); i++) {
        error = (es_error){0};
        assert_int_equal(es_form_read(others[i], strlen(others[i]), &form, &error), ES_ERR_INPUT);
        assert_string_equal(error.code, "not-an-object");
    }
}

static void reads_no_further_than_told(void **state)
{
    (void)state;
    es_form *form;
    assert_int_equal(es_form_read("{\"a\": 1}garbage", 8, &form, NULL), ES_OK);
    es_form_destroy(form);
    es_form_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_what_is_there_and_leaves_what_is_not),
        cmocka_unit_test(reads_true_and_false_and_nothing_else_as_a_truth),
        cmocka_unit_test(refuses_what_was_never_asked_for),
        cmocka_unit_test(refuses_the_wrong_kind),
        cmocka_unit_test(never_cuts_a_text),
        cmocka_unit_test(refuses_what_is_not_json),
        cmocka_unit_test(reads_no_further_than_told),
    };
    return cmocka_run_group_tests_name("json/form", tests, NULL, NULL);
}
