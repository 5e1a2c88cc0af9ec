/* evenspool deck: the machines in the records. Its parts stand in deck_edit.c, deck_show.c and deck_remark.c. */
#include "command/deck.h"

static const es_verb *const parts[] = {&es_verb_deck_add,
                                       &es_verb_deck_list,
                                       &es_verb_deck_show,
                                       &es_verb_deck_edit,
                                       &es_verb_deck_remark,
                                       &es_verb_deck_remove,
                                       NULL};

static const char *const details[] = {
    "Keeps the decks of your bench: their sizes, so that check can name the part behind a swing, "
    "and their history: readings, jobs, and what ties them to true speed (evenspool trust).",
    "A deck that was adjusted or repaired runs at another speed from then on: tell it by deck edit "
    "--adjusted, and what was known of its speed no longer counts. trim --deck does so by itself.",
    NULL};

static const char *const examples[] = {
    "evenspool deck add \"Workshop\" --capstan 2.5", "A cassette deck whose capstan was measured.",
    "evenspool deck edit Workshop --adjusted now --why \"new belt\"", "From now on a new unknown.",
    NULL};

const es_verb es_verb_deck = {.name = "deck",
                              .about = "keep the decks of the bench",
                              .operands = "",
                              .operand_kind = "",
                              .details = details,
                              .examples = examples,
                              .parts = parts};
