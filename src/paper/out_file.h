/*
 * A file that appears whole or not at all: written beside its name, then renamed.
 *
 *   use     open, write ..., then keep (renames) or drop (removes); one of both always
 *   error   ES_ERR_IO, one sentence: no such folder, no permission, disk full, not a plain file
 */
#ifndef ES_PAPER_OUT_FILE_H
#define ES_PAPER_OUT_FILE_H

#include "evenspool/base/error.h"

#include <stddef.h>
#include <stdio.h>

typedef struct es_out_file {
    FILE *stream;
    char *target; /* final name, links followed   */
    char *beside; /* name while it is written     */
    int fault;    /* errno of the first bad write */
} es_out_file;

/* ES_ERR_IO, ES_ERR_NOMEM; on error nothing is left open or behind. */
es_status es_out_file_open(es_out_file *file, const char *path, es_error *error);
/* 0 when it could not be written; the reason is kept for _keep. */
int es_out_file_write(es_out_file *file, const unsigned char *bytes, size_t count);
/* Makes the file appear. ES_ERR_IO: it did not, and what stood there before still stands. */
es_status es_out_file_keep(es_out_file *file, es_error *error);
void es_out_file_drop(es_out_file *file);

#endif
