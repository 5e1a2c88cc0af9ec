/*
 * Programmes as text: "evenspool.programme/1", JSON for people to write (docs/programmes.md).
 *
 *   strict   a key that is not known, one that is missing and a value of the wrong kind are refused;
 *            ranges, and what must fit together, are task/programme.h's business
 *   errors   ES_ERR_INPUT "programme-text": "Line 14, column 21: ..." and what was expected there
 *   exact    what is written and read back is the same programme to the last bit
 *   thread   no shared state
 */
#ifndef ES_JSON_PROGRAMME_JSON_H
#define ES_JSON_PROGRAMME_JSON_H

#include "evenspool/base/error.h"
#include "evenspool/base/programme.h"

#define ES_PROGRAMME_SCHEMA "evenspool.programme/1"

/* text need not be terminated. ES_ERR_INPUT, ES_ERR_NOMEM; *out is empty on error. */
es_status es_programme_from_json(const char *text, size_t length, es_programme *out,
                                 es_error *error);

/* Repeats a sentence about a spot of the programme that the text holds, with line and column before
 * it. Returns found's status. */
es_status es_programme_json_point(const char *text, size_t length, const es_programme_spot *spot,
                                  const es_error *found, es_error *error);

/* *out: the text with a line end, the caller's to free; NULL on error. ES_ERR_NOMEM. */
es_status es_programme_to_json(const es_programme *programme, char **out);

#endif
