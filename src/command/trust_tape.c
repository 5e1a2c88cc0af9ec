/* evenspool trust tape: tapes by name, and what each is worth. */
#include "command/figure.h"
#include "command/say.h"
#include "command/trust.h"
#include "json/ledger_json.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    RECORDED_ON,
    RECORDED_AT,
    EPOCH,
    STATED,
    U95,
    TONE,
    PROGRAMME,
    CLASS,
    THICKNESS,
    LENGTH,
    NOTES,
    FORCE,
    RECORDS,
    JSON,
    OPTIONS
};

static const es_option options[OPTIONS] = {
    [RECORDED_ON] = {"recorded-on", 0, ES_OPTION_WORD, "DECK",
                     "The deck that recorded it: the tape's error is that deck's.", 0.0, 0.0, NULL},
    [RECORDED_AT] = {"recorded-at", 0, ES_OPTION_WORD, "DAY",
                     "When, as 2026-05-03; today without it.", 0.0, 0.0, NULL},
    [EPOCH] = {"recorded-epoch", 0, ES_OPTION_NUMBER, "N",
               "Which epoch of the deck it was (deck show), when the day does not say.", 1.0, 1e6,
               NULL},
    [STATED] = {"stated", 0, ES_OPTION_NUMBER, "PERCENT",
                "A bought tape's speed error as its maker states it, + when it was recorded fast.",
                -50.0, 50.0, NULL},
    [U95] = {"u95", 0, ES_OPTION_NUMBER, "PERCENT", "Expanded uncertainty (95 %) of --stated.",
             0.00001, 100.0, NULL},
    [TONE] = {"tone", 0, ES_OPTION_NUMBER, "HZ", "Its test tone as written.", 300.0, 153600.0,
              NULL},
    [PROGRAMME] = {"programme", 0, ES_OPTION_WORD, "NAME",
                   "Which programme stands on it (tape write).", 0.0, 0.0, NULL},
    [CLASS] = {"class", 0, ES_OPTION_CHOICE, "CLASS",
               "For which kind of machine; cassette "
               "without it.",
               0.0, 0.0, "cassette|microcassette|reel-4.76|reel-9.5|reel-19|reel-38|reel-76"},
    [THICKNESS] = {"thickness", 0, ES_OPTION_NUMBER, "UM", "Total thickness of the tape.", 1.0,
                   200.0, NULL},
    [LENGTH] = {"length", 0, ES_OPTION_NUMBER, "M", "Length of the whole tape.", 0.1, 5000.0, NULL},
    [NOTES] = {"notes", 0, ES_OPTION_WORD, "TEXT", "Anything worth remembering.", 0.0, 0.0, NULL},
    [FORCE] =
        {"force", 0, ES_OPTION_FLAG, NULL,
         "The tape is in the records already and was recorded anew: forget where it came from "
         "before.",
         0.0, 0.0, NULL},
    [RECORDS] = ES_RECORDS_OPTION,
    [JSON] = ES_RECORDS_JSON_OPTION,
};

/* --- showing ----------------------------------------------------------------------------------- */

static void print_tape(const es_tape_record *t)
{
    char room[ES_PATH_ROOM + 128];
    es_text text = es_text_over(room, sizeof room);
    es_wrap(stdout, "", "  ", t->name);
    es_text_add(&text, "speed error ");
    if (isnan(t->certificate_percent))
        es_text_add(&text, "not known");
    else {
        es_figure_percent(&text, t->certificate_percent);
        es_text_add(&text, " +- %.3f %%", t->certificate_u95_percent);
    }
    es_text_add(&text, "%s%s", t->certificate_path[0] ? ": " : "", t->certificate_path);
    es_wrap(stdout, "  ", "    ", room);
    text = es_text_over(room, sizeof room);
    es_text_add(&text, "%s", t->transport);
    if (!isnan(t->nominal_hz))
        es_text_add(&text, ", tone %g Hz", t->nominal_hz);
    if (t->programme[0])
        es_text_add(&text, ", programme %s", t->programme);
    if (!isnan(t->thickness_m))
        es_text_add(&text, ", %g um thick", 1e6 * t->thickness_m);
    if (!isnan(t->length_m))
        es_text_add(&text, ", %g m long", t->length_m);
    if (t->recorded_at[0])
        es_text_add(&text, ", recorded %.10s", t->recorded_at);
    es_wrap(stdout, "  ", "    ", room);
    if (t->notes[0])
        es_wrap(stdout, "  ", "  ", t->notes);
}

