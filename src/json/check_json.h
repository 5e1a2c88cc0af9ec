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

es_status es_check_to_json(const es_check_result *result, const char *file, int indented,
                           char **out);
es_status es_error_to_json(const es_error *error, const char *file, int indented, char **out);

#endif
