#include "json/exact.h"

#include "evenspool/base/text.h"

#include <math.h>
#include <stdlib.h>

#define DIGITS_MOST 17 /* are enough for any double (IEEE 754-2008, 5.12.2) */
#define WHOLE_BELOW 1e15

const char *es_exact_number(double value, char out[ES_EXACT_ROOM])
{
    es_text text = es_text_over(out, ES_EXACT_ROOM);
    if (!isfinite(value)) {
        es_text_add(&text, "null");
        return out;
    }
    if (value == floor(value) && fabs(value) < WHOLE_BELOW) {
        es_text_add(&text, "%.0f", value + 0.0); /* + 0.0: no minus before a zero */
        return out;
    }
    for (int digits = 1; digits <= DIGITS_MOST; digits++) {
        text = es_text_over(out, ES_EXACT_ROOM);
        es_text_add(&text, "%.*g", digits, value);
        if (strtod(out, NULL) == value)
            break;
    }
    return out;
}
