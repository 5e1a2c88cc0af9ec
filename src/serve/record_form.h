/*
 * A record out of a form that somebody sent: its numbers and texts by the names that base/records.h
 * gives them, as they stand in the documents of the records too. What is not in the form stays as it
 * is; null makes a number unknown and a text empty. Ids and references are never taken from a form.
 *
 *   leave   names of fields that are not to be set by a form, up to NULL; NULL: none
 *   errors  es_form_number(), es_form_text(); the first wins
 */
#ifndef ES_SERVE_RECORD_FORM_H
#define ES_SERVE_RECORD_FORM_H

#include "evenspool/base/record_kinds.h"
#include "json/form.h"

void es_form_record(es_form *form, es_record_type type, const char *const *leave, void *record,
                    es_error *error);

/* A whole number from 0; anything else is refused. *out stays as it is when the key is missing. */
void es_form_whole(es_form *form, const char *key, int64_t *out, es_error *error);

#endif
