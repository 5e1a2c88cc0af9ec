/* evenspool rehearse: renders captures of the rehearsal deck. */
#include "live/rehearse.h"
#include "command/programme_option.h"
#include "command/progress.h"
#include "command/say.h"
#include "command/truth.h"
#include "command/verb.h"
#include "evenspool/base/text.h"
#include "live/text_file.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { OUT, TRUTH, PROGRAMME, SIDE, SECONDS, RATE, SEED, FLOAT, FORCE, LIST, OPTIONS };

static const es_option options[OPTIONS] = {
    [OUT] = {"out", 'o', ES_OPTION_FILE, "FILE",
             "Where the capture goes; the ending says how: .wav, .flac, .aiff or .w64.", 0.0, 0.0,
             NULL},
    [TRUTH] = {"truth", 0, ES_OPTION_FILE, "FILE",
               "Where the truth about it goes, as JSON; without it, beside the capture with the "
               "ending .json.",
               0.0, 0.0, NULL},
    [PROGRAMME] = {"programme", 'p', ES_OPTION_WORD, "NAME|FILE",
                   "Play a test tape with this programme in place of the scenario's tone: a "
                   "built-in one, or a file of your own; as long as the side takes.",
                   0.0, 0.0, ES_PROGRAMME_CHOICES},
    [SIDE] = {"side", 0, ES_OPTION_CHOICE, "SIDE",
              "With --programme: the side that is played, a or 1, b or 2; a without it.", 0.0, 0.0,
              "a|b|1|2"},
    [SECONDS] = {"seconds", 0, ES_OPTION_NUMBER, "SECONDS",
                 "Length of the capture in place of the scenario's.", 0.1, 86400.0, NULL},
    [RATE] = {"rate", 0, ES_OPTION_NUMBER, "HZ", "Sample rate; 48000 without it.",
              ES_REHEARSAL_RATE_MIN_HZ, ES_REHEARSAL_RATE_MAX_HZ, NULL},
    [SEED] = {"seed", 0, ES_OPTION_NUMBER, "NUMBER",
              "Beginning of all that is random, in place of the scenario's; the same number gives "
              "the same capture.",
              0.0, 9007199254740992.0, NULL},
    [FLOAT] = {"float", 0, ES_OPTION_FLAG, NULL, "Write 32 bit float samples in place of 24 bit.",
               0.0, 0.0, NULL},
    [FORCE] = {"force", 0, ES_OPTION_FLAG, NULL, "Replace files that are there already.", 0.0, 0.0,
               NULL},
    [LIST] = {"list", 0, ES_OPTION_FLAG, NULL, "List the built-in scenarios, and do nothing else.",
              0.0, 0.0, NULL},
};

static int list(void)
{
    const char *name, *about;
    for (size_t i = 0; (name = es_rehearse_name(i, &about)); i++)
        printf("%-24s %s\n", name, about);
    return es_end_of_output(ES_EXIT_DONE);
}

static int is_whole(const es_option_value *value)
{
    return !value->given || value->number == floor(value->number);
}

/* The capture's name with .json in place of its ending. */
static void name_truth(const char *capture, char *room, size_t size)
{
    const char *dot = strrchr(capture, '.'), *slash = strrchr(capture, '/');
    size_t length = dot && (!slash || dot > slash) ? (size_t)(dot - capture) : strlen(capture);
    es_text name = es_text_over(room, size);
    es_text_add(&name, "%.*s.json", (int)length, capture);
}

/* ES_EXIT_DONE: the command line makes sense. */
static int judge(const es_arguments *a)
{
    if (a->operand_count < 1)
        es_say("rehearse", "Name a scenario; --list lists the built-in ones.");
    else if (!a->values[OUT].given)
        es_say("rehearse", "Say where the capture is to go: -o FILE.");
    else if (!is_whole(&a->values[RATE]) || !is_whole(&a->values[SEED]))
        es_say("rehearse", "--rate and --seed want whole numbers.");
    else if (a->values[SIDE].given && !a->values[PROGRAMME].given)
        es_say("rehearse", "--side goes with --programme only.");
    else
        return ES_EXIT_DONE;
    return ES_EXIT_USAGE;
}

