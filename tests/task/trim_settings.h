/* The coach made of settings that are wrong, and when there is no memory for it. */
#ifndef ES_TESTS_TRIM_SETTINGS_H
#define ES_TESTS_TRIM_SETTINGS_H

#include "cm.h"

#include "alloc_probe.h"
#include "evenspool/task/trim.h"

#include <string.h>

static inline void refuses(es_trim_config c, const char *code)
{
    es_error error = {0};
    es_trim *trim = (es_trim *)1;
    assert_int_equal(es_trim_create(&c, &trim, &error), ES_ERR_ARG);
    assert_null(trim);
    assert_string_equal(error.code, code);
    assert_int_equal(error.text[strlen(error.text) - 1], '.');
}

/* Every allocation fails once; nothing is left behind. */
static inline void survives_want_of_memory_with(es_trim_config c)
{
    es_trim *trim = NULL;
    long n = 0;
    for (;; n++) {
        alloc_probe_fail_after(n);
        es_error error = {0};
        es_status status = es_trim_create(&c, &trim, &error);
        if (status == ES_OK)
            break;
        assert_int_equal(status, ES_ERR_NOMEM);
        assert_int_equal(error.status, ES_ERR_NOMEM);
        assert_null(trim);
        assert_int_equal(alloc_probe_live(), 0);
        assert_true(n < 100);
    }
    assert_true(n > 10);
    es_trim_destroy(trim);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

#endif
