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

typedef struct es_verb es_verb;
struct es_verb {
    const char *name;     /* "check"; of a part with its verb: "deck add"           */
    const char *about;    /* one line, no full stop                              */
    const char *operands; /* "CAPTURE..."; "" when there are none                */
    int operands_least, operands_most;
    const char *operand_kind; /* what shells complete: "file", "verb", "scenario", "" */
    const es_option *options;
    size_t option_count;
    const char *const *details;  /* paragraphs, NULL at the end                       */
    const char *const *examples; /* command, meaning, command, meaning ... NULL       */
    int (*run)(const es_arguments *arguments);
    const es_verb *const *parts; /* NULL at the end. With parts a verb has no operands, options and
                                    run of its own; a part has no parts                     */
};

extern const es_verb es_verb_check, es_verb_rehearse, es_verb_trim, es_verb_inputs, es_verb_bench,
    es_verb_tape, es_verb_deck, es_verb_trust, es_verb_export, es_verb_import, es_verb_clock,
    es_verb_help;

/* NULL beyond the last. */
const es_verb *es_verb_at(size_t index);
const es_verb *es_verb_named(const char *name);
/* NULL: the verb has no such part. */
const es_verb *es_verb_part(const es_verb *verb, const char *word);
/* What is typed last for it: "add" of "deck add". */
const char *es_verb_word(const es_verb *verb);
/* What can be run: the index-th of the verb's parts, or the verb itself. NULL beyond the last. */
const es_verb *es_verb_runnable(const es_verb *verb, size_t index);

/* Meaning of the exit codes, in order; NULL beyond the last. */
const char *es_exit_meaning(int code);

/* The exit code for a failure of an output or of the program itself. */
int es_exit_of(es_status status);

#endif
