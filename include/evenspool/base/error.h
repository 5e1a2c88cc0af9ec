/*
 * What the outer floors say when something failed: a status, a short code that programs can
 * compare, and one sentence for a person (what is wrong and what to do, no file name in front:
 * the caller knows it). The first error wins. Every function that takes an es_error * takes NULL.
 */
#ifndef ES_BASE_ERROR_H
#define ES_BASE_ERROR_H

#include "evenspool/base/status.h"

typedef struct es_error {
    es_status status;
    char code[32];  /* lower-case words with hyphens, e.g. "not-audio" */
    char text[400]; /* one sentence with full stop                     */
} es_error;

/* Fills *error unless it is NULL or already holds one; returns status, so `return es_fail(...)`. */
es_status es_fail(es_error *error, es_status status, const char *code, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

#endif
