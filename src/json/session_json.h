/*
 * The record of a session with the coach as a document: evenspool.session/1 for the speed,
 * evenspool.align-session/1 for azimuth, level and balance (keys as in json/trim_json.h). A value that can't be
 * known is null, never 0; so is a point of the trace or the course where no tone was heard.
 *
 *   *out    JSON text without a line end, the caller's to free; NULL on error
 *   error   ES_ERR_NOMEM
 */
#ifndef ES_JSON_SESSION_JSON_H
#define ES_JSON_SESSION_JSON_H

#include "evenspool/base/status.h"
#include "evenspool/base/trim_session.h"

/* Name of the document that es_session_to_json() makes. */
const char *es_session_schema(es_adjust adjust);

/*
 * One reading of it alone: evenspool.reading/1, and evenspool.align-reading/1 for the others; what: "as-found".
 */
es_status es_trim_reading_to_json(es_adjust adjust, const es_trim_reading *reading,
                                  const char *what, char **out);
const char *es_trim_reading_schema(es_adjust adjust);

es_status es_session_to_json(const es_trim_session *session, int indented, char **out);

#endif
