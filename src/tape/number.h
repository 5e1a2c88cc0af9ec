/*
 * Decimal numbers in text, whatever the locale. A shift moves the decimal point, so that
 * "1.2" with the unit % (shift -2) becomes the double nearest to 0.012, and goes back unharmed.
 */
#ifndef ES_TAPE_NUMBER_H
#define ES_TAPE_NUMBER_H

#include "evenspool/base/text.h"

#include <stddef.h>
#include <stdint.h>

typedef struct es_decimal {
    uint64_t digits; /* value = +-digits * 10^exponent */
    int exponent;
    int negative;
} es_decimal;

/* Reads [+-] digits [. digits] [e [+-] digits] at the front of text; returns the bytes used,
 * 0 when there is no number. No "nan", no "inf", no hexadecimal. */
size_t es_decimal_read(const char *text, size_t length, es_decimal *out);

/* The double nearest to it, times 10^shift; infinite when too large. */
double es_decimal_value(es_decimal decimal, int shift);

/* Appends the shortest text that reads back as exactly value (finite) with this shift. */
void es_decimal_write(es_text *text, double value, int shift);

#endif
