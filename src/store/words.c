#include "store/words.h"

#include <string.h>

/* --- UTF-8 ------------------------------------------------------------------------------------ */

typedef struct utf8_row {
    unsigned char first, last; /* lead byte                  */
    unsigned char low, high;   /* second byte, if any        */
    int more;                  /* bytes after the lead byte  */
} utf8_row;

/* The rows of Unicode's table 3-7: no overlong form, no surrogate, nothing above U+10FFFF. */
static const utf8_row utf8_rows[] = {
    {0x01, 0x7F, 0x00, 0x00, 0}, {0xC2, 0xDF, 0x80, 0xBF, 1}, {0xE0, 0xE0, 0xA0, 0xBF, 2},
    {0xE1, 0xEC, 0x80, 0xBF, 2}, {0xED, 0xED, 0x80, 0x9F, 2}, {0xEE, 0xEF, 0x80, 0xBF, 2},
    {0xF0, 0xF0, 0x90, 0xBF, 3}, {0xF1, 0xF3, 0x80, 0xBF, 3}, {0xF4, 0xF4, 0x80, 0x8F, 3},
};

/* Bytes of the well-formed character at `at`; 0: there is none. */
static int character(const unsigned char *at)
{
    for (size_t i = 0; i < sizeof utf8_rows / sizeof *utf8_rows; i++) {
        const utf8_row *row = &utf8_rows[i];
        if (at[0] < row->first || at[0] > row->last)
            continue;
        if (row->more > 0 && (at[1] < row->low || at[1] > row->high))
            return 0;
        for (int k = 2; k <= row->more; k++)
            if ((at[k] & 0xC0) != 0x80)
                return 0;
        return row->more + 1;
    }
    return 0;
}

int es_words_utf8(const char *text)
{
    const unsigned char *at = (const unsigned char *)text;
    while (*at) {
        int bytes = character(at);
        if (bytes == 0)
            return 0;
        at += bytes;
    }
    return 1;
}

/* --- lines and words -------------------------------------------------------------------------- */

int es_words_one_line(const char *text)
{
    int seen = 0;
    for (const unsigned char *at = (const unsigned char *)text; *at; at++) {
        if (*at < 0x20 || *at == 0x7F)
            return 0;
        if (*at == 0xC2 && at[1] >= 0x80 && at[1] <= 0x9F) /* U+0080 .. U+009F */
            return 0;
        seen |= *at != ' ';
    }
    return seen;
}

static int consists_of(const char *text, const char *letters)
{
    return text[strspn(text, letters)] == '\0';
}

int es_words_key(const char *text)
{
    return consists_of(text, "abcdefghijklmnopqrstuvwxyz0123456789./_-");
}

int es_words_sha256(const char *text)
{
    return strlen(text) == 64 && consists_of(text, "0123456789abcdef");
}

/* --- times ------------------------------------------------------------------------------------ */

/* Text against a pattern in which 0 stands for a digit and all else for itself. */
static int looks_like(const char *text, const char *pattern)
{
    if (strlen(text) != strlen(pattern))
        return 0;
    for (size_t i = 0; pattern[i]; i++) {
        int digit = text[i] >= '0' && text[i] <= '9';
        if (pattern[i] == '0' ? !digit : text[i] != pattern[i])
            return 0;
    }
    return 1;
}

static int number_at(const char *text, int digits)
{
    int value = 0;
    for (int i = 0; i < digits; i++)
        value = value * 10 + (text[i] - '0');
    return value;
}

static int days_in(int year, int month)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    int leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    return days[month - 1] + (month == 2 && leap);
}

static int is_a_day(const char *text)
{
    int year = number_at(text, 4), month = number_at(text + 5, 2), day = number_at(text + 8, 2);
    return year >= 1 && month >= 1 && month <= 12 && day >= 1 && day <= days_in(year, month);
}

int es_words_time(const char *text)
{
    if (looks_like(text, "0000-00-00"))
        return is_a_day(text);
    return looks_like(text, "0000-00-00T00:00:00Z") && is_a_day(text) &&
           number_at(text + 11, 2) < 24 && number_at(text + 14, 2) < 60 &&
           number_at(text + 17, 2) <= 60; /* 60: a leap second */
}
