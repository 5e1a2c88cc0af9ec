/* evenspool check: measures captures of a test tone. */
#include "command/check_options.h"
#include "command/expect.h"
#include "command/ledger_use.h"
#include "command/note.h"
#include "command/progress.h"
#include "command/say.h"
#include "command/speed_table.h"
#include "command/verb.h"
#include "live/measure.h"
#include "live/picture.h"
#include "live/text_file.h"
#include "json/check_json.h"

#include <math.h>
#include <string.h>
#include <unistd.h>

typedef struct on_the_way {
    es_progress progress;
    es_speed_table table;
} on_the_way;

typedef struct job {
    es_check_asked asked;
    es_ledger_use use;
    es_ledger *ledger; /* of --deck; NULL: nothing is kept */
    es_deck_record deck;
    es_tape_record tape;
    es_paint paint;
    int shown; /* captures that something was printed of */
    int code;  /* the worst so far */
} job;

static void worsen(job *j, int code)
{
    if (code > j->code)
        j->code = code;
}

/* --- one capture --------------------------------------------------------------------- */

/* Not when standard output is for something else. */
static int prints_note(const job *j)
{
    return !j->asked.json && (!j->asked.table || strcmp(j->asked.table, "-") != 0);
}

static void keep(job *j, const char *file, const es_check_result *result)
{
    es_ledger_use use = {j->asked.records, 0}; /* with --json the capture has its document */
    char *document;
    if (!j->ledger)
        return;
    es_status status = es_check_to_json(result, file, j->asked.alone, &document);
    es_reading_entry entry = {.deck = j->asked.deck,
                              .tape = j->asked.tape,
                              .schema = "evenspool.check/1",
                              .capture = file,
                              .error_percent = result->speed.error_percent,
                              .u95_percent = result->speed.u95_percent,
                              .weighted_quasi_peak_percent =
                                  result->flutter.weighted_quasi_peak_percent};
    worsen(j, es_use_keep(&use, j->ledger, &entry, status, document, prints_note(j)));
}

static void show(job *j, const char *file, const es_check_result *result)
{
    if (j->asked.json) {
        char *text;
        es_status status = es_check_to_json(result, file, j->asked.alone, &text);
        worsen(j, es_use_print(status, text));
    } else if (prints_note(j)) {
        if (j->shown++)
            fputs("\n\n", stdout);
        es_note_print(&j->paint, file, result);
    }
    if (es_expect_judge(&j->asked.expect, result, file) > 0)
        worsen(j, ES_EXIT_OUTSIDE);
}

static void draw(job *j, const char *file, const es_check_result *result)
{
    es_error error = {0};
    if (!j->asked.picture)
        return;
    const char *slash = strrchr(file, '/');
    const char *title = slash ? slash + 1 : es_input_name(file);
    es_status status = es_picture_write(result, title, j->asked.measure.tolerance_percent,
                                        j->asked.picture, &error);
    if (status != ES_OK) {
        es_say_error(j->asked.picture, &error);
        worsen(j, es_exit_of(status));
    }
}

static void close_table(job *j, es_speed_table *table, es_status measured)
{
    es_error error = {0};
    if (measured != ES_OK) {
        es_speed_table_drop(table);
    } else if (es_speed_table_keep(table, &error) != ES_OK) {
        es_say_error(j->asked.table, &error);
        worsen(j, ES_EXIT_AROUND);
    }
}

static void tell_progress(void *who, double done_s, double share)
{
    es_progress_tell(&((on_the_way *)who)->progress, done_s, share);
}

static int add_speed(void *who, double time_s, double error_percent)
{
    return es_speed_table_add(&((on_the_way *)who)->table, time_s, error_percent);
}

static es_status measure(job *j, const char *file, on_the_way *way, es_check_result *result,
                         es_error *error)
{
    es_measure_settings settings = j->asked.measure;
    settings.watch = (es_measure_watch){
        .who = way, .progress = tell_progress, .speed = way->table.file ? add_speed : NULL};
    way->progress = es_progress_of(file);
    es_status status = es_measure(file, &settings, result, error);
    es_progress_end(&way->progress);
    if (strcmp(error->code, "stopped") == 0) { /* by the table: closing it says why */
        close_table(j, &way->table, ES_OK);
        return status;
    }
    close_table(j, &way->table, status);
    if (status != ES_OK)
        worsen(j, es_use_refuse(&j->use, file, j->asked.alone, error));
    return status;
}

