/*
 * The table of --csv: "time_s,speed_error_percent", one line for each instant, an empty field where
 * no good tone was. Replaces a table of that kind, never another file.
 */
#ifndef ES_COMMAND_SPEED_TABLE_H
#define ES_COMMAND_SPEED_TABLE_H

#include "evenspool/base/error.h"
#include "live/text_file.h"

#include <stdio.h>

typedef struct es_speed_table {
    es_text_file *file; /* NULL: no table is wanted */
} es_speed_table;

/* path NULL: no table. ES_ERR_IO: as es_text_file_open(), "exists" for a file that is no table. */
es_status es_speed_table_open(es_speed_table *table, const char *path, es_error *error);

/* who: es_speed_table *. 0: can't be written, stop. */
int es_speed_table_add(void *who, double time_s, double error_percent);

es_status es_speed_table_keep(es_speed_table *table, es_error *error);
void es_speed_table_drop(es_speed_table *table);

#endif
