/*
 * A text file that appears whole or not at all (wave/new_file.h tells the errors), or standard
 * output by the name "-".
 */
#ifndef ES_LIVE_TEXT_FILE_H
#define ES_LIVE_TEXT_FILE_H

#include "evenspool/base/error.h"

#include <stdio.h>

typedef struct es_text_file es_text_file;

/* replace: 1 = a file of that name may be replaced. *out is NULL on error. */
es_status es_text_file_open(const char *path, int replace, es_text_file **out, es_error *error);
FILE *es_text_file_stream(es_text_file *file);

/* The file is gone whatever is returned; ES_ERR_IO: it was not written. */
es_status es_text_file_keep(es_text_file *file, es_error *error);
/* NULL is fine. */
void es_text_file_drop(es_text_file *file);

/* 1: both names lead to one and the same file. */
int es_same_file(const char *a, const char *b);

#endif
