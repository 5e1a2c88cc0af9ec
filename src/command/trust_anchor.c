/* evenspool trust anchor: what ties a deck to true speed from outside. */
#include "command/figure.h"
#include "command/say.h"
#include "command/trust.h"
#include "json/ledger_json.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { METHOD, ERROR, U95, ANSWER, QUESTIONS, AT, EPOCH, NOTE, DRY, RECORDS, JSON, OPTIONS };

static const es_option options[OPTIONS] = {
    [METHOD] =
        {"method", 'm', ES_OPTION_WORD, "NAME",
         "How the deck was tied to true speed; --questions lists the methods. With --error a word "
         "of "
         "your own will do as well.",
         0.0, 0.0,
         "tape-length|counter|capstan|test-tape|mains-hum|line-whistle|stereo-pilot|music|other"},
    [ERROR] = {"error", 0, ES_OPTION_NUMBER, "PERCENT",
               "The deck's speed error as you found it, + for fast.", -50.0, 100.0, NULL},
    [U95] = {"u95", 0, ES_OPTION_NUMBER, "PERCENT", "Expanded uncertainty (95 %) of --error.",
             0.00001, 100.0, NULL},
    [ANSWER] = {"answer", 'a', ES_OPTION_WORD, "KEY=VALUE,...",
                "Answers to the method's questions, from which error and uncertainty are reckoned. "
                "What is left out takes its default.",
                0.0, 0.0, NULL},
    [QUESTIONS] = {"questions", 0, ES_OPTION_FLAG, NULL,
                   "Print the method's questions and formula (without --method: all methods), and "
                   "keep nothing.",
                   0.0, 0.0, NULL},
    [AT] = {"at", 0, ES_OPTION_WORD, "DAY", "When it was done, as 2026-05-03; today without it.",
            0.0, 0.0, NULL},
    [EPOCH] = {"epoch", 0, ES_OPTION_NUMBER, "N",
               "Which epoch of the deck it was (deck show), when the day does not say.", 1.0, 1e6,
               NULL},
    [NOTE] = {"note", 0, ES_OPTION_WORD, "TEXT", "Anything worth remembering.", 0.0, 0.0, NULL},
    [DRY] = {"dry-run", 0, ES_OPTION_FLAG, NULL,
             "Show error and budget, and keep nothing; no deck is needed.", 0.0, 0.0, NULL},
    [RECORDS] = ES_RECORDS_OPTION,
    [JSON] = ES_RECORDS_JSON_OPTION,
};

/* --- the methods ------------------------------------------------------------------------------- */

static int print_forms(const es_ledger_use *use)
{
    es_anchor_form forms[32];
    size_t count = 0;
    while (count < 32 && es_ledger_anchor_form(count, &forms[count]))
        count++;
    if (use->json) {
        char *text;
        es_status status = es_anchor_forms_to_json(forms, count, &text);
        return es_use_print(status, text);
    }
    for (size_t i = 0; i < count; i++) {
        char room[400];
        es_text text = es_text_over(room, sizeof room);
        es_text_add(&text, "%s: %s", forms[i].about->name, forms[i].about->text);
        printf("  %s\n", forms[i].about->key);
        es_wrap(stdout, "      ", "      ", room);
    }
    return ES_EXIT_DONE;
}

static int print_form(const es_ledger_use *use, const es_anchor_form *form)
{
    char *text;
    if (!use->json) {
        es_trust_print_form(form);
        return ES_EXIT_DONE;
    }
    es_status status = es_anchor_form_to_json(form, &text);
    return es_use_print(status, text);
}

/* --- what came of it --------------------------------------------------------------------------- */

static void print_budget(const es_anchor_outcome *o)
{
    puts("\nWhat the uncertainty is made of (standard uncertainties)");
    for (size_t i = 0; i < o->budget_count; i++) {
        char first[80], words[2 * ES_LINE_ROOM + 8];
        es_text start = es_text_over(first, sizeof first);
        es_text text = es_text_over(words, sizeof words);
        es_text_add(&start, "  %8.4f %%  ", o->budget[i].u_percent);
        es_text_add(&text, "%s: %s (%s)", o->budget[i].what, o->budget[i].formula,
                    o->budget[i].source);
        es_wrap(stdout, first, "              ", words);
    }
}

/* A signal that a machine recorded is a comparison with that machine. */
static void print_heard(const es_anchor_outcome *o)
{
    char room[300];
    es_text text = es_text_over(room, sizeof room);
    if (isnan(o->heard_percent))
        return;
    es_text_add(&text,
                "If one of your decks recorded it, enter it as a play in place of this: "
                "evenspool trust play --recorded-on THAT --played-on THIS --heard %.4f "
                "--u95 %.4f.",
                o->heard_percent, o->heard_u95_percent);
    putchar('\n');
    es_wrap(stdout, "", "", room);
}

static int show(const es_ledger_use *use, const es_anchor_outcome *o, const char *deck)
{
    if (use->json) {
        char *text;
        es_status status = es_anchor_to_json(o, &text);
        return es_use_print(status, text);
    }
    char room[ES_NAME_ROOM + 128];
    es_text text = es_text_over(room, sizeof room);
    if (o->anchor.id)
        es_text_add(&text, "Kept as anchor %lld: %s runs ", (long long)o->anchor.id, deck);
    else
        es_text_add(&text, "Not kept: the deck would run ");
    es_figure_percent(&text, o->anchor.error_percent);
    es_text_add(&text, " +- %.3f %% off nominal speed.", o->anchor.u95_percent);
    es_wrap(stdout, "", "", room);
    if (o->budget_count > 1)
        print_budget(o);
    if (o->caution[0]) {
        putchar('\n');
        es_wrap(stdout, "", "", o->caution);
    }
    print_heard(o);
    return ES_EXIT_DONE;
}

