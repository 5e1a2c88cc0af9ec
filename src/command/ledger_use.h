/* What all verbs share that work with the records. */
#ifndef ES_COMMAND_LEDGER_USE_H
#define ES_COMMAND_LEDGER_USE_H

#include "command/options.h"
#include "live/ledger.h"

#define ES_RECORDS_OPTION                                                                          \
    {                                                                                              \
        "records", 0, ES_OPTION_FILE, "FILE",                                                      \
            "The records, when they are not in the usual place.", 0.0, 0.0, NULL                   \
    }
#define ES_RECORDS_JSON_OPTION                                                                     \
    {                                                                                              \
        "json", 0, ES_OPTION_FLAG, NULL, "Print JSON instead of text.", 0.0, 0.0, NULL             \
    }

typedef struct es_ledger_use {
    const char *path; /* of --records; NULL: the usual place */
    int json;
} es_ledger_use;

/*
 * Says what went wrong and, with --json, prints it as evenspool.error/1; returns the exit code.
 * Failures of the disk are said of the records' place, others of the command.
 */
int es_use_fail(const es_ledger_use *use, const es_error *error);
/* The same, said of a file. */
int es_use_fail_about(const es_ledger_use *use, const char *file, const es_error *error);

/*
 * The same, said of a capture: ES_EXIT_INPUT when it lies in that. alone: with --json it is the only document.
 */
int es_use_refuse(const es_ledger_use *use, const char *capture, int alone, const es_error *error);

/*
 * What is measured, by its names in the records; a name that is NULL is passed over. With a deck *out stays
 * open, also on error, to keep what comes of it; else it is NULL. Errors: es_ledger_tape_certificate(),
 * es_ledger_open(), es_ledger_deck().
 */
es_status es_use_look_up(const char *records, const char *tape_name, es_tape_record *tape,
                         const char *deck_name, es_deck_record *deck, es_ledger **out,
                         es_error *error);

/*
 * Keeps a reading with its document, which the json floor made (status is what it said) and which is freed;
 * says so when `told`. Returns the exit code.
 */
int es_use_keep(const es_ledger_use *use, es_ledger *ledger, const es_reading_entry *entry,
                es_status status, char *document, int told);

/* ES_EXIT_DONE, or what es_use_fail() says. */
int es_use_open(const es_ledger_use *use, es_ledger_mode mode, es_ledger **out);

/* What a verb does with the open records; returns the exit code. */
typedef int es_use_work(const es_ledger_use *use, es_ledger *ledger, const es_arguments *arguments);

/* All of such a verb: opens the records, works with them, closes them, and ends the output. */
int es_use_with(const es_ledger_use *use, es_ledger_mode mode, es_use_work *work,
                const es_arguments *arguments);

/* The same as es_use_open(), and begins changes that are to be kept as one: es_ledger_begin(). */
int es_use_begin(const es_ledger_use *use, es_ledger_mode mode, es_ledger **out);
/* Ends them with the worst of their statuses; says what went wrong. The ledger stays open. */
int es_use_end(const es_ledger_use *use, es_ledger *ledger, es_status status, es_error *error);

/*
 * Takes over a text for a record; NULL: it stays as it is. ES_ERR_ARG "too-long": what names it for the
 * sentence.
 */
es_status es_use_text(const char *what, const char *from, char *to, size_t room, es_error *error);

/* Prints a document that the json floor made and frees it; status is what it said. */
int es_use_print(es_status status, char *text);

/* With --json {"schema": "evenspool.done/1", "text"}, else the sentence. */
int es_use_done(const es_ledger_use *use, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

#endif
