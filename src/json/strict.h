/*
 * Strict reading of JSON that came from outside: every key is known and there, every value of the
 * right kind, and what is not is refused with line and column. Private to the floor.
 *
 *   errors  ES_ERR_INPUT with the reader's code: "Line 14, column 21: ..." and what was expected
 *   thread  one reader, one thread at a time
 */
#ifndef ES_JSON_STRICT_H
#define ES_JSON_STRICT_H

#include "evenspool/base/error.h"
#include "json/locate.h"

#include <jansson.h>

typedef struct es_strict {
    const char *text; /* need not be terminated */
    size_t length;
    const char *code; /* of what is refused; may be changed on the way */
    es_error *error;
    es_json_path at; /* of the value that is being read */
} es_strict;

/* Parses the text; a key that is there twice is an error. ES_ERR_INPUT, ES_ERR_NOMEM; *root is NULL
 * on error. */
es_status es_strict_load(es_strict *reader, json_t **root);

/* Steps into the value under key, or (key NULL) into element `index`; _leave steps out again. */
void es_strict_enter(es_strict *reader, const char *key, size_t index);
void es_strict_leave(es_strict *reader);

/* Refuses the value under key, its key itself (at_key 1), or (key NULL) the value that is being
 * read. The sentence ends with a full stop. */
es_status es_strict_refuse(es_strict *reader, const char *key, int at_key, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* An object that holds all of these keys and no others; `what` names it: "a programme". */
es_status es_strict_object(es_strict *reader, json_t *object, const char *what,
                           const char *const *keys, size_t count);

/* The value of a key that is there. A text has to fit its room with the terminator. */
es_status es_strict_number(es_strict *reader, const json_t *object, const char *key, double *out);
es_status es_strict_text(es_strict *reader, const json_t *object, const char *key, char *out,
                         size_t room);

#endif
