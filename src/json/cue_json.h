/*
 * A cue sheet as a document: evenspool.cues/1. Times in seconds of nominal speed; what does not apply
 * is null.
 *
 *   *out    JSON text without a line end, the caller's to free; NULL on error
 *   error   ES_ERR_NOMEM
 */
#ifndef ES_JSON_CUE_JSON_H
#define ES_JSON_CUE_JSON_H

#include "evenspool/base/cue_sheet.h"

es_status es_cues_to_json(const es_cue_sheet *sheet, int indented, char **out);

#endif
