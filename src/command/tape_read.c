/* evenspool tape read: measures captures of the home-made test tape. */
#include "command/check_options.h"
#include "command/ledger_use.h"
#include "command/programme_option.h"
#include "command/progress.h"
#include "command/say.h"
#include "command/tape.h"
#include "command/tape_listen.h"
#include "command/tape_note.h"
#include "live/measure_tape.h"
#include "live/small_file.h"
#include "live/text_file.h"
#include "json/check_json.h"
#include "json/tape_json.h"

#include <stdlib.h>
#include <string.h>

#define BIASES_MOST 12
#define READING_MOST ((size_t)1 << 20)

enum {
    SOURCE,
    UNPACED,
    RECORD,
    FORCE,
    TAPE,
    RECORDS,
    TAPE_ERROR,
    TAPE_U95,
    CLOCK_PPM,
    PROGRAMME,
    LIMITS,
    LEVEL,
    RECORDED_RESPONSE,
    RECORDED_HERE,
    BIAS,
    JSON,
    RAW,
    COLOR,
    OPTIONS
};

static const es_option options[OPTIONS] = {
    [SOURCE] =
        {"source", 's', ES_OPTION_WORD, "SOURCE",
         "Instead of a capture: listen to device:NAME while the tape plays (evenspool inputs "
         "lists the names; device: alone is the preferred input), or to file:PATH in the "
         "same way.",
         0.0, 0.0, NULL},
    [UNPACED] = {"unpaced", 0, ES_OPTION_FLAG, NULL,
                 "With --source file: run it as fast as it goes, not in real time.", 0.0, 0.0,
                 NULL},
    [RECORD] = {"record", 0, ES_OPTION_FILE, "FILE",
                "With --source: keep the raw capture, .wav or .flac; written as it comes, at least "
                "once a second.",
                0.0, 0.0, NULL},
    [FORCE] = {"force", 0, ES_OPTION_FLAG, NULL,
               "With --record: replace a file that is there already.", 0.0, 0.0, NULL},
    [TAPE] = {"tape", 't', ES_OPTION_WORD, "NAME",
              "The tape by the name under which it is kept in the records: its certificate is "
              "taken off the speed.",
              0.0, 0.0, NULL},
    [RECORDS] = ES_RECORDS_OPTION,
    [TAPE_ERROR] = {"tape-error", 0, ES_OPTION_NUMBER, "PERCENT",
                    "Instead of --tape: speed error of the deck that recorded it, + for fast.",
                    -50.0, 50.0, NULL},
    [TAPE_U95] = {"tape-u95", 0, ES_OPTION_NUMBER, "PERCENT",
                  "Expanded uncertainty (95 %, k = 2) of --tape-error, or of 0 without it.", 0.0,
                  50.0, NULL},
    [CLOCK_PPM] = {"clock-ppm", 0, ES_OPTION_NUMBER, "PPM",
                   "Error of the sound card's clock in millionths, + when it samples fast; taken "
                   "off the result.",
                   -10000.0, 10000.0, NULL},
    [PROGRAMME] = {"programme", 'p', ES_OPTION_WORD, "NAME|FILE",
                   "Programme of your own that the tape may hold; the built-in ones are known by "
                   "their markers.",
                   0.0, 0.0, ES_PROGRAMME_CHOICES},
    [LIMITS] = {"limits", 0, ES_OPTION_WORD, "NAME|FILE",
                "Limits that the figures are held against: cassette, reel, or a file of your own; "
                "without it what is usual for the class.",
                0.0, 0.0, "cassette|reel"},
    [LEVEL] = {"level", 0, ES_OPTION_NUMBER, "DBFS",
               "What the tape's reference level should read, the peak of the sine against full "
               "scale, by a tape that is known.",
               -80.0, 20.0, NULL},
    [RECORDED_RESPONSE] = {"recorded-response", 0, ES_OPTION_FILE, "FILE",
                           "An earlier reading (--json) of the same tape on a deck that plays "
                           "flat: what it shows is the tape's share, which is taken off.",
                           0.0, 0.0, NULL},
    [RECORDED_HERE] = {"recorded-here", 0, ES_OPTION_FLAG, NULL,
                       "The deck that plays the tape also recorded it: the figures are those of "
                       "recording and playing together.",
                       0.0, 0.0, NULL},
    [BIAS] = {"bias", 0, ES_OPTION_WORD, "NOTE,...",
              "With --recorded-here: your notes of the bias with which each capture was recorded, "
              "as many as captures; they are compared at the end.",
              0.0, 0.0, NULL},
    [JSON] = {"json", 0, ES_OPTION_FLAG, NULL, "Print JSON instead of the note.", 0.0, 0.0, NULL},
    [RAW] = {"raw", 0, ES_OPTION_WORD, "CODING,RATE,CHANNELS",
             "The capture is samples without a head, for example s16le,48000,2; evenspool check "
             "--help lists the codings.",
             0.0, 0.0, NULL},
    [COLOR] = {"color", 0, ES_OPTION_CHOICE, "WHEN",
               "Emphasis in the note: auto (on a terminal, and not with NO_COLOR), always or "
               "never.",
               0.0, 0.0, "auto|always|never"},
};

