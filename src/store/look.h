/*
 * A look at a file before SQLite touches it: SQLite itself would make files beside it, and what
 * is refused has to stay as it is. (Header of a database file: sqlite.org/fileformat2.html, 1.3.)
 */
#ifndef ES_STORE_LOOK_H
#define ES_STORE_LOOK_H

#include "store/store.h"

#define ES_STORE_MARK 0x45765370 /* "EvSp": which program's database it is */

typedef struct es_look {
    int missing;  /* there is no file                                          */
    int empty;    /* it has no bytes                                           */
    int open;     /* a write-ahead log stands beside it: opened by another, or left by a kill */
    int log;      /* and there is something in it                              */
    int writable; /* the file and its folder                                   */
} es_look;

/*
 * ES_ERR_IO "not-a-file", "no-folder", "no-permission", "not-records", "damaged-records",
 * "newer-records". A missing file is no error.
 */
es_status es_look_at(const char *path, es_look *out, es_error *error);

es_status es_look_foreign(es_error *error); /* the sentence of "not-records" */
es_status es_look_newer(es_error *error);

#endif
