/* evenspool tape read: measures captures of the home-made test tape. */
#include "command/ledger_use.h"
#include "command/progress.h"
#include "command/say.h"
#include "command/tape.h"
#include "command/tape_listen.h"
#include "command/tape_note.h"
#include "command/tape_read_options.h"
#include "live/tape_entry.h"
#include "json/tape_json.h"

#include <stdlib.h>
#include <string.h>

typedef struct job {
    es_tape_asked asked;
    es_ledger_use use;
    es_ledger *ledger; /* of --deck; NULL: nothing is kept */
    es_deck_record deck;
    es_tape_result *results; /* one for each capture; with --bias also at the end */
    size_t measured;
    es_paint paint;
    int shown, code;
} job;

static void worsen(job *j, int code)
{
    if (code > j->code)
        j->code = code;
}

/* --- one capture ------------------------------------------------------------------------------ */

static void show(job *j, const char *file, const es_tape_result *result)
{
    if (j->use.json) {
        char *text;
        es_status status = es_tape_to_json(result, file, j->asked.captures == 1, &text);
        worsen(j, es_use_print(status, text));
        return;
    }
    if (j->shown++)
        fputs("\n\n", stdout);
    es_tape_note_print(&j->paint, file, result);
}

/* capture NULL: it is not kept, so its hash can't be told. */
static void keep(job *j, const char *file, const char *capture, const es_tape_result *result)
{
    es_ledger_use use = {j->asked.records, 0}; /* with --json the capture has its document */
    char *document;
    if (!j->ledger)
        return;
    es_status status = es_tape_to_json(result, file, 1, &document);
    es_reading_entry entry = es_tape_entry_of(result);
    entry.deck = j->asked.deck;
    entry.tape = j->asked.tape_name;
    entry.schema = ES_TAPE_SCHEMA;
    entry.capture = capture;
    worsen(j, es_use_keep(&use, j->ledger, &entry, status, document, !j->use.json));
}

static void show_and_keep(job *j, const char *file, const char *capture,
                          const es_tape_result *result)
{
    show(j, file, result);
    if (es_tape_read_judge(&j->asked, result, file) > 0)
        worsen(j, ES_EXIT_OUTSIDE);
    keep(j, file, capture, result);
}

static void read_one(job *j, size_t at)
{
    const char *file = j->asked.arguments->operands[at];
    es_error error = {0};
    es_progress progress = es_progress_of(file);
    es_tape_result *result = &j->results[j->asked.bias_count ? j->measured : 0];
    j->asked.settings.watch = (es_measure_watch){.who = &progress, .progress = es_progress_tell};
    es_status status = es_measure_tape(file, &j->asked.settings, result, &error);
    es_progress_end(&progress);
    if (status != ES_OK) {
        worsen(j, es_use_refuse(&j->use, file, j->asked.captures == 1, &error));
        return;
    }
    if (j->asked.bias_count)
        memcpy(result->bias, j->asked.bias[at], sizeof result->bias);
    j->measured++;
    show_and_keep(j, file, file, result);
}

/* The tape while it plays. */
static void listen(job *j)
{
    es_error error = {0};
    es_tape_result *result = &j->results[0];
    const char *about;
    int around;
    j->asked.session.reading = j->asked.settings;
    es_status status =
        es_tape_listen(&j->asked.session, j->use.json, result, &around, &about, &error);
    if (status == ES_OK) {
        if (j->asked.bias_count)
            memcpy(result->bias, j->asked.bias[0], sizeof result->bias);
        show_and_keep(j, j->asked.session.source,
                      j->asked.session.record_path[0] ? j->asked.session.record_path : NULL,
                      result);
    } else {
        worsen(j, es_use_fail_about(&j->use, about, &error));
    }
    worsen(j, around);
}

static void compare_biases(const job *j)
{
    const es_tape_result *results[ES_TAPE_BIASES_MOST];
    for (size_t i = 0; i < j->measured; i++)
        results[i] = &j->results[i];
    if (j->asked.bias_count > 1 && j->measured > 1 && !j->use.json)
        es_tape_note_bias(&j->paint, results, j->measured);
}

/* --- all of them ------------------------------------------------------------------------------- */

/* What the records know of tape and deck. */
static es_status ask_records(job *j, es_error *error)
{
    es_tape_asked *a = &j->asked;
    es_status status =
        es_use_look_up(a->records, a->tape_name, &a->tape, a->deck, &j->deck, &j->ledger, error);
    if (a->tape_name)
        a->settings.tape = &a->tape;
    if (!a->deck)
        return status;
    if (status == ES_OK)
        status = es_geometry_of(NULL, &j->deck, a->settings.tape, &a->geometry, error);
    a->settings.geometry = &a->geometry;
    return status;
}

