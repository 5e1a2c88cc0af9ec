/*
 * A small JSON object that somebody sent: text, numbers and truths by name. Whatever is in it is
 * asked for by name; what was not asked for by the end is refused, so that nothing is accepted and
 * ignored.
 *
 *   errors  ES_ERR_INPUT with one sentence; codes "not-json", "not-an-object", "wrong-kind",
 *           "too-long", "unknown-key". The first error wins: ask for everything, then look.
 *   thread  one form, one thread at a time
 */
#ifndef ES_JSON_FORM_H
#define ES_JSON_FORM_H

#include "evenspool/base/error.h"

#include <stddef.h>

typedef struct es_form es_form;

/* text need not be terminated. ES_ERR_INPUT, ES_ERR_NOMEM; *out is NULL on error. */
es_status es_form_read(const char *text, size_t length, es_form **out, es_error *error);
void es_form_destroy(es_form *form);

/* 1: the key is there and is not null. */
int es_form_has(const es_form *form, const char *key);

/* *out stays as it is when the key is missing; null makes a number NaN, a truth 0 and a text
 * empty. */
es_status es_form_number(es_form *form, const char *key, double *out, es_error *error);
es_status es_form_truth(es_form *form, const char *key, int *out, es_error *error);
es_status es_form_text(es_form *form, const char *key, char *out, size_t room, es_error *error);

/* ES_ERR_INPUT "unknown-key": something in it was never asked for. */
es_status es_form_end(const es_form *form, es_error *error);

#endif
