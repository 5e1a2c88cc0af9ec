/*
 * The descriptions of all kinds of records (base/records.h), and blank records.
 *
 *   thread  no state
 */
#ifndef ES_BASE_RECORD_KINDS_H
#define ES_BASE_RECORD_KINDS_H

#include "evenspool/base/records.h"

/* ES_RECORD_TYPE_COUNT of them, in the order of es_record_type. */
const es_record_kind *es_record_kinds(void);

/* Nothing said and nothing known: ids and whole numbers 0, numbers NaN, texts ""; a job is with the speed. */
void es_record_blank(es_record_type type, void *record);

#endif
