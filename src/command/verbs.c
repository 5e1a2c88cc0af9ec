#include "command/verb.h"

#include <string.h>

static const es_verb *const verbs[] = {&es_verb_check,  &es_verb_rehearse, &es_verb_trim,
                                       &es_verb_inputs, &es_verb_bench,    &es_verb_tape,
                                       &es_verb_deck,   &es_verb_trust,    &es_verb_export,
                                       &es_verb_import, &es_verb_clock,    &es_verb_help};
#define VERBS (sizeof verbs / sizeof *verbs)

const es_verb *es_verb_at(size_t index)
{
    return index < VERBS ? verbs[index] : NULL;
}

const es_verb *es_verb_named(const char *name)
{
    for (size_t i = 0; i < VERBS; i++)
        if (strcmp(verbs[i]->name, name) == 0)
            return verbs[i];
    return NULL;
}

const es_verb *es_verb_part(const es_verb *verb, const char *word)
{
    for (const es_verb *const *part = verb->parts; part && *part; part++)
        if (strcmp(es_verb_word(*part), word) == 0)
            return *part;
    return NULL;
}

const char *es_verb_word(const es_verb *verb)
{
    const char *space = strrchr(verb->name, ' ');
    return space ? space + 1 : verb->name;
}

const es_verb *es_verb_runnable(const es_verb *verb, size_t index)
{
    if (!verb->parts)
        return index == 0 ? verb : NULL;
    for (size_t i = 0; i < index; i++)
        if (!verb->parts[i])
            return NULL;
    return verb->parts[index];
}

const char *es_exit_meaning(int code)
{
    static const char *const meanings[] = {
        [ES_EXIT_DONE] = "Done.",
        [ES_EXIT_OUTSIDE] = "Measured, but outside what was asked for with --expect or --until.",
        [ES_EXIT_USAGE] = "The command line can't be understood.",
        [ES_EXIT_INPUT] = "An input can't be used; a sentence says which, why and what to do.",
        [ES_EXIT_AROUND] = "The surroundings failed: a disk, a device or memory.",
        [ES_EXIT_FAULT] = "A fault of the program.",
    };
    return code >= 0 && (size_t)code < sizeof meanings / sizeof *meanings ? meanings[code] : NULL;
}

int es_exit_of(es_status status)
{
    switch (status) {
    case ES_OK:
        return ES_EXIT_DONE;
    case ES_ERR_ARG:
        return ES_EXIT_USAGE;
    case ES_ERR_INPUT:
        return ES_EXIT_INPUT;
    case ES_ERR_NOMEM:
    case ES_ERR_IO:
    case ES_ERR_DEVICE:
        return ES_EXIT_AROUND;
    default:
        return ES_EXIT_FAULT;
    }
}