static void check_one(job *j, const char *file)
{
    es_error error = {0};
    on_the_way way;
    static es_check_result result; /* large */
    if (es_speed_table_open(&way.table, j->asked.table, &error) != ES_OK) {
        es_say_error(j->asked.table, &error);
        worsen(j, ES_EXIT_AROUND);
        return;
    }
    if (measure(j, file, &way, &result, &error) != ES_OK)
        return;
    show(j, file, &result);
    draw(j, file, &result);
    keep(j, file, &result);
}

/* --- all of them ---------------------------------------------------------------------- */

/* What the records know of tape and deck. ES_EXIT_DONE, or what they can't be asked for. */
static int ask_records(job *j)
{
    es_error error = {0};
    es_check_asked *c = &j->asked;
    es_status status =
        es_use_look_up(c->records, c->tape, &j->tape, c->deck, &j->deck, &j->ledger, &error);
    c->measure.tape = c->tape ? &j->tape : NULL;
    c->measure.deck = c->deck ? &j->deck : NULL;
    return status == ES_OK ? ES_EXIT_DONE : es_use_fail(&j->use, &error);
}

static int run(const es_arguments *arguments)
{
    es_error error = {0};
    static job j; /* large */
    j = (job){0};
    if (es_check_ask(arguments, &j.asked, &error) != ES_OK) {
        es_say(NULL, "%s", error.text);
        return ES_EXIT_USAGE;
    }
    j.use = (es_ledger_use){j.asked.records, j.asked.json};
    j.paint = es_paint_for(stdout, j.asked.colour);
    j.code = ask_records(&j);
    for (int i = 0; i < arguments->operand_count && (i > 0 || j.code == ES_EXIT_DONE); i++)
        check_one(&j, arguments->operands[i]);
    es_ledger_close(j.ledger);
    return es_end_of_output(j.code);
}

static const char *const details[] = {
    "Measures captures of a played test tone: how fast the deck runs and how far that can be "
    "believed, how it drifts, wow and flutter, which turning part is behind it, and whether to "
    "adjust, to look first, or to leave the deck alone. Percentages of speed are + for fast and - "
    "for slow.",
    "CAPTURE is an audio file (WAV, RF64, W64, AIFF, FLAC, Ogg ...) or - for standard input: WAV "
    "or, "
    "with --raw, samples without a head. A test tone is recognised by itself when it is a usual "
    "one; "
    "otherwise name it with --tone.",
    "Without --json a note for the bench is printed. With it, one JSON document for each capture, "
    "and nothing else, goes to standard output; with several captures each stands on a line of its "
    "own, and one that can't be used yields a document of schema evenspool.error/1.",
    "Limits for --expect are named as in the JSON document: error_percent, u95_percent, cents, "
    "heard_percent, drift_percent_per_min, start_percent, end_percent, "
    "weighted_two_sigma_percent, weighted_quasi_peak_percent, weighted_rms_percent, "
    "unweighted_peak_percent, unweighted_rms_percent, wow_rms_percent, flutter_rms_percent, "
    "clipped_percent, delay_us, level_difference_db. The unit may be left out. A figure without "
    "its sign must not be larger than the limit; one that is not known is outside of any.",
    "Mains voltage may be near the trimmer of an open deck. Use a tool that does not conduct, and "
    "follow the rules where you live, also about who may do such work.",
    NULL};

static const char *const examples[] = {
    "evenspool check capture.wav",
    "The note for the bench.",
    "evenspool check --tone 3000 --tape-error 0.4 --tape-u95 0.1 --picture deck.pdf capture.flac",
    "A 3000 Hz tape whose recording deck ran 0.4 % fast, known within 0.1 %; also draws a page.",
    "evenspool check --tape T1 --deck Workshop capture.wav",
    "Tape and deck as the records know them; the reading is kept.",
    "evenspool check --json --expect error=0.5,weighted_two_sigma=0.2 *.wav",
    "For a script: ends with 1 when a figure is outside.",
    "evenspool check --raw s16le,48000,2 --csv speed.csv - < samples",
    "Raw samples from standard input, and the speed from instant to instant as a table.",
    NULL};

const es_verb es_verb_check = {.name = "check",
                               .about = "measure captures of a test tone and say what to do",
                               .operands = "CAPTURE...",
                               .operands_least = 1,
                               .operands_most = 10000,
                               .operand_kind = "file",
                               .options = es_check_options,
                               .option_count = ES_CHECK_OPTIONS,
                               .details = details,
                               .examples = examples,
                               .run = run};
