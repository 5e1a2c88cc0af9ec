/* evenspool tape write: a programme as a file or played to a device, and its cue sheet. */
#include "live/tape_write.h"
#include "command/cue_text.h"
#include "command/programme_option.h"
#include "command/progress.h"
#include "command/say.h"
#include "command/stop_signal.h"
#include "command/tape.h"
#include "command/tape_prompts.h"
#include "live/programme_file.h"
#include "live/text_file.h"
#include "json/cue_json.h"
#include "json/programme_json.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PROGRAMME, SIDE, OUT, TO, READY, RATE, REFERENCE, CUES, FORCE, LIST, PRINT, JSON, OPTIONS };

static const es_option options[OPTIONS] = {
    [PROGRAMME] = {"programme", 'p', ES_OPTION_WORD, "NAME|FILE",
                   "What is to stand on the tape: a built-in programme, or a file of your own; "
                   "cassette without it.",
                   0.0, 0.0, ES_PROGRAMME_CHOICES},
    [SIDE] = {"side", 0, ES_OPTION_CHOICE, "SIDE",
              "The side: a or 1, b or 2, or both, which writes two files, FILE-a and FILE-b; a "
              "without it.",
              0.0, 0.0, "a|b|1|2|both"},
    [OUT] =
        {"out", 'o', ES_OPTION_FILE, "FILE",
         "Write the side to this file, 24 bit; the ending says how: .wav, .flac, .aiff or .w64.",
         0.0, 0.0, NULL},
    [TO] =
        {"to", 't', ES_OPTION_WORD, "device:NAME",
         "Play the side to this output of the computer, in real time, with prompts on the screen "
         "(evenspool inputs lists the names; device: alone is the preferred output).",
         0.0, 0.0, "device:"},
    [READY] = {"ready", 0, ES_OPTION_FLAG, NULL,
               "With --to: the recording level is set already, so begin with the count-down.", 0.0,
               0.0, NULL},
    [RATE] = {"rate", 0, ES_OPTION_NUMBER, "HZ",
              "Sample rate; 48000 without it (a device: or what it can).", 32000.0, 192000.0, NULL},
    [REFERENCE] = {"reference", 0, ES_OPTION_NUMBER, "DBFS",
                   "Where the reference level lies, the peak of a sine against full scale; -12 "
                   "without it.",
                   -40.0, 0.0, NULL},
    [CUES] = {"cues", 0, ES_OPTION_FILE, "FILE",
              "Write the cue sheet to this file too, .pdf or .txt; alone, without -o and --to, "
              "nothing else is written.",
              0.0, 0.0, NULL},
    [FORCE] = {"force", 0, ES_OPTION_FLAG, NULL, "Replace files that are there already.", 0.0, 0.0,
               NULL},
    [LIST] = {"list", 0, ES_OPTION_FLAG, NULL,
              "List the built-in programmes with their lengths, and do nothing else.", 0.0, 0.0,
              NULL},
    [PRINT] = {"print", 0, ES_OPTION_FLAG, NULL,
               "Print the programme as text to start your own from, and do nothing else.", 0.0, 0.0,
               NULL},
    [JSON] = {"json", 0, ES_OPTION_FLAG, NULL,
              "Print the cue sheet as one JSON document (schema evenspool.cues/1).", 0.0, 0.0,
              NULL},
};

typedef struct job {
    const es_arguments *arguments;
    es_cue_sheet sheet; /* and in it the programme */
    char path[ES_PROGRAMME_SIDES][1024];
    es_tape_file *file[ES_PROGRAMME_SIDES];
    es_text_file *cues;
} job;

static int fail(const char *about, const es_error *error)
{
    es_say_error(about, error);
    return es_exit_of(error->status);
}

static const es_option_value *value_of(const job *j, int which)
{
    return &j->arguments->values[which];
}

/* --- list and print ------------------------------------------------------------------------------ */

