/*
 * Bounded text: formatting into caller memory that can neither overflow nor go unterminated.
 * Text that does not fit is cut at a whole UTF-8 character. No locale: the decimal point is '.'
 * as long as the program never calls setlocale(LC_NUMERIC).
 */
#ifndef ES_BASE_TEXT_H
#define ES_BASE_TEXT_H

#include <stdarg.h>
#include <stddef.h>

typedef struct es_text {
    char *at;      /* caller's memory, always terminated */
    size_t room;   /* its size [bytes], at least 1       */
    size_t length; /* bytes used, terminator not counted */
    int cut;       /* 1 once something did not fit       */
} es_text;

/* Empties room bytes at `at` (room >= 1) and makes a text of them. */
es_text es_text_over(char *at, size_t room);

/* Appends printf-style. */
void es_text_add(es_text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));
void es_text_add_list(es_text *text, const char *format, va_list list)
    __attribute__((format(printf, 2, 0)));

/* NULL for "": not said. */
static inline const char *es_text_or_null(const char *text)
{
    return text[0] ? text : NULL;
}

#endif
