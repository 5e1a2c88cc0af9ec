/* How many records went out or came in, for people and for programs. */
#ifndef ES_COMMAND_RECORD_COUNTS_H
#define ES_COMMAND_RECORD_COUNTS_H

#include "live/exchange.h"

/* What `export` and `import` tell. Texts are NULL when they are not known. */
typedef struct es_exchanged {
    const char *file;        /* the document                   */
    const char *exported_at; /* as it says                     */
    const char *written_by;  /* version of the program, likewise */
    es_exchange_counts counts;
} es_exchanged;

/* "3 decks, 1 budget line", "no records" into room bytes, which it returns. */
const char *es_record_counts_text(const es_exchange_counts *counts, char *out, size_t room);

/* Prints evenspool.exchange/1. Returns an exit code. */
int es_record_counts_json(const es_exchanged *exchanged);

#endif