static int show(const es_ledger_use *use, es_ledger *l, const char *name)
{
    es_error error = {0};
    es_tape_record tape;
    if (es_ledger_tape(l, name, &tape, &error) != ES_OK)
        return es_use_fail(use, &error);
    if (!use->json) {
        print_tape(&tape);
        return ES_EXIT_DONE;
    }
    char *text;
    es_status status = es_certificate_to_json(&tape, &text);
    return es_use_print(status, text);
}

static int list(const es_ledger_use *use, es_ledger *l)
{
    es_error error = {0};
    es_tape_record *tapes;
    size_t count;
    es_status status = es_ledger_tapes(l, &tapes, &count, &error);
    if (status != ES_OK)
        return es_use_fail(use, &error);
    int code = ES_EXIT_DONE;
    if (use->json) {
        char *text;
        status = es_certificates_to_json(tapes, count, &text);
        code = es_use_print(status, text);
    } else if (count == 0) {
        puts("There is no tape in the records yet; evenspool trust tape NAME --recorded-on DECK "
             "adds one.");
    } else {
        for (size_t i = 0; i < count; i++)
            print_tape(&tapes[i]);
    }
    free(tapes);
    return code;
}

/* --- changing ---------------------------------------------------------------------------------- */

static es_status take_options(const es_option_value *v, es_tape_record *tape, es_error *error)
{
    if (v[STATED].given)
        tape->certificate_percent = v[STATED].number;
    if (v[U95].given)
        tape->certificate_u95_percent = v[U95].number;
    if (v[TONE].given)
        tape->nominal_hz = v[TONE].number;
    if (v[THICKNESS].given)
        tape->thickness_m = 1e-6 * v[THICKNESS].number;
    if (v[LENGTH].given)
        tape->length_m = v[LENGTH].number;
    es_status status =
        es_use_text("class", v[CLASS].text, tape->transport, sizeof tape->transport, error);
    if (status == ES_OK)
        status = es_use_text("programme's name", v[PROGRAMME].text, tape->programme,
                             sizeof tape->programme, error);
    return status == ES_OK
               ? es_use_text("text of notes", v[NOTES].text, tape->notes, sizeof tape->notes, error)
               : status;
}

/* A bought tape is one that no deck is named for; naming one, or a statement, changes what it is. */
static es_status change(es_ledger *l, const es_arguments *a, es_error *error)
{
    const es_option_value *v = a->values;
    es_error unknown = {0};
    es_tape_record tape;
    es_recording recording = {v[RECORDED_ON].text, v[EPOCH].given ? (int64_t)v[EPOCH].number : 0,
                              v[RECORDED_AT].text};
    int is_new = es_ledger_tape(l, a->operands[0], &tape, &unknown) != ES_OK;
    if (is_new && strcmp(unknown.code, "unknown") != 0)
        return es_fail(error, unknown.status, unknown.code, "%s", unknown.text);
    if (is_new)
        tape = es_ledger_blank_tape();
    else if ((v[RECORDED_ON].given || v[STATED].given) && !v[FORCE].given)
        return es_fail(error, ES_ERR_INPUT, "name-taken",
                       "There is already a tape with the name \"%.100s\"; give another, or --force "
                       "when it was recorded anew.",
                       tape.name);
    if (v[RECORDED_ON].given)
        tape.certificate_percent = tape.certificate_u95_percent = (double)NAN;
    es_status status = es_use_text("name", a->operands[0], tape.name, sizeof tape.name, error);
    if (status == ES_OK)
        status = take_options(v, &tape, error);
    if (status != ES_OK)
        return status;
    const es_recording *origin = v[RECORDED_ON].given || v[STATED].given ? &recording : NULL;
    return is_new ? es_ledger_add_tape(l, &tape, origin, error)
                  : es_ledger_edit_tape(l, &tape, origin, error);
}

