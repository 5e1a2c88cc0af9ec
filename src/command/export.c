/* evenspool export: all records as one JSON document. */
#include "command/record_counts.h"
#include "command/say.h"
#include "command/verb.h"
#include "evenspool/base/text.h"
#include "live/ledger.h"
#include "live/text_file.h"
#include "json/records_json.h"

#include <string.h>

enum { OUT, RECORDS, FORCE, JSON, OPTIONS };

static const es_option options[OPTIONS] = {
    [OUT] = {"out", 'o', ES_OPTION_FILE, "FILE",
             "Where the document goes; without it, to standard output.", 0.0, 0.0, NULL},
    [RECORDS] = {"records", 0, ES_OPTION_FILE, "FILE",
                 "The records, when they are not in the usual place.", 0.0, 0.0, NULL},
    [FORCE] = {"force", 0, ES_OPTION_FLAG, NULL, "Replace a file that is there already.", 0.0, 0.0,
               NULL},
    [JSON] = {"json", 0, ES_OPTION_FLAG, NULL,
              "Print JSON: with -o, how many records went out; without it, the document as always.",
              0.0, 0.0, NULL},
};

/* One export on its way: where from, where to. */
typedef struct export_job {
    char place[ES_LEDGER_PATH_ROOM]; /* of the records */
    const char *path;
    es_text_file *file;
    es_records_writer writer;
    es_exchange_counts counts;
    char now[ES_TIME_ROOM];
} export_job;

static int fail(const char *about, const es_error *error)
{
    es_say_error(about, error);
    return es_exit_of(error->status);
}

/* A stream that failed ends it without a sentence: the file's end has it. */
static es_status write_one(void *user, const es_record_kind *kind, const void *record,
                           es_error *error)
{
    es_records_writer *writer = user;
    es_status status = es_records_add(writer, kind, record, error);
    return status == ES_OK && ferror(writer->to) ? ES_ERR_IO : status;
}

static int write_all(export_job *job, es_exchange *exchange)
{
    es_error error = {0};
    es_exchange_now(job->now);
    es_records_begin(&job->writer, es_text_file_stream(job->file), job->now);
    es_status status = es_exchange_out(exchange, write_one, &job->writer, &job->counts, &error);
    es_records_end(&job->writer);
    if (status != ES_OK && error.status != ES_OK) {
        es_text_file_drop(job->file);
        return fail(job->place, &error);
    }
    if (es_text_file_keep(job->file, &error) != ES_OK)
        return fail(strcmp(job->path, "-") == 0 ? "standard output" : job->path, &error);
    return ES_EXIT_DONE;
}

static int tell(const export_job *job, int as_json)
{
    if (as_json)
        return es_record_counts_json(&(es_exchanged){.file = job->path,
                                                     .exported_at = job->now,
                                                     .written_by = ES_VERSION,
                                                     .counts = job->counts});
    char counts[400], sentence[800], shown[300];
    es_text text = es_text_over(sentence, sizeof sentence);
    es_text_add(&text, "Written to %s: %s.", es_shown(job->path, shown, sizeof shown),
                es_record_counts_text(&job->counts, counts, sizeof counts));
    es_wrap(stdout, "", "", sentence);
    return es_end_of_output(ES_EXIT_DONE);
}

static int run(const es_arguments *arguments)
{
    const es_option_value *v = arguments->values;
    es_error error = {0};
    es_exchange *exchange;
    export_job job = {.path = v[OUT].given ? v[OUT].text : "-"};
    if (es_ledger_where(v[RECORDS].text, job.place, sizeof job.place, &error) != ES_OK)
        return fail(v[RECORDS].text, &error);
    if (es_exchange_open(job.place, 0, &exchange, &error) != ES_OK)
        return fail(job.place, &error);
    int code;
    if (es_same_file(job.place, job.path)) {
        es_say(job.path, "These are the records themselves; name another file for the document.");
        code = ES_EXIT_USAGE;
    } else if (es_text_file_open(job.path, v[FORCE].given, &job.file, &error) != ES_OK) {
        code = fail(job.path, &error);
    } else {
        code = write_all(&job, exchange);
    }
    es_exchange_close(exchange);
    return code == ES_EXIT_DONE && v[OUT].given && strcmp(job.path, "-") != 0
               ? tell(&job, v[JSON].given)
               : code;
}

static const char *const details[] = {
    "Writes all decks, tapes, jobs, readings, plays and anchors of one moment as one JSON document "
    "(evenspool.records/2): as a backup, for another computer, or for programs of your own. "
    "Another program may go on writing meanwhile.",
    "Nothing is lost on the way out and in again: numbers are the same to the last bit, texts and "
    "the results of readings to the last byte. Pictures of decks are named in it, not contained.",
    "The file appears whole or not at all, and never in place of another unless --force is given.",
    NULL};

static const char *const examples[] = {"evenspool export -o records.json", "A backup.",
                                       "evenspool export --records old.db | evenspool import -",
                                       "All records of another file, added to your own.", NULL};

const es_verb es_verb_export = {.name = "export",
                                .about = "write all records as one JSON document",
                                .operands = "",
                                .operand_kind = "",
                                .options = options,
                                .option_count = OPTIONS,
                                .details = details,
                                .examples = examples,
                                .run = run};
