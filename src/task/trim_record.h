/* The session's record: the last two minutes as they were, the whole session thinned to lows and
 * highs. */
#ifndef ES_TASK_TRIM_RECORD_H
#define ES_TASK_TRIM_RECORD_H

#include "evenspool/base/status.h"
#include "evenspool/base/trim_session.h"

typedef struct es_trim_record {
    es_trim_session *session;      /* trace kept as a ring */
    size_t trace_next;             /* where the next point goes */
    size_t block_points, in_block; /* per block of the course; in the last one so far */
} es_trim_record;

es_status es_trim_record_create(es_trim_record *record);
void es_trim_record_destroy(es_trim_record *record);

/* One point, 20 a second; NaN: no tone. */
void es_trim_record_point(es_trim_record *record, double time_s, double percent);

/* The record with its trace in order. */
void es_trim_record_copy(const es_trim_record *record, es_trim_session *out);

#endif
