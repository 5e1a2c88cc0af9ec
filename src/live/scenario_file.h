/* Scenarios by name: a built-in one, or a file in the text form (tape/scenario.h). */
#ifndef ES_LIVE_SCENARIO_FILE_H
#define ES_LIVE_SCENARIO_FILE_H

#include "evenspool/base/error.h"
#include "evenspool/tape/scenario.h"

/*
 * ES_ERR_INPUT: "no-scenario", "scenario", "scenario-text", "directory". ES_ERR_IO: the file can't be
 * read ("no-permission", "read-failed"). ES_ERR_NOMEM. *out holds a scenario only when ES_OK.
 */
es_status es_scenario_load(const char *name, es_scenario *out, es_error *error);

#endif
