/*
 * The records file: everything the bench keeps, in one SQLite database.
 *
 *   use      open, then the functions of decks.h, tapes.h, jobs.h, readings.h, plays.h, anchors.h
 *            and exchange.h; close
 *   kept     what a function has acknowledged with ES_OK (inside a transaction: what _commit has)
 *            outlives a kill at any moment, and a power cut as far as the disk keeps its word.
 *            Nothing is half done: on error the records are as they were before the call
 *   others   any number of programs may read while one writes; a second writer waits for
 *            `patience`, then is told "locked"
 *   files    beside FILE: FILE-wal and FILE-shm while it is open, FILE.version-N before a change
 *            of the schema
 *   thread   one store, one thread at a time
 *   error    ES_ERR_IO and one of the codes
 *              "locked"           another program is writing
 *              "read-only"        write-protected, or opened with ES_STORE_READ
 *              "disk-full"        no room; nothing was changed
 *              "disk-failed"      the disk refused
 *              "damaged-records"  the file is not whole
 *              "transaction-lost" within a transaction: an earlier failure ended it
 *            ES_ERR_NOMEM; ES_ERR_INTERNAL "fault". Any function below may return these; what it
 *            returns besides is said at each
 */
#ifndef ES_STORE_STORE_H
#define ES_STORE_STORE_H

#include "evenspool/base/error.h"
#include "evenspool/base/records.h"

#define ES_STORE_PATIENCE_MS 5000
#define ES_STORE_PATH_ROOM 4096

typedef struct es_store es_store;

typedef enum es_store_mode {
    ES_STORE_READ,  /* nothing is written but what bringing an older file up to date takes */
    ES_STORE_WRITE, /* the file must be there                                              */
    ES_STORE_CREATE /* made with its folders when it is not there                          */
} es_store_mode;

/*
 * $XDG_DATA_HOME/evenspool/records.db, or .local/share below $HOME where XDG_DATA_HOME is not set
 * or not an absolute path.
 * ES_ERR_INPUT "no-home": neither says where. ES_ERR_SPACE: room too small. *out is "" on error.
 */
es_status es_store_default_path(char *out, size_t room, es_error *error);

/*
 * Opens, checks the whole file, and brings an older one up to date after taking a copy of it.
 * What is refused is left untouched.
 * ES_ERR_IO  "no-records"     there is no file, or an empty one, and mode is not ES_STORE_CREATE
 *            "not-records"    no database, or another program's
 *            "newer-records"  written by a newer version of this program
 *            "older-records"  to be brought up to date, but it can't be written
 *            "not-a-file"     a folder or a device
 *            "no-folder", "no-permission"
 * *out is NULL on error.
 */
es_status es_store_open(const char *path, es_store_mode mode, es_store **out, es_error *error);

/* As above with another patience [ms], 0 .. 600000; ES_ERR_ARG if it is not. */
es_status es_store_open_patiently(const char *path, es_store_mode mode, int patience_ms,
                                  es_store **out, es_error *error);

/* Rolls back what was begun and not committed. NULL is fine. */
void es_store_close(es_store *store);

/* Version of the schema that this program writes. */
int es_store_schema_version(void);

/*
 * Several changes as one: all of them are kept by _commit, or none. Not to be nested.
 * ES_ERR_ARG: _begin within a transaction, _commit or _rollback without one.
 */
es_status es_store_begin(es_store *store, es_error *error);
es_status es_store_commit(es_store *store, es_error *error); /* on error all is rolled back */
es_status es_store_rollback(es_store *store);

/* How to remove a record that others refer to. */
typedef enum es_removal {
    ES_REMOVE_UNUSED,      /* only if no record refers to it but its own parts             */
    ES_REMOVE_WITH_HISTORY /* with all that can't be without it; others lose the reference */
} es_removal;

/*
 * Said once for all kinds of records:
 *   add     record->id is 0; *id is the new one (NULL: not wanted).
 *           ES_ERR_INPUT "bad-value": a field breaks its rule; "name-taken": another
 *           record has this name; "unknown": it refers to a record that is not there;
 *           "contradiction": what it refers to does not belong together
 *   edit    all fields of the record with record->id become these. As add, and ES_ERR_INPUT
 *           "unknown": no such record
 *   show    ES_ERR_INPUT "unknown": no such record; *out is blank on error
 *   list    in order of id; *out is the caller's to free, NULL if there is none (and on error)
 *   remove  ES_ERR_INPUT "unknown"; "still-used": says by what
 */

#endif
