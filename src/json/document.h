/*
 * JSON documents, built key by key in the order in which they are to be printed.
 *
 *   numbers  9 significant digits; what is not finite is null
 *   text     must be UTF-8 for JSON: other bytes become U+FFFD
 *   memory   a document that could not take something in for want of memory says so when printed
 *   thread   one document, one thread at a time
 */
#ifndef ES_JSON_DOCUMENT_H
#define ES_JSON_DOCUMENT_H

#include "evenspool/base/status.h"

#include <stdint.h>

typedef struct es_json es_json;           /* a whole document; owns its parts  */
typedef struct es_json_part es_json_part; /* an object or array within it      */

/* ES_ERR_NOMEM; *out is NULL on error. The root is an object. */
es_status es_json_create(es_json **out);
/* The same with the two keys that every document of ours begins with: schema and version. */
es_status es_json_begin(const char *schema, es_json **out);
void es_json_destroy(es_json *json);
es_json_part *es_json_root(es_json *json);

/* Into an object under key; key NULL: appended to an array. A NULL part takes nothing in. */
void es_json_number(es_json *json, es_json_part *into, const char *key, double value);
void es_json_count(es_json *json, es_json_part *into, const char *key, int64_t value);
void es_json_truth(es_json *json, es_json_part *into, const char *key, int value);
void es_json_text(es_json *json, es_json_part *into, const char *key,
                  const char *value); /* NULL: null */
void es_json_null(es_json *json, es_json_part *into, const char *key);
es_json_part *es_json_object(es_json *json, es_json_part *into, const char *key);
es_json_part *es_json_array(es_json *json, es_json_part *into, const char *key);

/*
 * The text without a line end, on one line or indented; *out belongs to the caller (free).
 * ES_ERR_NOMEM: *out is NULL.
 */
es_status es_json_print(const es_json *json, int indented, char **out);

/* Prints and destroys it. */
es_status es_json_end(es_json *json, int indented, char **out);

#endif
