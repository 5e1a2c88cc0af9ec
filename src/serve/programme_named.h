/* A programme by its name: a built-in one, or a file in the text form, which json reads and live judges. */
#ifndef ES_SERVE_PROGRAMME_NAMED_H
#define ES_SERVE_PROGRAMME_NAMED_H

#include "evenspool/base/error.h"
#include "evenspool/base/programme.h"

/* A whole programme, in order. ES_ERR_INPUT: it is not; with line and column when it is a file's.
 * ES_ERR_IO: the file can't be read. ES_ERR_NOMEM. */
es_status es_programme_named(const char *name, es_programme *out, es_error *error);

#endif
