/* The truth of a rehearsal as JSON (schema evenspool.truth/1), in the words of evenspool.check/1. */
#ifndef ES_COMMAND_TRUTH_H
#define ES_COMMAND_TRUTH_H

#include "live/rehearse.h"

/* *out: JSON text without a line end, the caller's to free. ES_ERR_NOMEM: *out is NULL. */
es_status es_truth_to_json(const es_rehearsed *rehearsed, const char *file, double rate_hz,
                           char **out);

#endif
