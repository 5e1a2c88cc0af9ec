#include "evenspool/base/notes.h"

#include "evenspool/base/text.h"

#include <string.h>

const es_note *es_notes_find(const es_notes *notes, const char *code)
{
    for (size_t i = 0; i < notes->count; i++)
        if (strcmp(notes->at[i].code, code) == 0)
            return &notes->at[i];
    return NULL;
}

void es_notes_add(es_notes *notes, const char *code, const char *format, ...)
{
    if (!notes || notes->count == ES_NOTES_MOST || es_notes_find(notes, code))
        return;
    es_note *note = &notes->at[notes->count++];
    es_text word = es_text_over(note->code, sizeof note->code);
    es_text_add(&word, "%s", code);
    es_text sentence = es_text_over(note->text, sizeof note->text);
    va_list list;
    va_start(list, format);
    es_text_add_list(&sentence, format, list);
    va_end(list);
}
