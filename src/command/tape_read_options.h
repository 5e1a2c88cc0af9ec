/* The options of `tape read`, and what they ask for. */
#ifndef ES_COMMAND_TAPE_READ_OPTIONS_H
#define ES_COMMAND_TAPE_READ_OPTIONS_H

#include "command/options.h"
#include "live/geometry.h"
#include "live/measure_tape.h"
#include "live/tape_session.h"

#define ES_TAPE_BIASES_MOST 12

enum {
    ES_TAPE_READ_SOURCE,
    ES_TAPE_READ_UNPACED,
    ES_TAPE_READ_RECORD,
    ES_TAPE_READ_FORCE,
    ES_TAPE_READ_DECK,
    ES_TAPE_READ_TAPE,
    ES_TAPE_READ_RECORDS,
    ES_TAPE_READ_TAPE_ERROR,
    ES_TAPE_READ_TAPE_U95,
    ES_TAPE_READ_CLOCK_PPM,
    ES_TAPE_READ_PROGRAMME,
    ES_TAPE_READ_LIMITS,
    ES_TAPE_READ_LEVEL,
    ES_TAPE_READ_RECORDED_RESPONSE,
    ES_TAPE_READ_RECORDED_HERE,
    ES_TAPE_READ_BIAS,
    ES_TAPE_READ_EXPECT,
    ES_TAPE_READ_JSON,
    ES_TAPE_READ_RAW,
    ES_TAPE_READ_COLOR,
    ES_TAPE_READ_OPTIONS
};

extern const es_option es_tape_read_options[ES_TAPE_READ_OPTIONS];

typedef struct es_tape_asked {
    const es_arguments *arguments;
    es_measure_tape_settings settings; /* points into what follows */
    es_programme programme;
    es_tape_limits limits;
    es_tape_record tape;
    es_geometry geometry;
    es_tape_result recorded;
    es_tape_session_config session; /* of --source; its source "": captures are read */
    char bias[ES_TAPE_BIASES_MOST][sizeof((es_tape_result *)0)->bias];
    size_t bias_count, captures;
    const char *deck, *tape_name, *records, *colour; /* NULL: not asked for */
    const char *expect;                              /* names with commas; NULL: nothing */
    int json;
} es_tape_asked;

/*
 * Reads the files that are named, but not the records. *about: the file or name that an error speaks of;
 * NULL: the command line. *out must stay where it is.
 */
es_status es_tape_read_ask(const es_arguments *arguments, es_tape_asked *out, const char **about,
                           es_error *error);

/* Verdicts that --expect names and that are not "leave": says which; returns their number. */
int es_tape_read_judge(const es_tape_asked *asked, const es_tape_result *result, const char *file);

#endif
