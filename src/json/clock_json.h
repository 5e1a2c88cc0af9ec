/*
 * What comparing a sample clock came to as a document: evenspool.clock/1. A key whose value can't be
 * known is null, never 0.
 *
 *   *out    JSON text without a line end, the caller's to free; NULL on error
 *   error   ES_ERR_NOMEM
 */
#ifndef ES_JSON_CLOCK_JSON_H
#define ES_JSON_CLOCK_JSON_H

#include "evenspool/base/clock_result.h"
#include "evenspool/base/status.h"

es_status es_clock_to_json(const es_clock_result *result, int indented, char **out);

#endif