typedef struct job {
    const es_arguments *arguments;
    es_measure_tape_settings settings;
    es_ledger_use use;
    es_programme programme;
    es_tape_limits limits;
    es_tape_record tape;
    es_tape_result recorded;
    es_tape_session_config session; /* of --source; its source "": captures are read */
    es_tape_result *results;        /* one for each capture; with --bias also at the end */
    char bias[BIASES_MOST][sizeof((es_tape_result *)0)->bias];
    size_t bias_count, measured;
    es_paint paint;
    int shown, code;
} job;

static const es_option_value *value_of(const job *j, int option)
{
    return &j->arguments->values[option];
}

static void worsen(job *j, int code)
{
    if (code > j->code)
        j->code = code;
}

static size_t capture_count(const job *j)
{
    return j->session.source[0] ? 1 : (size_t)j->arguments->operand_count;
}

/* --- what was asked for -------------------------------------------------------------------- */

static const char *what_is_wrong_with_source(const job *j)
{
    const char *source = value_of(j, SOURCE)->text, *record = value_of(j, RECORD)->text;
    int captures = j->arguments->operand_count;
    if (!source && captures == 0)
        return "Name a CAPTURE to read, or with --source what to listen to while the tape plays.";
    if (source && captures > 0)
        return "A CAPTURE and --source don't go together: name one of them.";
    if (!source && (value_of(j, UNPACED)->given || record))
        return record ? "--record keeps what --source hears; name one."
                      : "--unpaced goes with --source only.";
    if (value_of(j, FORCE)->given && !record)
        return "--force goes with --record only.";
    if (source && value_of(j, RAW)->given)
        return "--raw is for a CAPTURE; leave it out with --source.";
    if (source && record && strncmp(source, "file:", 5) == 0 && es_same_file(record, source + 5))
        return "--record names the source itself, which would be lost; name another file.";
    if (source && (!source[0] || strlen(source) >= sizeof j->session.source))
        return "--source wants device:NAME or file:PATH.";
    if (record && strlen(record) >= sizeof j->session.record_path)
        return "--record names a file whose name is too long.";
    return NULL;
}

static es_status read_source(job *j, es_error *error)
{
    const char *wrong = what_is_wrong_with_source(j);
    const char *source = value_of(j, SOURCE)->text, *record = value_of(j, RECORD)->text;
    if (wrong)
        return es_fail(error, ES_ERR_ARG, "usage", "%s", wrong);
    j->session.unpaced = value_of(j, UNPACED)->given;
    j->session.record_replace = value_of(j, FORCE)->given;
    if (source)
        memcpy(j->session.source, source, strlen(source) + 1);
    if (record)
        memcpy(j->session.record_path, record, strlen(record) + 1);
    return ES_OK;
}

