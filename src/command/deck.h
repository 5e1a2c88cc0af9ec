/* The parts of `evenspool deck`. */
#ifndef ES_COMMAND_DECK_H
#define ES_COMMAND_DECK_H

#include "command/ledger_use.h"
#include "command/verb.h"

extern const es_verb es_verb_deck_add, es_verb_deck_list, es_verb_deck_show, es_verb_deck_edit,
    es_verb_deck_remark, es_verb_deck_remove;

/* Prints the deck with all that is kept of it, as text or JSON. Returns an exit code. */
int es_deck_print(const es_ledger_use *use, es_ledger *ledger, const char *name);

#endif