static int list(void)
{
    es_programme_line line;
    for (size_t i = 0; es_programme_line_at(i, &line); i++) {
        char takes[16], most[16], first[64], rest[64];
        es_text text = es_text_over(takes, sizeof takes);
        es_cue_time(&text, line.side_s[0]);
        text = es_text_over(most, sizeof most);
        es_cue_time(&text, line.side_most_s);
        (void)snprintf(first, sizeof first, "%-15s %5s of %5s  ", line.name, takes, most);
        (void)snprintf(rest, sizeof rest, "%31s", "");
        es_wrap(stdout, first, rest, line.about);
    }
    return es_end_of_output(ES_EXIT_DONE);
}

/* text NULL: there was no memory for it. */
static int print_text(char *text, const char *end)
{
    if (!text) {
        es_say("tape write", "There is not enough memory to print it.");
        return ES_EXIT_AROUND;
    }
    printf("%s%s", text, end);
    free(text);
    return ES_EXIT_DONE;
}

static int print_programme(const es_programme *programme)
{
    char *text;
    (void)es_programme_to_json(programme, &text);
    return print_text(text, "");
}

/* --- what was asked for ---------------------------------------------------------------------------- */

/* A sentence that says what is wrong with the command line, or NULL. */
static const char *what_is_wrong(const es_arguments *a)
{
    const es_option_value *v = a->values;
    if (!v[OUT].given && !v[TO].given && !v[CUES].given)
        return "Say where it is to go: -o FILE, or --to device:NAME; --list lists the programmes.";
    if (v[OUT].given && v[TO].given)
        return "-o and --to don't go together: write the file first, or play the side.";
    if (v[TO].given && strncmp(v[TO].text, "device:", 7) != 0)
        return "--to wants device:NAME; evenspool inputs lists the names of the outputs.";
    if (v[TO].given && v[SIDE].given && strcmp(v[SIDE].text, "both") == 0)
        return "One side at a time can be played; the tape has to be turned in between.";
    if (v[READY].given && !v[TO].given)
        return "--ready goes with --to only.";
    if (v[RATE].given && v[RATE].number != floor(v[RATE].number))
        return "--rate wants a whole number.";
    if (v[CUES].given && !es_cues_kind_is_known(v[CUES].text))
        return "--cues wants a name that ends in .pdf or .txt.";
    return NULL;
}

/* "tape.wav" becomes "tape-b.wav". */
static void name_side(const char *path, size_t side, char *room, size_t size)
{
    const char *dot = strrchr(path, '.'), *slash = strrchr(path, '/');
    size_t length = dot && (!slash || dot > slash) ? (size_t)(dot - path) : strlen(path);
    es_text name = es_text_over(room, size);
    es_text_add(&name, "%.*s-%c%s", (int)length, path, es_side_letter(side), path + length);
}

/* The sides that were asked for, into the sheet. */
static int choose_sides(job *j)
{
    const char *side = value_of(j, SIDE)->given ? value_of(j, SIDE)->text : "a";
    const char *out = value_of(j, OUT)->text;
    size_t count = j->sheet.programme.side_count;
    int both = strcmp(side, "both") == 0;
    size_t from = both || side[0] == 'a' || side[0] == '1' ? 0 : 1, to = both ? 1 : from;
    if (to >= count) {
        es_say("tape write", "The programme has one side only; leave --side out.");
        return ES_EXIT_USAGE;
    }
    for (size_t k = from; k <= to; k++) {
        size_t at = j->sheet.side_count;
        es_text path = es_text_over(j->path[at], sizeof j->path[at]);
        if (out && both)
            name_side(out, k, j->path[at], sizeof j->path[at]);
        else if (out)
            es_text_add(&path, "%s", out);
        es_cues_add_side(&j->sheet, k, j->path[at]);
    }
    return ES_EXIT_DONE;
}

static double or_usual(const es_option_value *value, double usual)
{
    return value->given ? value->number : usual;
}

/* --- cue sheet ---------------------------------------------------------------------------------------- */