static const char *what_is_wrong(const es_arguments *a)
{
    const es_option_value *v = a->values;
    if (v[RECORDED_ON].given && v[STATED].given)
        return "A tape's error is either stated by its maker or that of the deck that recorded it; "
               "give --stated or --recorded-on.";
    if (v[STATED].given != v[U95].given)
        return "--stated and --u95 go together: nobody makes a tape without doubt.";
    if ((v[RECORDED_AT].given || v[EPOCH].given) && !v[RECORDED_ON].given)
        return "--recorded-at and --recorded-epoch go with --recorded-on DECK.";
    if (v[FORCE].given && !v[RECORDED_ON].given && !v[STATED].given)
        return "--force goes with --recorded-on or --stated.";
    if (v[EPOCH].given && v[EPOCH].number != floor(v[EPOCH].number))
        return "The number of an epoch is whole.";
    return NULL;
}

static int is_change(const es_option_value *v)
{
    for (int i = 0; i < RECORDS; i++)
        if (v[i].given)
            return 1;
    return 0;
}

static int show_or_list(const es_ledger_use *use, es_ledger *l, const es_arguments *a)
{
    return a->operand_count > 0 ? show(use, l, a->operands[0]) : list(use, l);
}

static int change_and_show(const es_ledger_use *use, const es_arguments *a)
{
    es_error error = {0};
    es_ledger *l;
    int code = es_use_begin(use, ES_LEDGER_WRITE, &l);
    if (code != ES_EXIT_DONE)
        return code;
    code = es_use_end(use, l, change(l, a, &error), &error);
    if (code == ES_EXIT_DONE)
        code = show(use, l, a->operands[0]);
    es_ledger_close(l);
    return code;
}

static int run(const es_arguments *a)
{
    es_ledger_use use = {a->values[RECORDS].text, a->values[JSON].given};
    const char *wrong = what_is_wrong(a);
    if (!wrong && a->operand_count == 0 && is_change(a->values))
        wrong = "Name the tape: evenspool trust tape NAME.";
    if (wrong) {
        es_say("trust tape", "%s", wrong);
        return ES_EXIT_USAGE;
    }
    if (is_change(a->values))
        return es_end_of_output(change_and_show(&use, a));
    return es_use_with(&use, ES_LEDGER_READ, show_or_list, a);
}

static const char *const details[] = {
    "Without options shows what a tape is worth: its speed error, how far that can be believed, "
    "and "
    "where it comes from; without a name, all tapes. With options the tape is entered, or changed.",
    "A home-made tape has the error of the deck that recorded it, on the day it did; every "
    "measurement that makes the deck surer makes its tapes surer. A tape recorded 0.40 per cent "
    "fast is a good tape: check --tape takes it off.",
    NULL};

static const char *const examples[] = {"evenspool trust tape T1 --recorded-on Workshop --tone 3150",
                                       "A tape that Workshop recorded today.",
                                       "evenspool trust tape B1 --stated 0 --u95 0.2 --tone 3150",
                                       "A bought test tape and its maker's word.",
                                       "evenspool trust tape T1",
                                       "Its certificate.",
                                       NULL};

const es_verb es_verb_trust_tape = {.name = "trust tape",
                                    .about = "enter a tape, or show what it is worth",
                                    .operands = "[NAME]",
                                    .operands_most = 1,
                                    .operand_kind = "",
                                    .options = options,
                                    .option_count = OPTIONS,
                                    .details = details,
                                    .examples = examples,
                                    .run = run};
