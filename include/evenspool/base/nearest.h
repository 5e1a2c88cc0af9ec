/* Words and names that were misspelt. */
#ifndef ES_BASE_NEAREST_H
#define ES_BASE_NEAREST_H

#include <stddef.h>

/* The word of the list that `word` was probably meant to be, or NULL. */
const char *es_nearest_word(const char *word, const char *const *list, size_t count);

#endif
