/*
 * Where in a JSON text a value stands: for sentences that point at line and column.
 *
 *   in      a text that was read as JSON; any other is walked without harm, to no use
 *   path    keys and indices from the outermost value inward; keys as they are written (no escapes)
 *   lines   and columns from 1; a column is a character, not a byte
 *   thread  no shared state
 */
#ifndef ES_JSON_LOCATE_H
#define ES_JSON_LOCATE_H

#include <stddef.h>

#define ES_JSON_DEPTH 8

typedef struct es_json_step {
    const char *key; /* of an object; NULL: an array's element */
    size_t index;
} es_json_step;

typedef struct es_json_path {
    size_t depth;
    es_json_step step[ES_JSON_DEPTH];
} es_json_path;

typedef struct es_json_spot {
    size_t line, column;
    size_t depth; /* how far the path could be followed */
} es_json_spot;

/* Where the value begins that the path leads to, or the last value on the way that is there.
 * at_key: where its key begins instead, if it has one. */
es_json_spot es_json_locate(const char *text, size_t length, const es_json_path *path, int at_key);

#endif