/* --- what was asked for ------------------------------------------------------------------------ */

static int usage(const char *sentence)
{
    es_say("trust anchor", "%s", sentence);
    return ES_EXIT_USAGE;
}

static const char *what_is_wrong(const es_arguments *a)
{
    const es_option_value *v = a->values;
    if (!v[METHOD].given)
        return "Say how the deck was tied to true speed: --method NAME; --questions lists the "
               "methods.";
    if (v[QUESTIONS].given)
        return NULL;
    if (a->operand_count == 0 && !v[DRY].given)
        return "Say which deck it is: evenspool trust anchor DECK --method NAME.";
    if (v[EPOCH].given && v[EPOCH].number != floor(v[EPOCH].number))
        return "The number of an epoch is whole.";
    return NULL;
}

/* Figures, answers, or a conversation. form NULL: of a method without one, so a figure it is. */
static es_status fill(const es_option_value *v, const es_anchor_form *form, char *answers,
                      es_anchor_entry *entry, es_error *error)
{
    *entry = es_ledger_blank_anchor();
    entry->method = v[METHOD].text;
    entry->error_percent = v[ERROR].number;
    entry->u95_percent = v[U95].number;
    if (answers)
        return es_trust_read_answers(answers, form, entry, error);
    if (v[ERROR].given || v[U95].given)
        return ES_OK;
    if (v[JSON].given || !isatty(STDIN_FILENO) || !isatty(STDOUT_FILENO))
        return es_fail(error, ES_ERR_ARG, "usage",
                       "Give --error and --u95, or --answer KEY=VALUE,...; evenspool trust anchor "
                       "--method %s --questions lists what is asked.",
                       form->about->key);
    return es_trust_ask(form, entry)
               ? ES_OK
               : es_fail(error, ES_ERR_ARG, "usage", "The answers ended early; nothing was kept.");
}

static int keep(const es_ledger_use *use, const es_arguments *a, const es_anchor_entry *entry)
{
    const es_option_value *v = a->values;
    es_error error = {0};
    es_anchor_outcome outcome;
    es_ledger *l = NULL;
    int64_t epoch = v[EPOCH].given ? (int64_t)v[EPOCH].number : 0;
    if (v[DRY].given)
        return es_ledger_reckon_anchor(entry, &outcome, &error) == ES_OK ? show(use, &outcome, NULL)
                                                                         : es_use_fail(use, &error);
    int code = es_use_open(use, ES_LEDGER_WRITE, &l);
    if (code != ES_EXIT_DONE)
        return code;
    code = es_ledger_add_anchor(l, entry, a->operands[0], epoch, v[AT].text, v[NOTE].text, &outcome,
                                &error) == ES_OK
               ? show(use, &outcome, a->operands[0])
               : es_use_fail(use, &error);
    es_ledger_close(l);
    return code;
}

static int anchor(const es_ledger_use *use, const es_arguments *a)
{
    const es_option_value *v = a->values;
    es_error error = {0};
    es_anchor_form form;
    es_anchor_entry entry;
    int is_figure = v[ERROR].given && !v[ANSWER].given && !v[QUESTIONS].given;
    if (!is_figure && es_ledger_anchor_form_named(v[METHOD].text, &form, &error) != ES_OK)
        return es_use_fail(use, &error);
    if (v[QUESTIONS].given)
        return print_form(use, &form);
    char *answers = v[ANSWER].given ? strdup(v[ANSWER].text) : NULL;
    if (v[ANSWER].given && !answers)
        return usage("There is not enough memory.");
    es_status status = fill(v, is_figure ? NULL : &form, answers, &entry, &error);
    int code = status == ES_OK ? keep(use, a, &entry) : es_use_fail(use, &error);
    free(answers);
    return code;
}

static int run(const es_arguments *a)
{
    const es_option_value *v = a->values;
    es_ledger_use use = {v[RECORDS].text, v[JSON].given};
    if (v[QUESTIONS].given && !v[METHOD].given)
        return es_end_of_output(print_forms(&use));
    const char *wrong = what_is_wrong(a);
    return wrong ? usage(wrong) : es_end_of_output(anchor(&use, a));
}

static const char *const details[] = {
    "Enters an observation that ties a deck to true speed from outside. Give a figure with its "
    "uncertainty, or answer the method's questions: by --answer, or on a terminal one by one. Then "
    "the figure comes with the budget of its uncertainty, and both are kept.",
    "A frequency on a tape (mains hum, a television's line whistle, a stereo pilot, music) is no "
    "better than the machine that recorded it. Of all methods the timed tape length alone needs "
    "nobody else's word.",
    "Near an open deck that runs, keep clear of turning parts and of mains wiring, or leave it to "
    "someone qualified.",
    NULL};

static const char *const examples[] = {
    "evenspool trust anchor Workshop --method tape-length",
    "Asks what it needs to know, one question at a time.",
    "evenspool trust anchor Workshop -m tape-length -a length_m=100,time_s=2091.2",
    "The same in one line.",
    "evenspool trust anchor Workshop -m other --error 0.40 --u95 0.08",
    "A figure that somebody measured.",
    "evenspool trust anchor -m capstan --questions",
    "What the capstan method asks, with units, limits and defaults.",
    NULL};

const es_verb es_verb_trust_anchor = {.name = "trust anchor",
                                      .about = "enter what ties a deck to true speed",
                                      .operands = "[DECK]",
                                      .operands_most = 1,
                                      .operand_kind = "",
                                      .options = options,
                                      .option_count = OPTIONS,
                                      .details = details,
                                      .examples = examples,
                                      .run = run};
