/*
 * Options: one table for each verb, from which come the reading of the command line, --help, the
 * man page and the completion of the shells.
 *
 *   forms   --name, --name=VALUE, --name VALUE, -x VALUE, -xVALUE; "--" ends the options
 *   twice   the last one counts
 *   help    --help and -h are known to every verb and need no line in its table
 */
#ifndef ES_COMMAND_OPTIONS_H
#define ES_COMMAND_OPTIONS_H

#include "evenspool/base/error.h"
#include "evenspool/base/nearest.h"

#include <stddef.h>

#define ES_OPTIONS_MOST 32

typedef enum es_option_kind {
    ES_OPTION_FLAG,   /* no value                          */
    ES_OPTION_NUMBER, /* low .. high                       */
    ES_OPTION_CHOICE, /* one of the choices                */
    ES_OPTION_WORD,   /* any text; choices only help to complete it */
    ES_OPTION_FILE
} es_option_kind;

typedef struct es_option {
    const char *name; /* without dashes                             */
    char letter;      /* short form; 0: none                        */
    es_option_kind kind;
    const char *value; /* what stands for the value in texts; NULL: a flag */
    const char *about; /* sentences                                 */
    double low, high;
    const char *choices; /* "a|b|c" */
} es_option;

typedef struct es_option_value {
    int given;
    const char *text; /* as written; NULL: not given, or a flag */
    double number;    /* NaN unless a number was given          */
} es_option_value;

typedef struct es_arguments {
    es_option_value values[ES_OPTIONS_MOST]; /* in the order of the table */
    int help;                                /* --help was given          */
    int operand_count;
    char **operands; /* in the array that was parsed */
} es_arguments;

/*
 * Reads argv[0 .. argc), which begins after the verb, and moves the operands to its front.
 * ES_ERR_ARG "usage": the sentence says what is wrong and what to write.
 */
es_status es_options_read(const es_option *table, size_t count, int argc, char **argv,
                          es_arguments *out, es_error *error);

/* A plain decimal number, all of the text. 0: it is none. */
int es_number_read(const char *text, double *out);

#endif
