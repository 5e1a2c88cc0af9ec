/*
 * The document of `tape read`: evenspool.tape/1 (docs/guide/tape-read.md). A key whose value can't be
 * known is null, never 0. More keys may be added; those that are there stay.
 *
 *   file    the capture's name as the user gave it
 *   *out    JSON text without a line end, the caller's to free; NULL on error
 */
#ifndef ES_JSON_TAPE_JSON_H
#define ES_JSON_TAPE_JSON_H

#include "evenspool/base/error.h"
#include "evenspool/base/tape_result.h"

#define ES_TAPE_SCHEMA "evenspool.tape/1"

/* ES_ERR_NOMEM. */
es_status es_tape_to_json(const es_tape_result *result, const char *file, int indented, char **out);

/*
 * The other way, as far as a later reading is compared with it: programme, side, and of each channel
 * level_db and response; what else *out holds is blank.
 * text need not be terminated. ES_ERR_INPUT "not-tape-json", ES_ERR_NOMEM.
 */
es_status es_tape_from_json(const char *text, size_t length, es_tape_result *out, es_error *error);

/* "leave", "adjust", "look-first". */
const char *es_tape_verdict_name(es_verdict verdict);

#endif
