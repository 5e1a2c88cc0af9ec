/*
 * The coach's snapshot as a document: evenspool.trim/1, one a line of `trim --json` and one an
 * event of the page's stream. A key whose value can't be known is null, never 0. More keys may be
 * added; those that are there stay.
 *
 *   *out    JSON text on one line, without a line end, the caller's to free; NULL on error
 *   error   ES_ERR_NOMEM
 *   numbers 9 significant digits; the same snapshot gives the same bytes
 */
#ifndef ES_JSON_TRIM_JSON_H
#define ES_JSON_TRIM_JSON_H

#include "evenspool/base/status.h"
#include "evenspool/base/trim_snapshot.h"
#include "json/document.h"

es_status es_trim_to_json(const es_trim_snapshot *snapshot, char **out);

/* "listening" | "unsteady" | "turning" | "settling" | "reading" | "there" | "look-first" */
const char *es_trim_state_name(es_trim_state state);

/* The nudges that are kept of `count`, into an object under key. */
void es_trim_nudges_to_json(es_json *json, es_json_part *into, const char *key,
                            const es_nudge *nudges, size_t count);

#endif
