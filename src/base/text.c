#include "evenspool/base/text.h"

#include "evenspool/base/error.h"

#include <stdio.h>

es_text es_text_over(char *at, size_t room)
{
    at[0] = '\0';
    return (es_text){.at = at, .room = room};
}

/* Length without a UTF-8 character that was cut in its middle at the end. */
static size_t whole_characters(const char *at, size_t length)
{
    size_t start = length;
    while (start > 0 && ((unsigned char)at[start - 1] & 0xC0) == 0x80)
        start--;
    if (start == 0)
        return length;
    unsigned char lead = (unsigned char)at[start - 1];
    size_t wants = lead >= 0xF0 ? 3 : lead >= 0xE0 ? 2 : lead >= 0xC0 ? 1 : 0;
    return length - start < wants ? start - 1 : length;
}

void es_text_add_list(es_text *text, const char *format, va_list list)
{
    size_t left = text->room - text->length;
    int wanted = vsnprintf(text->at + text->length, left, format, list);
    if (wanted < 0) {
        text->at[text->length] = '\0';
        text->cut = 1;
    } else if ((size_t)wanted >= left) {
        text->length = whole_characters(text->at, text->room - 1);
        text->at[text->length] = '\0';
        text->cut = 1;
    } else {
        text->length += (size_t)wanted;
    }
}

void es_text_add(es_text *text, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    es_text_add_list(text, format, list);
    va_end(list);
}

es_status es_fail(es_error *error, es_status status, const char *code, const char *format, ...)
{
    if (!error || error->status != ES_OK)
        return status;
    error->status = status;
    es_text word = es_text_over(error->code, sizeof error->code);
    es_text_add(&word, "%s", code);
    es_text sentence = es_text_over(error->text, sizeof error->text);
    va_list list;
    va_start(list, format);
    es_text_add_list(&sentence, format, list);
    va_end(list);
    return status;
}