static es_rehearse_settings settings_of(const es_arguments *a)
{
    const es_option_value *v = a->values;
    es_rehearse_settings s = es_rehearse_defaults();
    s.scenario = a->operands[0];
    s.path = v[OUT].text;
    if (v[RATE].given)
        s.rate_hz = v[RATE].number;
    s.seconds = v[SECONDS].number;
    s.seed = v[SEED].number;
    if (v[SIDE].given)
        s.side = v[SIDE].text[0] == 'b' || v[SIDE].text[0] == '2';
    s.as_float = v[FLOAT].given;
    s.replace = v[FORCE].given;
    return s;
}

static int fail(const char *about, const es_error *error)
{
    es_say_error(about, error);
    return es_exit_of(error->status);
}

static int write_truth(const es_rehearsed *rehearsed, const es_rehearse_settings *s,
                       es_text_file *file, const char *path)
{
    char *text;
    es_error error = {0};
    if (es_truth_to_json(rehearsed, s->path, s->rate_hz, &text) != ES_OK) {
        es_text_file_drop(file);
        es_say(path, "There is not enough memory to write it.");
        return ES_EXIT_AROUND;
    }
    fprintf(es_text_file_stream(file), "%s\n", text);
    free(text);
    return es_text_file_keep(file, &error) == ES_OK ? ES_EXIT_DONE : fail(path, &error);
}

static int is_of_programme(const es_error *error)
{
    return strcmp(error->code, "programme") == 0;
}

static int is_of_scenario(const es_error *error)
{
    return strcmp(error->code, "no-scenario") == 0 || strncmp(error->code, "scenario", 8) == 0 ||
           strcmp(error->code, "read-failed") == 0;
}

static int run(const es_arguments *arguments)
{
    if (arguments->values[LIST].given)
        return list();
    if (judge(arguments) != ES_EXIT_DONE)
        return ES_EXIT_USAGE;
    es_rehearse_settings settings = settings_of(arguments);
    es_progress progress = es_progress_of(settings.path);
    settings.who = &progress;
    settings.progress = es_progress_tell;
    static es_programme programme; /* large */
    es_error error = {0};
    const char *named = arguments->values[PROGRAMME].text;
    if (named && es_programme_named(named, &programme, &error) != ES_OK)
        return fail(named, &error);
    settings.programme = named ? &programme : NULL;
    char beside[4096];
    name_truth(settings.path, beside, sizeof beside);
    const char *truth = arguments->values[TRUTH].given ? arguments->values[TRUTH].text : beside;
    es_text_file *file; /* first, so that nothing is rendered in vain */
    if (es_text_file_open(truth, settings.replace, &file, &error) != ES_OK)
        return fail(truth, &error);
    static es_rehearsed rehearsed; /* large */
    es_status status = es_rehearse(&settings, &rehearsed, &error);
    es_progress_end(&progress);
    if (status != ES_OK) {
        es_text_file_drop(file);
        return fail(is_of_programme(&error)  ? named
                    : is_of_scenario(&error) ? settings.scenario
                                             : settings.path,
                    &error);
    }
    return es_end_of_output(write_truth(&rehearsed, &settings, file, truth));
}

static const char *const details[] = {"Renders the capture that an imaginary deck with exactly "
                                      "known faults would have given, and the "
                                      "truth about it as JSON beside it: for practice, for "
                                      "demonstration, and to see what a fault looks "
                                      "like before you meet one.",
                                      "With --programme it plays the test tape of that programme "
                                      "as a deck without fault would have recorded it; the "
                                      "scenario's level is then that of the tape's reference "
                                      "level.",
                                      "SCENARIO is the name of a built-in scenario, or a scenario "
                                      "file. Nothing that is there already is "
                                      "replaced unless --force is given.",
                                      NULL};

static const char *const examples[] = {"evenspool rehearse --list",
                                       "What is built in.",
                                       "evenspool rehearse slow-but-steady -o practice.wav",
                                       "A deck that is slow but steady; the truth goes to "
                                       "practice.json.",
                                       "evenspool rehearse skewed-head --programme cassette-short "
                                       "-o tape.flac",
                                       "A test tape on a deck whose head leans, for evenspool tape "
                                       "read.",
                                       NULL};

const es_verb es_verb_rehearse = {.name = "rehearse",
                                  .about = "render a capture of an imaginary deck, with its truth",
                                  .operands = "SCENARIO",
                                  .operands_most = 1,
                                  .operand_kind = "scenario",
                                  .options = options,
                                  .option_count = OPTIONS,
                                  .details = details,
                                  .examples = examples,
                                  .run = run};
