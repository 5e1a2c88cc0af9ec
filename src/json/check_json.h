/*
 * The documents of `check`: evenspool.check/1 and evenspool.error/1. A key whose value can't be
 * known is null, never 0. More keys may be added; those that are there stay.
 *
 *   file    the capture's name as the user gave it
 *   *out    JSON text without a line end, the caller's to free; NULL on error
 *   error   ES_ERR_NOMEM
 */
#ifndef ES_JSON_CHECK_JSON_H
#define ES_JSON_CHECK_JSON_H

#include "evenspool/base/check_result.h"
#include "evenspool/base/error.h"
#include "evenspool/base/notes.h"
#include "json/document.h"

es_status es_check_to_json(const es_check_result *result, const char *file, int indented,
                           char **out);
es_status es_error_to_json(const es_error *error, const char *file, int indented, char **out);

/* For other documents that hold a check: its groups tone, speed, wow_flutter, components and gate, at
 * the root. */
void es_check_part_to_json(es_json *json, const es_check_result *result);

/* [{"code", "text"}] under key. */
void es_notes_to_json(es_json *json, es_json_part *into, const char *key, const es_notes *notes);

#endif
