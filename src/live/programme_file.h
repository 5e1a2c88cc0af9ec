/*
 * Programmes by name: a built-in one, or the text of a file. Whoever reads the text (json knows how)
 * has it judged here.
 */
#ifndef ES_LIVE_PROGRAMME_FILE_H
#define ES_LIVE_PROGRAMME_FILE_H

#include "evenspool/base/error.h"
#include "evenspool/base/programme.h"

/*
 * A built-in programme: *out, and *text is NULL. Else the file of that name: *text, which is the caller's
 * to free and not terminated, and *out is empty. ES_ERR_INPUT: "no-programme", "too-long",
 * "directory". ES_ERR_IO: "no-permission", "read-failed". ES_ERR_NOMEM. *text is NULL on error.
 */
es_status es_programme_fetch(const char *name, es_programme *out, char **text, size_t *length,
                             es_error *error);

/* es_programme_check() of task/programme.h. */
es_status es_programme_judge(const es_programme *programme, es_programme_spot *spot,
                             es_error *error);

typedef struct es_programme_line {
    const char *name, *about;
    size_t side_count;
    double side_s[ES_PROGRAMME_SIDES]; /* lengths of the sides             */
    double side_most_s;                /* of the tape that it is meant for */
} es_programme_line;

/* 0: beyond the last of the built-in ones. */
int es_programme_line_at(size_t index, es_programme_line *out);

#endif
