/* Private: what changes.c, observations.c and tape_routes.c share. */
#ifndef ES_SERVE_CHANGES_H
#define ES_SERVE_CHANGES_H

#include "serve/inside.h"

#include "evenspool/base/text.h"
#include "live/ledger.h"

static inline es_status es_open_to_change(const es_request *r, es_ledger_mode mode, es_ledger **out,
                                          es_error *error)
{
    return es_ledger_open(r->serve->config.records, mode, out, error);
}

/* What is told for a change that was kept, when the answer can't be written. */
static inline es_status es_could_not_say(es_error *error)
{
    return es_fail(error, ES_ERR_NOMEM, "no-memory",
                   "It was kept, but there is not enough memory to say so.");
}

/* A route whose form is read before, and which changes the records. */
#define ES_CHANGE(path_, ...)                                                                      \
    {                                                                                              \
        .method = "POST", .path = (path_), .read = es_request_read_form, __VA_ARGS__               \
    }

#endif
