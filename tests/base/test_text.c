#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "evenspool/base/error.h"
#include "evenspool/base/notes.h"
#include "evenspool/base/text.h"

static void appends_until_the_room_is_used(void **state)
{
    (void)state;
    char room[8];
    es_text t = es_text_over(room, sizeof room);
    es_text_add(&t, "%d", 1234);
    assert_string_equal(room, "1234");
    assert_false(t.cut);
    es_text_add(&t, "56789");
    assert_string_equal(room, "1234567");
    assert_true(t.cut);
}

/* "é" is two bytes in UTF-8 (RFC 3629): half of it must not stay. */
static void never_cuts_inside_a_character(void **state)
{
    (void)state;
    char room[4];
    es_text t = es_text_over(room, sizeof room);
    es_text_add(&t, "ab\xC3\xA9");
    assert_string_equal(room, "ab");
    assert_true(t.cut);
}

static void keeps_the_first_error(void **state)
{
    (void)state;
    es_error e = {0};
    assert_int_equal(es_fail(&e, ES_ERR_IO, "gone", "The file %s is gone.", "x"), ES_ERR_IO);
    es_fail(&e, ES_ERR_ARG, "other", "Second.");
    assert_string_equal(e.code, "gone");
    assert_string_equal(e.text, "The file x is gone.");
    assert_int_equal(es_fail(NULL, ES_ERR_ARG, "x", "y"), ES_ERR_ARG);
}

static void notes_neither_repeat_nor_overflow(void **state)
{
    (void)state;
    es_notes notes = {0};
    es_notes_add(&notes, "twice", "One.");
    es_notes_add(&notes, "twice", "Two.");
    assert_int_equal(notes.count, 1);
    assert_string_equal(es_notes_find(&notes, "twice")->text, "One.");
    for (int i = 0; i < 2 * ES_NOTES_MOST; i++) {
        char code[8] = {(char)('a' + i), 0};
        es_notes_add(&notes, code, "x");
    }
    assert_int_equal(notes.count, ES_NOTES_MOST);
    assert_null(es_notes_find(&notes, "none"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(appends_until_the_room_is_used),
        cmocka_unit_test(never_cuts_inside_a_character),
        cmocka_unit_test(keeps_the_first_error),
        cmocka_unit_test(notes_neither_repeat_nor_overflow),
    };
    return cmocka_run_group_tests_name("base/text", tests, NULL, NULL);
}
