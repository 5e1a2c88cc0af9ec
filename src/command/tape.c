/* evenspool tape: the home-made test tape. Its parts stand in files of their own. */
#include "command/tape.h"

static const es_verb *const parts[] = {&es_verb_tape_write, &es_verb_tape_read, NULL};

static const char *const details[] = {
    "A test tape made at home, on a deck whose speed error is known, gives every figure of an "
    "alignment in one play-through. A programme is the plan of what stands on it.",
    "docs/guide/tape.md leads through the making of one, from cleaning the heads to the "
    "certificate; "
    "docs/programmes.md tells how to write a programme of your own.",
    NULL};

static const char *const examples[] = {NULL};

const es_verb es_verb_tape = {.name = "tape",
                              .about = "make a test tape at home, and read it",
                              .operands = "",
                              .operand_kind = "",
                              .details = details,
                              .examples = examples,
                              .parts = parts};