static int open_cues(job *j)
{
    es_error error = {0};
    const char *path = value_of(j, CUES)->text;
    if (path && es_text_file_open(path, value_of(j, FORCE)->given, &j->cues, &error) != ES_OK)
        return fail(path, &error);
    return ES_EXIT_DONE;
}

static int write_cues(job *j)
{
    es_error error = {0};
    es_text_file *file = j->cues;
    const char *path = value_of(j, CUES)->text;
    if (!file)
        return ES_EXIT_DONE;
    j->cues = NULL;
    if (es_cues_write(&j->sheet, path, es_cue_text_print, es_text_file_stream(file), &error) !=
        ES_OK) {
        es_text_file_drop(file);
        return fail(path, &error);
    }
    return es_text_file_keep(file, &error) == ES_OK ? ES_EXIT_DONE : fail(path, &error);
}

static int print_cues(job *j)
{
    char *text;
    if (!value_of(j, JSON)->given) {
        es_cue_text_print(stdout, &j->sheet);
        return ES_EXIT_DONE;
    }
    (void)es_cues_to_json(&j->sheet, 1, &text);
    return print_text(text, "\n");
}

/* --- to a file ----------------------------------------------------------------------------------------- */

static int open_files(job *j)
{
    es_tape_settings settings = es_tape_defaults();
    settings.rate_hz = j->sheet.rate_hz;
    settings.reference_dbfs = j->sheet.reference_dbfs;
    settings.replace = value_of(j, FORCE)->given;
    for (size_t i = 0; i < j->sheet.side_count; i++) {
        es_error error = {0};
        settings.side = j->sheet.sides[i].side;
        settings.path = j->path[i];
        if (es_tape_file_open(&j->sheet.programme, &settings, &j->file[i], &error) != ES_OK)
            return fail(strcmp(error.code, "setting") == 0 ? "tape write" : j->path[i], &error);
    }
    return ES_EXIT_DONE;
}

static int render_files(job *j)
{
    for (size_t i = 0; i < j->sheet.side_count; i++) {
        es_error error = {0};
        es_progress progress = es_progress_of(j->path[i]);
        es_status status = es_tape_file_render(j->file[i], &progress, es_progress_tell, &error);
        es_progress_end(&progress);
        if (status != ES_OK)
            return fail(j->path[i], &error);
    }
    return ES_EXIT_DONE;
}

static int keep_files(job *j)
{
    for (size_t i = 0; i < j->sheet.side_count; i++) {
        es_error error = {0};
        es_status status = es_tape_file_keep(j->file[i], &error);
        j->file[i] = NULL;
        if (status != ES_OK)
            return fail(j->path[i], &error);
    }
    return ES_EXIT_DONE;
}

static int write_files(job *j)
{
    int code = open_files(j);
    if (code == ES_EXIT_DONE)
        code = render_files(j);
    if (code == ES_EXIT_DONE)
        code = keep_files(j);
    if (code == ES_EXIT_DONE)
        code = write_cues(j);
    return code == ES_EXIT_DONE ? print_cues(j) : code;
}

/* --- to a device ---------------------------------------------------------------------------------------- */

static int play(job *j)
{
    es_tape_play_config config = es_tape_play_defaults();
    es_error error = {0};
    es_tape_play *side;
    const char *to = value_of(j, TO)->text, *name = to + strlen("device:");
    es_text output = es_text_over(config.output, sizeof config.output);
    es_text_add(&output, "%s", name);
    config.side = j->sheet.sides[0].side;
    config.rate_hz = or_usual(value_of(j, RATE), 0.0);
    config.reference_dbfs = j->sheet.reference_dbfs;
    es_stop_watch(NULL);
    if (es_tape_play_open(&j->sheet.programme, &config, &side, &error) != ES_OK)
        return fail(error.status == ES_ERR_DEVICE ? to : "tape write", &error);
    j->sheet.rate_hz = es_tape_play_rate(side);
    int code = write_cues(j);
    if (code == ES_EXIT_DONE)
        code = print_cues(j);
    fflush(stdout);
    if (code == ES_EXIT_DONE)
        code = es_tape_prompt(&j->sheet, side, value_of(j, READY)->given);
    es_tape_play_close(side);
    return code;
}

