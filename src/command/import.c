/* evenspool import: takes in all records of a JSON document, or none. */
#include "command/record_counts.h"
#include "command/say.h"
#include "command/verb.h"
#include "evenspool/base/text.h"
#include "live/ledger.h"
#include "json/records_json.h"

#include <stdlib.h>
#include <string.h>

enum { RECORDS, JSON, OPTIONS };

static const es_option options[OPTIONS] = {
    [RECORDS] = {"records", 0, ES_OPTION_FILE, "FILE",
                 "The records, when they are not in the usual place; begun if they are not there.",
                 0.0, 0.0, NULL},
    [JSON] = {"json", 0, ES_OPTION_FLAG, NULL, "Print what came in as JSON.", 0.0, 0.0, NULL},
};

static int fail(const char *about, const es_error *error)
{
    es_say_error(about, error);
    return es_exit_of(error->status);
}

static es_status give(const void *document, es_exchange_step step, void *user, es_error *error)
{
    return es_records_give(document, step, user, error);
}

static es_status read_document(const char *path, es_records_document **out, es_error *error)
{
    char *text;
    size_t length;
    *out = NULL;
    es_status status = es_exchange_load(path, &text, &length, error);
    if (status == ES_OK)
        status = es_records_read(text, length, out, error);
    free(text);
    return status;
}

static int tell(const es_exchanged *exchanged, int as_json)
{
    if (as_json)
        return es_record_counts_json(exchanged);
    char counts[400], sentence[1000], shown[300], when[80], version[80];
    es_text text = es_text_over(sentence, sizeof sentence);
    es_text_add(&text, "Taken in from %s (exported %s by version %s): %s.",
                es_shown(exchanged->file, shown, sizeof shown),
                es_shown(exchanged->exported_at, when, sizeof when),
                es_shown(exchanged->written_by, version, sizeof version),
                es_record_counts_text(&exchanged->counts, counts, sizeof counts));
    es_wrap(stdout, "", "", sentence);
    return es_end_of_output(ES_EXIT_DONE);
}

/* What is wrong with the document is said of it, what is wrong with the records of them. */
static int take_in(const char *file, const char *place, const es_records_document *document,
                   int as_json)
{
    es_error error = {0};
    es_exchange *exchange;
    es_exchanged exchanged = {.file = file,
                              .exported_at = es_records_exported_at(document),
                              .written_by = es_records_version(document)};
    es_status status = es_exchange_open(place, 1, &exchange, &error);
    if (status != ES_OK)
        return fail(place, &error);
    status = es_exchange_in(exchange, give, document, &exchanged.counts, &error);
    es_exchange_close(exchange);
    if (status != ES_OK)
        return fail(status == ES_ERR_INPUT ? file : place, &error);
    return tell(&exchanged, as_json);
}

static int run(const es_arguments *arguments)
{
    const es_option_value *v = arguments->values;
    const char *path = arguments->operands[0];
    const char *file = es_input_name(path);
    char place[ES_LEDGER_PATH_ROOM];
    es_error error = {0};
    es_records_document *document;
    if (es_ledger_where(v[RECORDS].text, place, sizeof place, &error) != ES_OK)
        return fail(v[RECORDS].text, &error);
    if (read_document(path, &document, &error) != ES_OK)
        return fail(file, &error);
    int code = take_in(file, place, document, v[JSON].given);
    es_records_destroy(document);
    return code;
}

static const char *const details[] = {
    "Takes in all records of a document that evenspool export has written; - is standard input. "
    "All of them come in, or none: anything that is wrong is said with its place, and nothing is "
    "changed.",
    "Into records that are empty or not there yet the numbers of the records are kept. Into others "
    "they move up behind those that are there, and what refers to them with them. A deck or a tape "
    "of a name that is there already refuses the whole import: rename or remove one of them "
    "first.",
    "The whole document is held in memory while it is read: up to ten times its size.", NULL};

static const char *const examples[] = {"evenspool import records.json", "A backup comes back.",
                                       "evenspool import --records try.db records.json",
                                       "The same into a file of its own, to have a look.", NULL};

const es_verb es_verb_import = {.name = "import",
                                .about = "take in the records of an exported document",
                                .operands = "FILE",
                                .operands_least = 1,
                                .operands_most = 1,
                                .operand_kind = "file",
                                .options = options,
                                .option_count = OPTIONS,
                                .details = details,
                                .examples = examples,
                                .run = run};
