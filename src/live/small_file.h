/* A small text file, read whole. */
#ifndef ES_LIVE_SMALL_FILE_H
#define ES_LIVE_SMALL_FILE_H

#include "evenspool/base/error.h"

#include <stddef.h>

/*
 * *text is the caller's to free, NULL on error; not terminated. ES_ERR_INPUT: "too-long" (more than
 * `most` bytes), "directory". ES_ERR_IO: "missing", "no-permission", "read-failed". ES_ERR_NOMEM.
 */
es_status es_small_file_read(const char *path, size_t most, char **text, size_t *length,
                             es_error *error);

#endif
