#include "evenspool/base/nearest.h"

#include <string.h>

#define WORD_MOST 32

static size_t least(size_t a, size_t b, size_t c)
{
    size_t low = a < b ? a : b;
    return low < c ? low : c;
}

/* Insertions, deletions and exchanges between two words. */
static size_t distance(const char *a, const char *b)
{
    size_t row[WORD_MOST + 1], length = strlen(b);
    if (length > WORD_MOST)
        return WORD_MOST;
    for (size_t k = 0; k <= length; k++)
        row[k] = k;
    for (size_t i = 0; a[i]; i++) {
        size_t corner = row[0];
        row[0] = i + 1;
        for (size_t k = 0; k < length; k++) {
            size_t exchanged = corner + (a[i] != b[k]);
            corner = row[k + 1];
            row[k + 1] = least(exchanged, row[k] + 1, corner + 1);
        }
    }
    return row[length];
}

const char *es_nearest_word(const char *word, const char *const *list, size_t count)
{
    const char *best = NULL;
    size_t closest = strlen(word) / 3 + 1;
    for (size_t i = 0; i < count; i++) {
        size_t far = distance(word, list[i]);
        if (far <= closest && far < strlen(list[i])) {
            best = list[i];
            closest = far - (far > 0);
        }
    }
    return best;
}
