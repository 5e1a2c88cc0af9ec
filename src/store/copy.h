/* A copy of the records beside them, before something is done that can't be undone. */
#ifndef ES_STORE_COPY_H
#define ES_STORE_COPY_H

#include "store/inside.h"

/*
 * path.version-N, or path.version-N-2, -3 ... where that name is taken; on the disk when this
 * returns, its name in out[ES_STORE_PATH_ROOM]. On error none is left and out is "". The caller
 * holds the right to write, so that the copy is what is changed next.
 */
es_status es_copy_beside(const es_store *store, const char *path, int version, char *out,
                         es_error *error);

/* Writes a folder's entries to the disk: the folder that holds path. */
void es_copy_settle_folder(const char *path);

#endif
