#include "command/big.h"

#include <string.h>

#define WIDE 5 /* dots of a letter */

/* Five dots a line, the leftmost in the highest of five bits. */
typedef struct letter {
    char of;
    unsigned char lines[ES_BIG_LINES];
} letter;

static const letter letters[] = {
    {'0', {14, 17, 17, 17, 17, 17, 14}}, {'1', {4, 12, 4, 4, 4, 4, 14}},
    {'2', {14, 17, 1, 2, 4, 8, 31}},     {'3', {14, 17, 1, 6, 1, 17, 14}},
    {'4', {2, 6, 10, 18, 31, 2, 2}},     {'5', {31, 16, 30, 1, 1, 17, 14}},
    {'6', {14, 16, 16, 30, 17, 17, 14}}, {'7', {31, 1, 2, 4, 4, 8, 8}},
    {'8', {14, 17, 17, 14, 17, 17, 14}}, {'9', {14, 17, 17, 15, 1, 1, 14}},
    {'+', {0, 4, 4, 31, 4, 4, 0}},       {'-', {0, 0, 0, 31, 0, 0, 0}},
    {'A', {14, 17, 17, 31, 17, 17, 17}}, {'B', {30, 17, 17, 30, 17, 17, 30}},
    {'C', {14, 17, 16, 16, 16, 17, 14}}, {'D', {30, 17, 17, 17, 17, 17, 30}},
    {'E', {31, 16, 16, 30, 16, 16, 31}}, {'F', {31, 16, 16, 30, 16, 16, 16}},
    {'G', {14, 17, 16, 23, 17, 17, 14}}, {'H', {17, 17, 17, 31, 17, 17, 17}},
    {'I', {14, 4, 4, 4, 4, 4, 14}},      {'K', {17, 18, 20, 24, 20, 18, 17}},
    {'L', {16, 16, 16, 16, 16, 16, 31}}, {'M', {17, 27, 21, 21, 17, 17, 17}},
    {'N', {17, 25, 21, 19, 17, 17, 17}}, {'O', {14, 17, 17, 17, 17, 17, 14}},
    {'P', {30, 17, 17, 30, 16, 16, 16}}, {'R', {30, 17, 17, 30, 20, 18, 17}},
    {'S', {15, 16, 16, 14, 1, 1, 30}},   {'T', {31, 4, 4, 4, 4, 4, 4}},
    {'U', {17, 17, 17, 17, 17, 17, 14}}, {'V', {17, 17, 17, 17, 17, 10, 4}},
    {'W', {17, 17, 17, 21, 21, 27, 17}}, {'Y', {17, 17, 10, 4, 4, 4, 4}},
};

static unsigned dots_of(char of, int line)
{
    for (size_t i = 0; i < sizeof letters / sizeof *letters; i++)
        if (letters[i].of == of)
            return letters[i].lines[line];
    return 0;
}

/* A point is narrow; everything has a blank column after it. */
static int dots_wide(const char *text)
{
    int wide = 0;
    for (; *text; text++)
        wide += *text == '.' ? 2 : WIDE + 1;
    return wide > 0 ? wide - 1 : 0;
}

static int scale_of(const char *text, int columns)
{
    int wide = dots_wide(text);
    return 2 * wide <= columns ? 2 : wide <= columns;
}

int es_big_columns(const char *text, int columns)
{
    return scale_of(text, columns) * dots_wide(text);
}

static void put(es_text *out, int on, int scale, const char *dot)
{
    for (int i = 0; i < scale; i++)
        es_text_add(out, "%s", on ? dot : " ");
}

void es_big_line(es_text *out, const char *text, int line, int columns, const char *dot)
{
    int scale = scale_of(text, columns);
    for (; scale > 0 && *text; text++) {
        if (*text == '.') {
            put(out, line == ES_BIG_LINES - 1, scale, dot);
        } else {
            unsigned dots = dots_of(*text, line);
            for (int bit = WIDE - 1; bit >= 0; bit--)
                put(out, (int)(dots >> bit & 1u), scale, dot);
        }
        if (text[1])
            put(out, 0, scale, dot);
    }
}
