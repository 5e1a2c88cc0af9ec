/*
 * The solved trust network as documents: evenspool.trust/1 (all of it), evenspool.decks/1 (the decks
 * as they are now) and evenspool.next/1 (one deck: what its uncertainty is made of and what to measure
 * next). A value that can't be known is null, never 0. More keys may be added; those that are there
 * stay.
 *
 *   *out    JSON text without a line end, the caller's to free; NULL on error
 *   error   ES_ERR_NOMEM
 */
#ifndef ES_JSON_TRUST_JSON_H
#define ES_JSON_TRUST_JSON_H

#include "evenspool/base/trust_result.h"
#include "json/document.h"

es_status es_trust_to_json(const es_trust_result *result, char **out);

/* The decks' records, in any order, each with what is known of it. */
es_status es_decks_to_json(const es_deck_record *decks, size_t count, const es_trust_result *result,
                           char **out);

/* result->shares_of names the deck. */
es_status es_next_to_json(const es_trust_result *result, char **out);

/* What is known of one deck, into an object. */
void es_trust_deck_to_json(es_json *json, es_json_part *to, const es_trust_deck *deck);

#endif
