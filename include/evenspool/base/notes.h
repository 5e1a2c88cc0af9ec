/* Notes: short lists of {code, sentence}, used for warnings and for a gate's reasons. */
#ifndef ES_BASE_NOTES_H
#define ES_BASE_NOTES_H

#include <stddef.h>

#define ES_NOTES_MOST 12

typedef struct es_note {
    char code[32];  /* lower-case words with hyphens      */
    char text[280]; /* one sentence with full stop        */
} es_note;

typedef struct es_notes {
    size_t count; /* 0 .. ES_NOTES_MOST */
    es_note at[ES_NOTES_MOST];
} es_notes;

/* Appends; a code that is already there, or a full list, is left as it is; NULL: nobody asks. */
void es_notes_add(es_notes *notes, const char *code, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* The note of that code, or NULL. */
const es_note *es_notes_find(const es_notes *notes, const char *code);

#endif
