/* Limits asked for with --expect NAME=LIMIT,... : |figure| <= LIMIT. */
#ifndef ES_COMMAND_EXPECT_H
#define ES_COMMAND_EXPECT_H

#include "evenspool/base/check_result.h"
#include "evenspool/base/error.h"
#include "json/check_figures.h"

#define ES_EXPECT_MOST 32

typedef struct es_expect {
    size_t count;
    struct {
        const es_check_figure *figure;
        double limit;
    } at[ES_EXPECT_MOST];
} es_expect;

/*
 * Names are those of the JSON document; the unit at their end may be left out ("error" for
 * "error_percent"). ES_ERR_ARG "usage": the sentence says what is wrong.
 */
es_status es_expect_read(const char *text, es_expect *out, es_error *error);

/* Says on standard error what is outside or not known; returns how many. */
int es_expect_judge(const es_expect *expect, const es_check_result *result, const char *file);

#endif
