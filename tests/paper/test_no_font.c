/* Run with a fontconfig that knows no font (see meson.build). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "paper/picture.h"
#include "samples.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static es_check_result result;

static void says_that_there_is_no_font_and_leaves_no_file(void **state)
{
    (void)state;
    static const char *const names[] = {"picture.png", "picture.svg", "picture.pdf"};
    char folder[] = "/tmp/es-paper-XXXXXX", path[64];
    assert_non_null(mkdtemp(folder));
    sample_fill(SAMPLE_SLOW, &result);
    for (size_t i = 0; i < 3; i++) {
        es_error error = {0};
        snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        assert_int_equal(es_picture_draw(&result, "deck", path, &error), ES_ERR_IO);
        assert_string_equal(error.code, "no-font");
        assert_non_null(strstr(error.text, "DejaVu"));
    }
    assert_int_equal(rmdir(folder), 0); /* empty: nothing was left behind */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(says_that_there_is_no_font_and_leaves_no_file),
    };
    return cmocka_run_group_tests_name("paper/no_font", tests, NULL, NULL);
}