static es_status read_biases(job *j, es_error *error)
{
    const char *at = value_of(j, BIAS)->text;
    size_t captures = capture_count(j);
    if (!at)
        return ES_OK;
    if (!j->settings.recorded_here)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--bias belongs to the deck's own recordings; write --recorded-here with "
                       "it.");
    while (at && j->bias_count < BIASES_MOST) {
        const char *comma = strchr(at, ',');
        size_t length = comma ? (size_t)(comma - at) : strlen(at);
        if (length == 0 || length >= sizeof j->bias[0])
            return es_fail(error, ES_ERR_ARG, "usage",
                           "--bias wants notes of 1 to %zu letters with commas between them.",
                           sizeof j->bias[0] - 1);
        memcpy(j->bias[j->bias_count], at, length);
        j->bias[j->bias_count++][length] = '\0';
        at = comma ? comma + 1 : NULL;
    }
    if (at || j->bias_count != captures)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--bias has to hold as many notes as there are captures (%zu, at most %d).",
                       captures, BIASES_MOST);
    return ES_OK;
}

static es_status read_recorded(job *j, es_error *error)
{
    const char *path = value_of(j, RECORDED_RESPONSE)->text;
    char *text;
    size_t length;
    if (!path)
        return ES_OK;
    if (j->settings.recorded_here)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--recorded-here and --recorded-response contradict each other; write one.");
    es_status status = es_small_file_read(path, READING_MOST, &text, &length, error);
    if (status != ES_OK)
        return status;
    status = es_tape_from_json(text, length, &j->recorded, error);
    free(text);
    j->settings.recorded = &j->recorded;
    return status;
}

static es_status read_tape(job *j, es_error *error)
{
    const char *name = value_of(j, TAPE)->text;
    if (!name && value_of(j, RECORDS)->given)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--records is only looked at for a tape; name it with --tape.");
    if (!name)
        return ES_OK;
    if (value_of(j, TAPE_ERROR)->given || value_of(j, TAPE_U95)->given)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "The records know the error of a tape that is named; leave out --tape-error "
                       "and --tape-u95.");
    j->settings.tape = &j->tape;
    return es_ledger_tape_certificate(value_of(j, RECORDS)->text, name, &j->tape, error);
}

/* *about: the file or name that an error speaks of; NULL: the command line. */
static es_status ask(job *j, const char **about, es_error *error)
{
    es_measure_tape_settings *s = &j->settings;
    const char *programme = value_of(j, PROGRAMME)->text, *limits = value_of(j, LIMITS)->text;
    *s = es_measure_tape_defaults();
    s->raw = value_of(j, RAW)->text;
    s->tape_percent = value_of(j, TAPE_ERROR)->number;
    s->tape_u95_percent = value_of(j, TAPE_U95)->number;
    s->clock_ppm = value_of(j, CLOCK_PPM)->number;
    s->level_dbfs = value_of(j, LEVEL)->number;
    s->recorded_here = value_of(j, RECORDED_HERE)->given;
    *about = NULL;
    es_status status = read_source(j, error);
    if (status == ES_OK)
        status = es_captures_check(j->arguments, error);
    if (status == ES_OK)
        status = read_biases(j, error);
    if (status == ES_OK && programme) {
        *about = programme;
        s->programme = &j->programme;
        status = es_programme_named(programme, &j->programme, error);
    }
    if (status == ES_OK && limits) {
        *about = limits;
        s->limits = &j->limits;
        status = es_limits_load(limits, &j->limits, error);
    }
    if (status == ES_OK) {
        *about = value_of(j, RECORDED_RESPONSE)->text;
        status = read_recorded(j, error);
    }
    if (status == ES_OK) {
        *about = NULL;
        status = read_tape(j, error);
    }
    return status;
}

/* --- one capture ------------------------------------------------------------------------------ */

static void print_json(job *j, es_status status, char *text)
{
    worsen(j, es_use_print(status, text));
}

