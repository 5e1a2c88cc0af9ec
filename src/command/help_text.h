/* The texts that come from the verbs' tables. */
#ifndef ES_COMMAND_HELP_TEXT_H
#define ES_COMMAND_HELP_TEXT_H

#include "command/verb.h"

#include <stdio.h>

/* What `evenspool --help` says. */
void es_help_overview(FILE *out);

/* What `evenspool VERB --help` says. */
void es_help_verb(FILE *out, const es_verb *verb);

/* Manual pages in mdoc: of a verb, or of the program when verb is NULL. */
void es_man_page(FILE *out, const es_verb *verb);

/* A completion script; shell "bash", "zsh" or "fish". 0: no such shell. */
int es_completion(FILE *out, const char *shell);

/* Calls each for every choice in "a|b|c". */
void es_each_choice(const char *choices, void (*each)(void *who, const char *at, size_t length),
                    void *who);

#endif
