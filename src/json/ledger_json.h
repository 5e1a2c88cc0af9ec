/*
 * What the ledger tells, as documents for programs. Records are written field by field by their
 * descriptions (base/record_kinds.h), with the names that base/records.h gives them; results of readings
 * are left out. A value that is not known is null, never 0; an infinite number of degrees of freedom
 * is null too. More keys may be added; those that are there stay.
 *
 *   evenspool.deck/1      deck, trust, epochs, jobs [nudges, remarks], readings, plays,
 *                         anchors [answers, budget]
 *   evenspool.entries/1   plays, anchors of all decks
 *   evenspool.tape/1 is the test tape's; here: evenspool.certificate/1 (a tape's record), and
 *   evenspool.certificates/1
 *   evenspool.anchor/1    an anchor that was kept or reckoned: anchor, answers, budget, caution, heard
 *   evenspool.form/1      a method's questions
 *   evenspool.forms/1     all methods
 *
 *   *out    JSON text without a line end, the caller's to free; NULL on error
 *   error   ES_ERR_NOMEM
 */
#ifndef ES_JSON_LEDGER_JSON_H
#define ES_JSON_LEDGER_JSON_H

#include "evenspool/base/anchor_form.h"
#include "evenspool/base/history.h"
#include "evenspool/base/record_kinds.h"
#include "evenspool/base/trust_result.h"
#include "json/document.h"

/* The record's fields into an object, references that name nothing as null. */
void es_record_to_json(es_json *json, es_json_part *into, es_record_type type, const void *record);

/* trust: solved for all decks, NULL: not; then the key is null. */
es_status es_history_to_json(const es_history *history, const es_trust_result *trust, char **out);

es_status es_entries_to_json(const es_history *history, char **out);
es_status es_certificate_to_json(const es_tape_record *tape, char **out);
es_status es_certificates_to_json(const es_tape_record *tapes, size_t count, char **out);
es_status es_anchor_to_json(const es_anchor_outcome *outcome, char **out);
es_status es_anchor_form_to_json(const es_anchor_form *form, char **out);
es_status es_anchor_forms_to_json(const es_anchor_form *forms, size_t count, char **out);

#endif
