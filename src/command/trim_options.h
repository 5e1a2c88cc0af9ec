/* The options of `trim`, and what they ask for. */
#ifndef ES_COMMAND_TRIM_OPTIONS_H
#define ES_COMMAND_TRIM_OPTIONS_H

#include "command/options.h"
#include "live/session.h"

enum {
    ES_TRIM_SOURCE,
    ES_TRIM_ADJUST,
    ES_TRIM_CLASS,
    ES_TRIM_TONE,
    ES_TRIM_TAPE_ERROR,
    ES_TRIM_TAPE_U95,
    ES_TRIM_TAPE,
    ES_TRIM_DECK,
    ES_TRIM_ASKED,
    ES_TRIM_RECORDS,
    ES_TRIM_CLOCK_PPM,
    ES_TRIM_TARGET,
    ES_TRIM_TOLERANCE,
    ES_TRIM_REFERENCE,
    ES_TRIM_CHANNEL,
    ES_TRIM_SECONDS,
    ES_TRIM_UNTIL,
    ES_TRIM_UNPACED,
    ES_TRIM_RECORD,
    ES_TRIM_SESSION,
    ES_TRIM_FORCE,
    ES_TRIM_SOUND,
    ES_TRIM_SOUND_LEVEL,
    ES_TRIM_OUTPUT,
    ES_TRIM_JSON,
    ES_TRIM_COLOR,
    ES_TRIM_OPTIONS
};

extern const es_option es_trim_options[ES_TRIM_OPTIONS];

typedef struct es_trim_asked {
    es_session_config session;
    const char *deck, *tape, *asked, *records; /* for the records; NULL: not given */
    int until_there, json;
    int sound;
    double sound_level_db;
    const char *output;                /* "": the preferred one */
    const char *session_path, *colour; /* NULL: not asked for   */
    int force;
} es_trim_asked;

/* ES_ERR_ARG: options that don't fit together; the sentence says which. */
es_status es_trim_ask(const es_arguments *arguments, es_trim_asked *out, es_error *error);

#endif
