/* The parts of `evenspool tape`. */
#ifndef ES_COMMAND_TAPE_H
#define ES_COMMAND_TAPE_H

#include "command/verb.h"

extern const es_verb es_verb_tape_write, es_verb_tape_read;

#endif