static void refuse(job *j, const char *file, const es_error *error)
{
    es_say_error(strcmp(file, "-") == 0 ? "standard input" : file, error);
    if (j->use.json) {
        char *text;
        es_status status = es_error_to_json(error, file, capture_count(j) == 1, &text);
        print_json(j, status, text);
    }
    int of_input = error->status == ES_ERR_ARG || error->status == ES_ERR_IO;
    worsen(j, of_input ? ES_EXIT_INPUT : es_exit_of(error->status));
}

static void show(job *j, const char *file, const es_tape_result *result)
{
    if (j->use.json) {
        char *text;
        es_status status = es_tape_to_json(result, file, capture_count(j) == 1, &text);
        print_json(j, status, text);
        return;
    }
    if (j->shown++)
        fputs("\n\n", stdout);
    es_tape_note_print(&j->paint, file, result);
}

static void read_one(job *j, size_t at)
{
    const char *file = j->arguments->operands[at];
    es_error error = {0};
    es_progress progress = es_progress_of(file);
    es_tape_result *result = &j->results[j->bias_count ? j->measured : 0];
    j->settings.watch = (es_measure_watch){.who = &progress, .progress = es_progress_tell};
    es_status status = es_measure_tape(file, &j->settings, result, &error);
    es_progress_end(&progress);
    if (status != ES_OK) {
        refuse(j, file, &error);
        return;
    }
    if (j->bias_count)
        memcpy(result->bias, j->bias[at], sizeof result->bias);
    j->measured++;
    show(j, file, result);
}

/* The tape while it plays. */
static void listen(job *j)
{
    es_error error = {0};
    es_tape_result *result = &j->results[0];
    const char *about;
    int around;
    j->session.reading = j->settings;
    es_status status = es_tape_listen(&j->session, j->use.json, result, &around, &about, &error);
    if (status == ES_OK) {
        if (j->bias_count)
            memcpy(result->bias, j->bias[0], sizeof result->bias);
        show(j, j->session.source, result);
    } else {
        worsen(j, es_use_fail_about(&j->use, about, &error));
    }
    worsen(j, around);
}

static void compare_biases(const job *j)
{
    const es_tape_result *results[BIASES_MOST];
    for (size_t i = 0; i < j->measured; i++)
        results[i] = &j->results[i];
    if (j->bias_count > 1 && j->measured > 1 && !j->use.json)
        es_tape_note_bias(&j->paint, results, j->measured);
}

/* --- all of them ------------------------------------------------------------------------------- */

static int read_all(job *j)
{
    const char *about;
    es_error error = {0};
    j->results = calloc(BIASES_MOST, sizeof *j->results);
    if (!j->results) {
        es_say(NULL, "There is not enough memory.");
        return ES_EXIT_AROUND;
    }
    es_status status = ask(j, &about, &error);
    if (status != ES_OK)
        return about ? es_use_fail_about(&j->use, about, &error) : es_use_fail(&j->use, &error);
    j->paint = es_paint_for(stdout, value_of(j, COLOR)->text);
    if (j->session.source[0])
        listen(j);
    for (int i = 0; i < j->arguments->operand_count; i++)
        read_one(j, (size_t)i);
    compare_biases(j);
    return es_end_of_output(j->code);
}

static int run(const es_arguments *arguments)
{
    job *j = calloc(1, sizeof *j); /* large */
    if (!j) {
        es_say(NULL, "There is not enough memory.");
        return ES_EXIT_AROUND;
    }
    j->arguments = arguments;
    j->use = (es_ledger_use){arguments->values[RECORDS].text, arguments->values[JSON].given};
    int code = read_all(j);
    free(j->results);
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
    "evenspool tape read --tape \"my tape\" --level -12 --json side-a.flac > side-a.json",
    "Speed with the tape's certificate, level against -12 dB full scale; kept as JSON.",
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
                                   .options = options,
                                   .option_count = OPTIONS,
                                   .details = details,
                                   .examples = examples,
                                   .run = run};
