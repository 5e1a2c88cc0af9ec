#include "cm.h"

#include "json/locate.h"

#include <string.h>

/* The text, with the place that is looked for marked by ^ under its line. */
static const char text[] = "{\n"
                           "  \"a\": [10, {\"deep\" : \"x]}\\\"\", \"b\": [ ]}, -3.5e2],\n"
                           "  \"\xC3\xA4\": {}, \"long\": true,\n"
                           "\t\"last\": [[1, 2], [3, {\"z\": null}]]}";

static void stands_at(size_t line, size_t column, size_t depth, es_json_path path, int at_key)
{
    es_json_spot spot = es_json_locate(text, strlen(text), &path, at_key);
    if (spot.line != line || spot.column != column || spot.depth != depth)
        fail_msg("line %zu column %zu depth %zu, expected %zu %zu %zu", spot.line, spot.column,
                 spot.depth, line, column, depth);
}

#define KEY(name)                                                                                  \
    {                                                                                              \
        .key = name                                                                                \
    }
#define AT(number)                                                                                 \
    {                                                                                              \
        .index = number                                                                            \
    }

static void finds_values_by_their_path(void **state)
{
    (void)state;
    stands_at(1, 1, 0, (es_json_path){0}, 0);
    stands_at(2, 8, 1, (es_json_path){1, {KEY("a")}}, 0);
    stands_at(2, 9, 2, (es_json_path){2, {KEY("a"), AT(0)}}, 0);
    stands_at(2, 13, 2, (es_json_path){2, {KEY("a"), AT(1)}}, 0);
    stands_at(2, 23, 3, (es_json_path){3, {KEY("a"), AT(1), KEY("deep")}}, 0);
    stands_at(2, 37, 3, (es_json_path){3, {KEY("a"), AT(1), KEY("b")}}, 0);
    stands_at(2, 43, 2, (es_json_path){2, {KEY("a"), AT(2)}}, 0);
    stands_at(4, 29, 4, (es_json_path){4, {KEY("last"), AT(1), AT(1), KEY("z")}}, 0);
}

static void a_letter_of_two_bytes_is_one_column(void **state)
{
    (void)state;
    stands_at(3, 8, 1, (es_json_path){1, {KEY("\xC3\xA4")}}, 0);
    stands_at(3, 20, 1, (es_json_path){1, {KEY("long")}}, 0);
}

static void finds_the_key_itself(void **state)
{
    (void)state;
    stands_at(3, 12, 1, (es_json_path){1, {KEY("long")}}, 1);
    stands_at(2, 14, 3, (es_json_path){3, {KEY("a"), AT(1), KEY("deep")}}, 1);
    stands_at(2, 13, 2, (es_json_path){2, {KEY("a"), AT(1)}}, 1); /* elements have none */
}

static void stops_where_the_path_leaves_the_text(void **state)
{
    (void)state;
    stands_at(1, 1, 0, (es_json_path){1, {KEY("none")}}, 0);
    stands_at(2, 8, 1, (es_json_path){2, {KEY("a"), AT(3)}}, 0);
    stands_at(2, 13, 2, (es_json_path){3, {KEY("a"), AT(1), KEY("c")}}, 0);
    stands_at(2, 37, 3, (es_json_path){4, {KEY("a"), AT(1), KEY("b"), AT(0)}}, 0);
    stands_at(3, 20, 1, (es_json_path){2, {KEY("long"), AT(0)}}, 0);
}

/* Cut anywhere, it stays within its bytes (a sanitizer watches). */
static void a_broken_text_is_walked_without_harm(void **state)
{
    (void)state;
    const es_json_path path = {4, {KEY("last"), AT(1), AT(1), KEY("z")}};
    for (size_t length = 0; length <= strlen(text); length++) {
        char cut[sizeof text];
        memcpy(cut, text, length);
        es_json_spot spot = es_json_locate(cut, length, &path, 1);
        assert_true(spot.line >= 1 && spot.line <= 4 && spot.depth <= 4);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_values_by_their_path),
        cmocka_unit_test(a_letter_of_two_bytes_is_one_column),
        cmocka_unit_test(finds_the_key_itself),
        cmocka_unit_test(stops_where_the_path_leaves_the_text),
        cmocka_unit_test(a_broken_text_is_walked_without_harm),
    };
    return cmocka_run_group_tests_name("json/locate", tests, NULL, NULL);
}
