/*
 * How the bench stands, as a document: evenspool.bench/1.
 *
 *   session   its number, 0: none; kept: its job in the records, or null; phase "none" | "running" | "waiting" | "ended" | "failed"
 *   settings  as it was asked for, so that the page can offer them again
 *   *out      the caller's to free, NULL on error; ES_ERR_NOMEM
 */
#ifndef ES_SERVE_FACTS_JSON_H
#define ES_SERVE_FACTS_JSON_H

#include "evenspool/base/status.h"
#include "live/session.h"
#include "serve/bench.h"

#include <stdint.h>

typedef struct es_bench_facts {
    int session;
    const es_session_facts *live; /* NULL: no session */
    const es_session_config *settings;
    const es_visit *visit; /* told among the settings                     */
    int64_t kept;          /* job in the records that it became; 0: none  */
    uint64_t missed;       /* snapshots that came faster than they could be sent on */
} es_bench_facts;

/* "running", "waiting", "ended", "failed". */
const char *es_phase_name(es_session_phase phase);

es_status es_facts_to_json(const es_bench_facts *facts, char **out);

/* "none", "reference", "beat", "guide"; -1 for any other word. */
int es_sound_kind_of(const char *word);

#endif
