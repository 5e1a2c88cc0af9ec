#include "json/utf8.h"

#include <stdlib.h>
#include <string.h>

/*
 * Length of the well-formed character at `at`, 0 if there is none. The second byte's range cuts
 * off overlong forms, surrogates and what lies beyond U+10FFFF (RFC 3629 section 4).
 */
static size_t character(const unsigned char *at)
{
    unsigned char low = 0x80, high = 0xBF;
    size_t length;
    if (at[0] < 0x80)
        return 1;
    if (at[0] < 0xC2 || at[0] > 0xF4)
        return 0;
    length = at[0] < 0xE0 ? 2 : at[0] < 0xF0 ? 3 : 4;
    if (at[0] == 0xE0)
        low = 0xA0;
    if (at[0] == 0xED)
        high = 0x9F;
    if (at[0] == 0xF0)
        low = 0x90;
    if (at[0] == 0xF4)
        high = 0x8F;
    if (at[1] < low || at[1] > high)
        return 0;
    for (size_t i = 2; i < length; i++) /* a terminator ends the text here, too */
        if ((at[i] & 0xC0) != 0x80)
            return 0;
    return length;
}

char *es_utf8_clean(const char *text)
{
    static const char replacement[3] = {'\xEF', '\xBF', '\xBD'};
    const unsigned char *at = (const unsigned char *)text;
    char *clean = malloc(3 * strlen(text) + 1);
    size_t used = 0;
    if (!clean)
        return NULL;
    while (*at) {
        size_t length = character(at);
        const void *from = length ? (const void *)at : replacement;
        size_t count = length ? length : sizeof replacement;
        memcpy(clean + used, from, count);
        used += count;
        at += length ? length : 1;
    }
    clean[used] = '\0';
    return clean;
}
