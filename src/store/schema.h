/*
 * The schema and its versions: schema/N.sql leads from version N - 1 to N, from nothing (0) on. A
 * new file goes through the same steps as an old one.
 */
#ifndef ES_STORE_SCHEMA_H
#define ES_STORE_SCHEMA_H

#include "store/inside.h"

extern const char *const es_schema_steps[]; /* made by embed.py at build */
extern const int es_schema_version;

/*
 * 0: a database without anything in it. ES_ERR_IO "not-records", "newer-records",
 * "damaged-records".
 */
es_status es_schema_find(const es_store *store, int *version, es_error *error);

/*
 * Brings the file up to date in one transaction; before that, unless it is new, a copy of it is
 * made beside it: path.version-N. Does nothing when it is up to date.
 * ES_ERR_IO "older-records": it can't be written.
 */
es_status es_schema_bring_up(es_store *store, const char *path, es_error *error);

/* ES_ERR_IO "damaged-records": a table or a column is missing. */
es_status es_schema_has_all(const es_store *store, es_error *error);

#endif
