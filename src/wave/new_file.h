/*
 * A file that appears whole or not at all, and never in the place of another unasked: written
 * beside its name, then given it. A device or pipe of that name is written to directly.
 *
 *   use    open, write to fd, then keep or drop; one of both always
 *   error  ES_ERR_IO: "exists", "no-folder", "no-permission", "disk-full", "directory",
 *          "name-too-long", "write-failed"; ES_ERR_NOMEM
 */
#ifndef ES_WAVE_NEW_FILE_H
#define ES_WAVE_NEW_FILE_H

#include "evenspool/base/error.h"

typedef struct es_new_file {
    int fd;       /* -1: nothing is open                */
    char *target; /* final name                         */
    char *beside; /* name while written; NULL: directly */
    int replace;
} es_new_file;

/* replace: 1 = a plain file of that name may be replaced. On error nothing is left behind. */
es_status es_new_file_open(es_new_file *file, const char *path, int replace, es_error *error);

/* Closes fd and lets the file appear. On error it does not, and what stood there still stands. */
es_status es_new_file_keep(es_new_file *file, es_error *error);
void es_new_file_drop(es_new_file *file);

/* The sentence for a write that failed with this errno (0: not known why). */
es_status es_new_file_refused(int reason, es_error *error);

#endif
