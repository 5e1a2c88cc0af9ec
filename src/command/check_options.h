/* The options of `check`, and what they ask for. */
#ifndef ES_COMMAND_CHECK_OPTIONS_H
#define ES_COMMAND_CHECK_OPTIONS_H

#include "command/expect.h"
#include "command/options.h"
#include "live/measure.h"

enum {
    ES_CHECK_TONE,
    ES_CHECK_TAPE_ERROR,
    ES_CHECK_TAPE_U95,
    ES_CHECK_TAPE,
    ES_CHECK_DECK,
    ES_CHECK_RECORDS,
    ES_CHECK_CLOCK_PPM,
    ES_CHECK_CHANNEL,
    ES_CHECK_START,
    ES_CHECK_END,
    ES_CHECK_CLASS,
    ES_CHECK_CAPSTAN,
    ES_CHECK_TOLERANCE,
    ES_CHECK_EXPECT,
    ES_CHECK_JSON,
    ES_CHECK_PICTURE,
    ES_CHECK_CSV,
    ES_CHECK_RAW,
    ES_CHECK_COLOR,
    ES_CHECK_OPTIONS
};

extern const es_option es_check_options[ES_CHECK_OPTIONS];

typedef struct es_check_asked {
    es_measure_settings measure;
    es_expect expect;
    const char *deck, *tape,
        *records;    /* names in the records, and where those are; NULL: not given */
    int json, alone; /* alone: a single capture                   */
    const char *picture, *table, *colour; /* NULL: not asked for                       */
} es_check_asked;

/* ES_ERR_ARG: options that don't fit together, or the captures; the sentence says which. */
es_status es_check_ask(const es_arguments *arguments, es_check_asked *out, es_error *error);

/* Standard input among the operands: once at most, and not a keyboard. ES_ERR_ARG. */
es_status es_captures_check(const es_arguments *arguments, es_error *error);

#endif
