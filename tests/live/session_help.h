/* What the tests of live sessions share. */
#ifndef ES_TESTS_SESSION_HELP_H
#define ES_TESTS_SESSION_HELP_H

#include "cm.h"
#include "evenspool/base/text.h"
#include "live/session.h"

#include <math.h>
#include <string.h>

static inline es_session_config config_for(const char *source, int unpaced)
{
    es_session_config c = es_session_defaults();
    es_text text = es_text_over(c.source, sizeof c.source);
    es_text_add(&text, "%s", source);
    c.unpaced = unpaced;
    return c;
}

static inline es_session *opened(const es_session_config *config)
{
    es_session *s;
    es_error error = {0};
    if (es_session_open(config, &s, &error) != ES_OK)
        fail_msg("%s: %s", config->source, error.text);
    return s;
}

/* Follows the session to its end; returns how many snapshots came, *last being the last. */
static inline uint64_t follow_to_end(es_session *s, es_trim_snapshot *last)
{
    uint64_t cursor = 0, skipped, count = 0;
    int got;
    while ((got = es_session_next(s, &cursor, 30.0, last, &skipped)) > 0) {
        assert_int_equal(skipped, 0);
        count++;
    }
    assert_int_equal(got, -1);
    return count;
}

#endif
