/* The single numbers of a check's record by the names that they have in its JSON document. */
#ifndef ES_JSON_CHECK_FIGURES_H
#define ES_JSON_CHECK_FIGURES_H

#include "evenspool/base/check_result.h"

#include <stddef.h>

typedef struct es_check_figure {
    const char *group; /* "speed", "wow_flutter" ...                        */
    const char *key;   /* "error_percent" ...: unlike in all groups         */
    size_t at;         /* place of the double in es_check_result            */
    int limited;       /* 1: smaller is better, so a limit can be asked for */
} es_check_figure;

/* All of them in the order of the document; NULL beyond the last. */
const es_check_figure *es_check_figure_at(size_t index);

/* By key; NULL: no such figure. */
const es_check_figure *es_check_figure_named(const char *key);

double es_check_figure_of(const es_check_figure *figure, const es_check_result *result);

#endif
