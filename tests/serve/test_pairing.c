#include "cm.h"

#include "serve/pairing.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define ADDRESS "http://192.0.2.17:8417/pair/0123456789abcdef0123456789abcdef"
#define MOST 200
#define MARGIN 4

static unsigned char module[MOST][MOST]; /* 1: dark; margin included */
static int side;

/* Reads the modules back from the block characters. */
static void read_text(const char *text)
{
    int x = 0, y = 0;
    memset(module, 0, sizeof module);
    side = 0;
    while (*text) {
        int full = strncmp(text, "\u2588", 3) == 0, upper = strncmp(text, "\u2580", 3) == 0,
            lower = strncmp(text, "\u2584", 3) == 0;
        if (*text == '\n') {
            side = x;
            x = 0;
            y += 2;
            text++;
            continue;
        }
        module[y][x] = (unsigned char)!(full || upper); /* what is drawn is light */
        module[y + 1][x] = (unsigned char)!(full || lower);
        x++;
        text += *text == ' ' ? 1 : 3;
    }
}

static void read_svg(const char *svg)
{
    int x, y;
    memset(module, 0, sizeof module);
    assert_int_equal(sscanf(strstr(svg, "viewBox=\"0 0 "), "viewBox=\"0 0 %d", &side), 1);
    const char *at = strstr(svg, "#000\" d=\"");
    assert_non_null(at);
    while ((at = strchr(at, 'M')) && sscanf(at, "M%d %dh1v1h-1z", &x, &y) == 2) {
        module[y][x] = 1;
        at++;
    }
}

/* ISO/IEC 18004: a finder pattern is 7 x 7, a dark ring around a light ring around 3 x 3 dark. */
static int is_finder(int left, int top)
{
    for (int y = 0; y < 7; y++) {
        for (int x = 0; x < 7; x++) {
            int from_edge_x = x < 3 ? x : 6 - x, from_edge_y = y < 3 ? y : 6 - y;
            int ring = from_edge_x < from_edge_y ? from_edge_x : from_edge_y;
            if (module[top + y][left + x] != (ring != 1))
                return 0;
        }
    }
    return 1;
}

/* ISO/IEC 18004: size 17 + 4 x version, three finders, a timing line, four light modules around. */
static void looks_like_a_code(void)
{
    int width = side - 2 * MARGIN, last = MARGIN + width - 7;
    assert_int_equal((width - 17) % 4, 0);
    assert_true(is_finder(MARGIN, MARGIN));
    assert_true(is_finder(last, MARGIN));
    assert_true(is_finder(MARGIN, last));
    assert_false(is_finder(last, last));
    for (int i = 8; i < width - 8; i++)
        assert_int_equal(module[MARGIN + 6][MARGIN + i], i % 2 == 0);
    for (int i = 0; i < side; i++)
        for (int edge = 0; edge < MARGIN; edge++)
            assert_false(module[edge][i] || module[i][edge] || module[side - 1 - edge][i] ||
                         module[i][side - 1 - edge]);
}

static void draws_a_code_for_the_terminal(void **state)
{
    (void)state;
    char *text;
    assert_int_equal(es_pairing_text(ADDRESS, &text), ES_OK);
    read_text(text);
    looks_like_a_code();
    free(text);
}

static void draws_the_same_code_for_the_page(void **state)
{
    (void)state;
    static unsigned char in_terminal[MOST][MOST];
    char *text, *svg;
    assert_int_equal(es_pairing_text(ADDRESS, &text), ES_OK);
    read_text(text);
    for (int y = 0; y < side; y++) /* an odd last line has half a row too many */
        memcpy(in_terminal[y], module[y], MOST);
    assert_int_equal(es_pairing_svg(ADDRESS, &svg), ES_OK);
    read_svg(svg);
    looks_like_a_code();
    for (int y = 0; y < side; y++)
        assert_memory_equal(module[y], in_terminal[y], (size_t)side);
    free(text);
    free(svg);
}

/* Version 40 holds 2331 bytes at level M (ISO/IEC 18004, table 7). */
static void says_so_when_it_is_too_long(void **state)
{
    (void)state;
    static char address[2400];
    char *text;
    memset(address, 'a', sizeof address - 1);
    assert_int_equal(es_pairing_text(address, &text), ES_ERR_ARG);
    assert_null(text);
    address[2331] = '\0';
    assert_int_equal(es_pairing_svg(address, &text), ES_OK);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(draws_a_code_for_the_terminal),
        cmocka_unit_test(draws_the_same_code_for_the_page),
        cmocka_unit_test(says_so_when_it_is_too_long),
    };
    return cmocka_run_group_tests_name("serve/pairing", tests, NULL, NULL);
}