static int read_all(job *j, const es_arguments *arguments)
{
    const char *about;
    es_error error = {0};
    es_status status = es_tape_read_ask(arguments, &j->asked, &about, &error);
    j->use = (es_ledger_use){j->asked.records, j->asked.json};
    if (status != ES_OK && about)
        return es_use_fail_about(&j->use, about, &error);
    if (status == ES_OK)
        status = ask_records(j, &error);
    if (status != ES_OK)
        return es_use_fail(&j->use, &error);
    j->paint = es_paint_for(stdout, j->asked.colour);
    if (j->asked.session.source[0])
        listen(j);
    for (int i = 0; i < arguments->operand_count; i++)
        read_one(j, (size_t)i);
    compare_biases(j);
    return es_end_of_output(j->code);
}

static int run(const es_arguments *arguments)
{
    job *j = calloc(1, sizeof *j); /* large */
    es_tape_result *results = calloc(ES_TAPE_BIASES_MOST, sizeof *results);
    int code = ES_EXIT_AROUND;
    if (j && results) {
        j->results = results;
        code = read_all(j, arguments);
        es_ledger_close(j->ledger);
    } else {
        es_say(NULL, "There is not enough memory.");
    }
    free(results);
    free(j);
    return code;
}

static const char *const details[] = {
    "Measures captures of the home-made test tape, each of one side played through: speed, wow and "
    "flutter, azimuth, level and balance, response, noise, distortion, separation and polarity, "
    "each with its uncertainty where one can be given, and one line for each adjustment: leave, "
    "adjust, or look first.",
    "The tape's markers say which programme and side it is, so nothing need be told. The capture "
    "may begin late or end early, and the tape may have been stopped in between: what was heard is "
    "measured, what was not is named. What lies before the first marker is lost.",
    "The recording deck coloured the tape: without --recorded-response the response is that of "
    "both decks and the tape together, and the azimuth is that between both heads.",
    "CAPTURE is an audio file (WAV, RF64, W64, AIFF, FLAC, Ogg ...) or - for standard input. With "
    "--json one document (schema evenspool.tape/1) for each capture goes to standard output; a "
    "capture that can't be used yields one of schema evenspool.error/1. docs/guide/tape-read.md "
    "leads through it and tells how a file of limits is written.",
    "With --source it listens while the tape plays: a line for each section as it ends, with its "
    "first figures, then the note. It ends with the side, after 30 seconds of silence, or with q "
    "or Ctrl-C; what was heard until then is measured. A device that vanishes is waited for, and "
    "input that was lost is named. With --json the lines go to standard error.",
    "To find the bias of a deck that records: record the programme at several settings, play each "
    "and name the captures together with --recorded-here --bias.",
    "Heads are near what moves, and mains voltage may be near the trimmers of an open deck. Use "
    "tools that are not magnetic and do not conduct, and follow the rules where you live.",
    NULL};

static const char *const examples[] = {
    "evenspool tape read side-a.wav",
    "The note for the bench.",
    "evenspool tape read --source rehearse:skewed-head --programme cassette-short --unpaced",
    "Practice: an imaginary deck whose head leans plays the short programme.",
    "evenspool tape read --tape \"my tape\" --level -12 --json side-a.flac > side-a.json",
    "Speed with the tape's certificate, level against -12 dB full scale; kept as JSON.",
    "evenspool tape read --tape \"my tape\" --deck Attic --expect speed,azimuth side-a.wav",
    "Kept with the deck's readings; ends with 1 when speed or azimuth is not as it should be.",
    "evenspool tape read --recorded-response side-a.json other-deck.wav",
    "The response of another deck alone, the tape's share taken off.",
    "evenspool tape read --source device:line --record side-a.flac --tape \"my tape\"",
    "While the tape plays, with the raw capture kept.",
    "evenspool tape read --recorded-here --bias low,middle,high low.wav middle.wav high.wav",
    "Which bias brings treble back as it was sent.",
    NULL};

const es_verb es_verb_tape_read = {.name = "tape read",
                                   .about = "measure captures of the home-made test tape",
                                   .operands = "[CAPTURE...]",
                                   .operands_most = 10000,
                                   .operand_kind = "file",
                                   .options = es_tape_read_options,
                                   .option_count = ES_TAPE_READ_OPTIONS,
                                   .details = details,
                                   .examples = examples,
                                   .run = run};
