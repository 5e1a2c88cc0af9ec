/* evenspool clock: how fast an input samples, against the computer's clock. */
#include "command/figure.h"
#include "command/progress.h"
#include "command/say.h"
#include "command/stop_signal.h"
#include "command/verb.h"
#include "evenspool/base/text.h"
#include "live/clock_watch.h"
#include "json/clock_json.h"

#include <math.h>
#include <stdlib.h>

#define USUAL_S 60.0

enum { INPUT, SECONDS, JSON, OPTIONS };

static const es_option options[OPTIONS] = {
    [INPUT] = {"input", 0, ES_OPTION_WORD, "NAME",
               "The input, by its name or any part that only one has; evenspool inputs lists them. "
               "Without it, the preferred one.",
               0.0, 0.0, NULL},
    [SECONDS] = {"seconds", 0, ES_OPTION_NUMBER, "SECONDS",
                 "How long to measure; 60 without it. Twice as long is almost three times as sure.",
                 ES_CLOCK_WATCH_LEAST_S, ES_CLOCK_WATCH_MOST_S, NULL},
    [JSON] = {"json", 0, ES_OPTION_FLAG, NULL, "Print JSON instead of the note.", 0.0, 0.0, NULL},
};

/* Two figures of the uncertainty: 0.034, 1.2, 48. */
static int decimals_of(double u95)
{
    int decimals = 1 - (int)floor(log10(fmax(u95, 1e-3)));
    return decimals < 0 ? 0 : decimals;
}

static void print_error(const es_clock_result *r)
{
    double error = r->figures.error_ppm;
    int decimals = decimals_of(r->u95_ppm);
    char sentence[400], shown[160];
    es_text text = es_text_over(sentence, sizeof sentence);
    es_text_add(&text, "%s samples ", es_shown(r->input, shown, sizeof shown));
    if (fabs(error) < r->u95_ppm)
        es_text_add(&text, "neither surely fast nor surely slow");
    else
        es_text_add(&text, "%s", error > 0.0 ? "fast" : "slow");
    es_text_add(&text, ": ");
    es_figure_add(&text, error, decimals, 1); /* its blanks are wrapped away */
    es_text_add(&text, " ppm +- %.*f ppm (95 %%) of %.0f Hz.", decimals, r->u95_ppm, r->rate_hz);
    es_wrap(stdout, "", "", sentence);
}

static int print_text(const es_clock_result *r)
{
    print_error(r);
    printf("\n  measured     %.0f s, %lld blocks, unsteady by %.2f ms\n", r->figures.used_s,
           (long long)r->figures.blocks, 1e3 * r->figures.jitter_s);
    printf("  by itself    +- %.*f ppm, the computer's clock taken as right\n",
           decimals_of(r->line_u95_ppm), r->line_u95_ppm);
    printf("  its clock    +- %.1f ppm\n\n", r->reference.limit_ppm);
    for (size_t i = 0; i < r->notes.count; i++)
        es_wrap(stdout, "- ", "  ", r->notes.at[i].text);
    return es_end_of_output(ES_EXIT_DONE);
}

static int print_json(const es_clock_result *r)
{
    char *text;
    if (es_clock_to_json(r, 1, &text) != ES_OK) {
        es_say(NULL, "There is not enough memory to print the result.");
        return ES_EXIT_AROUND;
    }
    puts(text);
    free(text);
    return es_end_of_output(ES_EXIT_DONE);
}

static int stop_asked(void *who)
{
    (void)who;
    return es_stop_asked();
}

static int run(const es_arguments *arguments)
{
    const es_option_value *v = arguments->values;
    const char *name = v[INPUT].given ? v[INPUT].text : "";
    es_error error = {0};
    es_clock_result result;
    es_progress progress = es_progress_of("listening");
    es_clock_wish wish = {.input = name,
                          .seconds = v[SECONDS].given ? v[SECONDS].number : USUAL_S,
                          .who = &progress,
                          .stop = stop_asked,
                          .progress = es_progress_tell};
    es_stop_watch(NULL);
    es_status status = es_clock_watch(&wish, &result, &error);
    es_progress_end(&progress);
    if (status != ES_OK) {
        es_say_error(result.input[0] ? result.input : name[0] ? name : NULL, &error);
        return es_exit_of(status);
    }
    return v[JSON].given ? print_json(&result) : print_text(&result);
}

static const char *const details[] = {
    "Counts the frames that come from a sound input and compares them with the clock of the "
    "computer. A sound card that samples fast makes every tape look slow by as much; what is found "
    "here can be given to check and trim as --clock-ppm. Nothing has to be connected or played.",
    "The figure is no better than the computer's clock. It says whether a time server disciplines "
    "that clock, and reckons with +-50 ppm where none does. Only what is sure within +-5 ppm is "
    "offered for --clock-ppm.",
    "A sound server between the device and the program may resample by a clock of its own. Then "
    "the figure is that of the server's clock, unless the device is opened directly (a name with "
    "\"hw:\" in it).",
    "Lost input is never averaged across: the longest stretch without an interruption counts, and "
    "the interruptions are told.",
    NULL};

static const char *const examples[] = {"evenspool clock", "The preferred input, one minute.",
                                       "evenspool clock --input line --seconds 600 --json",
                                       "Another one, ten minutes, for a program.", NULL};

const es_verb es_verb_clock = {.name = "clock",
                               .about = "compare a sound input's clock with the computer's",
                               .operands = "",
                               .operand_kind = "",
                               .options = options,
                               .option_count = OPTIONS,
                               .details = details,
                               .examples = examples,
                               .run = run};
