/* Verbs: what `evenspool` can do, one table line and one source file for each. */
#ifndef ES_COMMAND_VERB_H
#define ES_COMMAND_VERB_H

#include "command/options.h"

/* How the program ends. */
enum {
    ES_EXIT_DONE = 0,
    ES_EXIT_OUTSIDE = 1, /* measured, but outside a limit asked for        */
    ES_EXIT_USAGE = 2,
    ES_EXIT_INPUT = 3,  /* an input can't be used                          */
    ES_EXIT_AROUND = 4, /* the surroundings failed: device, disk, database */
    ES_EXIT_FAULT = 5   /* a fault of the program                          */
};

typedef struct es_verb {
    const char *name;
    const char *about;    /* one line, no full stop                              */
    const char *operands; /* "CAPTURE..."; "" when there are none                */
    int operands_least, operands_most;
    const char *operand_kind; /* what shells complete: "file", "verb", "scenario", "" */
    const es_option *options;
    size_t option_count;
    const char *const *details;  /* paragraphs, NULL at the end                       */
    const char *const *examples; /* command, meaning, command, meaning ... NULL       */
    int (*run)(const es_arguments *arguments);
} es_verb;

extern const es_verb es_verb_check, es_verb_rehearse, es_verb_trim, es_verb_inputs, es_verb_bench,
    es_verb_help;

/* NULL beyond the last. */
const es_verb *es_verb_at(size_t index);
const es_verb *es_verb_named(const char *name);

/* Meaning of the exit codes, in order; NULL beyond the last. */
const char *es_exit_meaning(int code);

/* The exit code for a failure of an output or of the program itself. */
int es_exit_of(es_status status);

#endif
