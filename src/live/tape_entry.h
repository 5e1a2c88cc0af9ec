/* What the records show of a test tape's reading in their lists. */
#ifndef ES_LIVE_TAPE_ENTRY_H
#define ES_LIVE_TAPE_ENTRY_H

#include "evenspool/base/tape_result.h"
#include "live/ledger.h"

/* The figures of the entry, NaN where they are not known; the rest is blank. */
es_reading_entry es_tape_entry_of(const es_tape_result *result);

#endif
