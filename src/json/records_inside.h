/* What records_json.c and records_write.c share. Private to the floor. */
#ifndef ES_JSON_RECORDS_INSIDE_H
#define ES_JSON_RECORDS_INSIDE_H

/* In place of an infinite number: JSON has none. */
#define ES_RECORDS_INFINITE "infinite"

#endif
