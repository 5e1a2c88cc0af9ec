/* The parts of `evenspool trust`. */
#ifndef ES_COMMAND_TRUST_H
#define ES_COMMAND_TRUST_H

#include "command/ledger_use.h"
#include "command/verb.h"

extern const es_verb es_verb_trust_play, es_verb_trust_anchor, es_verb_trust_solve,
    es_verb_trust_next, es_verb_trust_tape, es_verb_trust_list, es_verb_trust_remove;

/* Plays and anchors, one a line, with the numbers by which they can be removed. */
void es_trust_print_entries(const es_history *history);

/* What to measure next, best first. */
void es_trust_print_next(const es_trust_result *result);

/* Reads "key=value,key=value" into entry->keys and values; the texts are split in place. A value is a
 * number, or the beginning of one of the question's choices. ES_ERR_ARG with a sentence. */
es_status es_trust_read_answers(char *text, const es_anchor_form *form, es_anchor_entry *entry,
                                es_error *error);

/* Asks the method's questions on the terminal. 0: the answers ended early. */
int es_trust_ask(const es_anchor_form *form, es_anchor_entry *entry);

/* The method's questions with units, defaults and limits, and its formula. */
void es_trust_print_form(const es_anchor_form *form);

#endif
