/* What was written on a page, by its log: where it lies and what it says. For cmocka's tests. */
#ifndef ES_TESTS_WRITTEN_H
#define ES_TESTS_WRITTEN_H

#include "paper/pen.h"

#include <string.h>

static inline void assert_apart(es_box page, const es_text_log *log, const char *what)
{
    for (size_t i = 0; i < log->count; i++) {
        if (!es_box_holds(page, log->boxes[i]))
            fail_msg("%s: \"%s\" leaves the page", what, log->words[i]);
        for (size_t k = 0; k < i; k++)
            if (es_boxes_overlap(log->boxes[i], log->boxes[k]))
                fail_msg("%s: \"%s\" lies on \"%s\"", what, log->words[i], log->words[k]);
    }
}

static inline int is_written(const es_text_log *log, const char *text)
{
    for (size_t i = 0; i < log->count; i++)
        if (strncmp(log->words[i], text, strlen(text)) == 0)
            return 1;
    return 0;
}

static inline void assert_all_written(const es_text_log *log, const char *const *wanted,
                                      size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (!is_written(log, wanted[i]))
            fail_msg("\"%s\" is not on the page", wanted[i]);
}

#endif
