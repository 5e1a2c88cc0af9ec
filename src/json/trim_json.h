/*
 * The coach's snapshot as a document: evenspool.trim/1 for the speed, evenspool.align/1 for azimuth,
 * level and balance, one a line of `trim --json` and one an event of the page's stream. A key ends
 * with the unit of its figure: error_percent, error_us, error_db. A key whose value can't be known is null, never 0. More keys may be
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

/* "percent", "us" or "db". */
const char *es_adjust_suffix(es_adjust adjust);

/* A figure in the quantity's unit, its key name_suffix; name "": the suffix alone. */
void es_adjust_number(es_json *json, es_json_part *into, es_adjust adjust, const char *name,
                      double value);

/* The nudges that are kept of `count`, into an object as "nudges". */
void es_trim_nudges_to_json(es_json *json, es_json_part *into, es_adjust adjust,
                            const es_nudge *nudges, size_t count);

#endif
