#include "tape/number.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define DIGITS_KEPT 19       /* as many as 64 bits always hold            */
#define EXPONENT_MOST 100000 /* beyond the reach of any double            */

static int is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static void take_digit(es_decimal *d, int *kept, char c, int after_point)
{
    if (*kept < DIGITS_KEPT) {
        d->digits = d->digits * 10 + (uint64_t)(c - '0');
        *kept += d->digits > 0; /* leading zeros cost nothing */
        d->exponent -= after_point;
    } else if (!after_point && d->exponent < EXPONENT_MOST) {
        d->exponent++;
    }
}

/* The part from 'e' on; 0 when it is not an exponent. */
static size_t read_exponent(const char *text, size_t length, int *out)
{
    size_t at = 1;
    int negative = 0, value = 0;
    if (length == 0 || (text[0] != 'e' && text[0] != 'E'))
        return 0;
    if (at < length && (text[at] == '+' || text[at] == '-'))
        negative = text[at++] == '-';
    size_t first = at;
    for (; at < length && is_digit(text[at]); at++)
        if (value < EXPONENT_MOST)
            value = value * 10 + (text[at] - '0');
    *out = negative ? -value : value;
    return at > first ? at : 0;
}

size_t es_decimal_read(const char *text, size_t length, es_decimal *out)
{
    es_decimal d = {0};
    size_t at = 0;
    int kept = 0, seen = 0, power = 0;
    if (at < length && (text[at] == '+' || text[at] == '-'))
        d.negative = text[at++] == '-';
    for (; at < length && is_digit(text[at]); at++, seen++)
        take_digit(&d, &kept, text[at], 0);
    if (at < length && text[at] == '.' && (seen || (at + 1 < length && is_digit(text[at + 1]))))
        for (at++; at < length && is_digit(text[at]); at++, seen++)
            take_digit(&d, &kept, text[at], 1);
    if (!seen)
        return 0;
    at += read_exponent(text + at, length - at, &power);
    d.exponent += power;
    *out = d;
    return at;
}

double es_decimal_value(es_decimal d, int shift)
{
    /* Exact in the 64-bit mantissa of a long double up to 10^27: a single rounding then. */
    long double value = (long double)d.digits, power = 1.0L;
    int exponent = d.exponent + shift;
    if (d.digits == 0)
        return d.negative ? -0.0 : 0.0;
    int size = exponent < 0 ? -exponent : exponent;
    for (int i = 0; i < size && i < 800; i++)
        power *= 10.0L;
    value = exponent < 0 ? value / power : value * power;
    return (double)(d.negative ? -value : value);
}

/* Digits and exponent of value, rounded to `count` digits. */
static es_decimal rounded(double value, int count)
{
    char text[64];
    es_decimal d = {.negative = signbit(value) != 0};
    snprintf(text, sizeof text, "%.*e", count - 1, fabs(value));
    const char *c = text;
    for (; *c && *c != 'e'; c++)
        if (is_digit(*c)) /* skips the point, whichever it is */
            d.digits = d.digits * 10 + (uint64_t)(*c - '0');
    int power = 0;
    read_exponent(c, strlen(c), &power);
    d.exponent = power - (count - 1);
    return d;
}

static void write_zeros(es_text *text, int count)
{
    for (int i = 0; i < count; i++)
        es_text_add(text, "0");
}

void es_decimal_write(es_text *text, double value, int shift)
{
    es_decimal d = rounded(value, 1);
    for (int count = 2; count <= 17 && es_decimal_value(d, 0) != value; count++)
        d = rounded(value, count);
    char digits[24];
    snprintf(digits, sizeof digits, "%llu", (unsigned long long)d.digits);
    int exponent = d.digits ? d.exponent - shift : 0, length = (int)strlen(digits);
    int before = length + exponent; /* digits before the point */
    es_text_add(text, "%s", d.negative ? "-" : "");
    if (exponent > 6 || before < -6) {
        es_text_add(text, "%se%d", digits, exponent);
    } else if (exponent >= 0) {
        es_text_add(text, "%s", digits);
        write_zeros(text, exponent);
    } else if (before > 0) {
        es_text_add(text, "%.*s.%s", before, digits, digits + before);
    } else {
        es_text_add(text, "0.");
        write_zeros(text, -before);
        es_text_add(text, "%s", digits);
    }
}