/* --- the whole ------------------------------------------------------------------------------------------- */

static int write_all(job *j)
{
    int code = choose_sides(j);
    if (code == ES_EXIT_DONE)
        code = open_cues(j);
    if (code != ES_EXIT_DONE)
        return code;
    if (value_of(j, TO)->given)
        return play(j);
    if (value_of(j, OUT)->given)
        return write_files(j);
    code = write_cues(j);
    return code == ES_EXIT_DONE ? print_cues(j) : code;
}

static void let_go(job *j)
{
    for (size_t i = 0; i < ES_PROGRAMME_SIDES; i++)
        es_tape_file_drop(j->file[i]);
    es_text_file_drop(j->cues);
}

static int run(const es_arguments *a)
{
    static job j; /* large */
    static es_programme programme;
    es_error error = {0};
    const char *name = a->values[PROGRAMME].given ? a->values[PROGRAMME].text : "cassette";
    if (a->values[LIST].given)
        return list();
    const char *wrong = a->values[PRINT].given ? NULL : what_is_wrong(a);
    if (wrong) {
        es_say("tape write", "%s", wrong);
        return ES_EXIT_USAGE;
    }
    if (es_programme_named(name, &programme, &error) != ES_OK)
        return fail(name, &error);
    if (a->values[PRINT].given)
        return es_end_of_output(print_programme(&programme));
    int to_file = a->values[OUT].given, heard = to_file || a->values[TO].given;
    es_tape_settings usual = es_tape_defaults();
    j.arguments = a;
    es_cues_begin(&programme, to_file ? or_usual(&a->values[RATE], usual.rate_hz) : (double)NAN,
                  heard ? or_usual(&a->values[REFERENCE], usual.reference_dbfs) : (double)NAN,
                  &j.sheet);
    int code = write_all(&j);
    let_go(&j);
    return es_end_of_output(code);
}

static const char *const details[] = {
    "Renders a programme, side by side, to a file for the deck to record from, or plays it "
    "straight "
    "to an output: first a tone at reference level for setting the recording level, then a "
    "count-down, then the side, section by section. Prints the cue sheet, which belongs into the "
    "tape's box.",
    "Levels are told in dB against the reference level; --reference says where that lies in the "
    "file. The tape is as good as the deck that records it: clean and demagnetise it first, let it "
    "warm up, and know its speed error, which becomes the tape's certificate.",
    "Played to a device, the side is spoiled when the sound breaks off, when the device vanishes "
    "or "
    "when Ctrl-C stops it: the program then ends with 4, and the side has to be recorded again "
    "from "
    "the start. Close other programs before, and switch off the computer's sounds.",
    "A programme of your own is a text file; --print gives one to start from. What is wrong in it "
    "is "
    "said with line and column.",
    NULL};

static const char *const examples[] = {
    "evenspool tape write --list",
    "What is built in, and how long it is.",
    "evenspool tape write --side both -o tape.wav --cues tape.pdf",
    "Both sides of a C60 as tape-a.wav and tape-b.wav, and the sheet for the box.",
    "evenspool tape write --to device: --programme cassette-short",
    "Seven minutes, played while the deck records.",
    "evenspool tape write --print --programme cassette > mine.json",
    "A programme to change and to use with --programme mine.json.",
    NULL};

const es_verb es_verb_tape_write = {.name = "tape write",
                                    .about = "write a programme to a file, or play it to a deck",
                                    .operands = "",
                                    .operand_kind = "",
                                    .options = options,
                                    .option_count = OPTIONS,
                                    .details = details,
                                    .examples = examples,
                                    .run = run};
