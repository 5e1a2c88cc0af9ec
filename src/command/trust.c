/* evenspool trust: how far each deck and each tape can be believed. */
#include "command/trust.h"

static const es_verb *const parts[] = {
    &es_verb_trust_play, &es_verb_trust_anchor, &es_verb_trust_solve,  &es_verb_trust_next,
    &es_verb_trust_tape, &es_verb_trust_list,   &es_verb_trust_remove, NULL};

static const char *const details[] = {
    "A tape is only as true as the deck that recorded it. Enter what was compared with what (play) "
    "and what ties a deck to true speed from outside (anchor); solve reckons from all of it "
    "together how fast each deck runs, how far that can be believed, and what disagrees; next says "
    "which measurement would help a deck most.",
    "A tape played on the deck that recorded it tells nothing of that deck's speed: its error "
    "cancels. The best anchor at home is a measured length of tape, timed: it needs nobody else's "
    "word.",
    NULL};

static const char *const examples[] = {
    "evenspool trust anchor Workshop --method tape-length --answer length_m=100,time_s=2091.2",
    "100 m of tape ran through in 2091.2 s.",
    "evenspool trust play --recorded-on Workshop --played-on Attic --heard -1.046 --u95 0.02",
    "What Workshop recorded is heard 1.046 per cent low on Attic.",
    "evenspool trust solve",
    "What follows for both.",
    NULL};

const es_verb es_verb_trust = {.name = "trust",
                               .about = "reckon how far decks and tapes can be believed",
                               .operands = "",
                               .operand_kind = "",
                               .details = details,
                               .examples = examples,
                               .parts = parts};
