/* evenspool deck add, edit, remove. */
#include "command/deck.h"
#include "command/deck_options.h"
#include "command/say.h"

#include <string.h>

enum { ADD_SINCE = ES_DECK_SHARED, ADD_OPTIONS };
enum { EDIT_RENAME = ES_DECK_SHARED, EDIT_ADJUSTED, EDIT_WHY, EDIT_OPTIONS };
enum { REMOVE_HISTORY, REMOVE_RECORDS, REMOVE_JSON, REMOVE_OPTIONS };

static es_ledger_use use_of(const es_option_value *v)
{
    return (es_ledger_use){v[ES_DECK_RECORDS].text, v[ES_DECK_JSON].given};
}

/* Changes a deck of the records, all of it or nothing, and shows what the deck is then. */
static int change_and_show(const es_arguments *a, es_ledger_mode mode,
                           es_status (*change)(es_ledger *l, const es_arguments *a,
                                               es_deck_record *deck, es_error *error))
{
    es_ledger_use use = use_of(a->values);
    es_error error = {0};
    es_deck_record deck;
    es_ledger *l;
    int code = es_use_begin(&use, mode, &l);
    if (code == ES_EXIT_DONE) {
        code = es_use_end(&use, l, change(l, a, &deck, &error), &error);
        if (code == ES_EXIT_DONE)
            code = es_deck_print(&use, l, deck.name);
        es_ledger_close(l);
    }
    return es_end_of_output(code);
}

/* --- add --------------------------------------------------------------------------------------- */

static const es_option add_options[ADD_OPTIONS] = {
    ES_DECK_OPTIONS,
    [ADD_SINCE] = {"since", 0, ES_OPTION_WORD, "DAY",
                   "Since when it runs as it does, as 2026-05-03.", 0.0, 0.0, NULL},
};

static es_status add(es_ledger *l, const es_arguments *a, es_deck_record *deck, es_error *error)
{
    const es_option_value *v = a->values;
    *deck = es_ledger_blank_deck();
    es_status status = es_use_text("name", a->operands[0], deck->name, sizeof deck->name, error);
    if (status == ES_OK)
        status = es_deck_take_options(v, deck, error);
    if (status == ES_OK)
        status = es_ledger_add_deck(l, deck, v[ADD_SINCE].text, error);
    if (status == ES_OK && v[ES_DECK_DRIFT].given)
        status = es_ledger_set_drift(l, deck->name, v[ES_DECK_DRIFT].number, error);
    return status;
}

static int run_add(const es_arguments *a)
{
    return change_and_show(a, ES_LEDGER_CREATE, add);
}

static const char *const add_details[] = {
    "Adds a deck by a name of your choice, in any script. Sizes help check to name the part behind "
    "a swing; leave out what you have not measured. The first deck begins the records.",
    NULL};

static const char *const add_examples[] = {
    "evenspool deck add Workshop --capstan 2.5 --pinch-roller 12.5 --flywheel 60",
    "A cassette deck with the sizes that were measured.",
    "evenspool deck add \"Big reel\" --class reel-19 --photo reel.jpg",
    "A reel-to-reel deck that runs at 19 cm/s.", NULL};

const es_verb es_verb_deck_add = {.name = "deck add",
                                  .about = "add a deck",
                                  .operands = "NAME",
                                  .operands_least = 1,
                                  .operands_most = 1,
                                  .operand_kind = "",
                                  .options = add_options,
                                  .option_count = ADD_OPTIONS,
                                  .details = add_details,
                                  .examples = add_examples,
                                  .run = run_add};

/* --- edit -------------------------------------------------------------------------------------- */

static const es_option edit_options[EDIT_OPTIONS] = {
    ES_DECK_OPTIONS,
    [EDIT_RENAME] = {"rename", 0, ES_OPTION_WORD, "NAME", "Another name.", 0.0, 0.0, NULL},
    [EDIT_ADJUSTED] =
        {"adjusted", 0, ES_OPTION_WORD, "WHEN",
         "It was adjusted or repaired: now, or on a day as 2026-05-03. Its speed is a "
         "new unknown from then on.",
         0.0, 0.0, "now"},
    [EDIT_WHY] = {"why", 0, ES_OPTION_WORD, "TEXT", "What was done, with --adjusted.", 0.0, 0.0,
                  NULL},
};

static es_status adjust(es_ledger *l, const es_option_value *v, const char *name, es_error *error)
{
    const char *when = v[EDIT_ADJUSTED].text;
    if (!v[EDIT_ADJUSTED].given)
        return v[EDIT_WHY].given ? es_fail(error, ES_ERR_ARG, "usage",
                                           "--why goes with --adjusted, which says when.")
                                 : ES_OK;
    return es_ledger_adjusted(l, name, strcmp(when, "now") == 0 ? NULL : when, v[EDIT_WHY].text,
                              error);
}

static es_status edit(es_ledger *l, const es_arguments *a, es_deck_record *deck, es_error *error)
{
    const es_option_value *v = a->values;
    es_status status = es_ledger_deck(l, a->operands[0], deck, error);
    if (status == ES_OK)
        status = es_deck_take_options(v, deck, error);
    if (status == ES_OK)
        status = es_use_text("name", v[EDIT_RENAME].text, deck->name, sizeof deck->name, error);
    if (status == ES_OK)
        status = es_ledger_edit_deck(l, deck, error);
    if (status == ES_OK)
        status = adjust(l, v, deck->name, error);
    if (status == ES_OK && v[ES_DECK_DRIFT].given)
        status = es_ledger_set_drift(l, deck->name, v[ES_DECK_DRIFT].number, error);
    return status;
}

static int run_edit(const es_arguments *a)
{
    return change_and_show(a, ES_LEDGER_WRITE, edit);
}

static const char *const edit_details[] = {
    "Changes what is given and leaves the rest. A size of 0 means that it is not known after all.",
    "After an adjustment what was known of the deck's speed holds no longer. Tapes recorded before "
    "keep the error that the deck had then.",
    NULL};

static const char *const edit_examples[] = {
    "evenspool deck edit Workshop --adjusted 2026-05-03 --why \"trimmer, new belt\"",
    "What was measured before that day no longer tells of its speed.",
    "evenspool deck edit Workshop --rename Kitchen --drift 0.3", "It wanders more than most.",
    NULL};

const es_verb es_verb_deck_edit = {.name = "deck edit",
                                   .about = "change what is kept of a deck, or say it was adjusted",
                                   .operands = "NAME",
                                   .operands_least = 1,
                                   .operands_most = 1,
                                   .operand_kind = "",
                                   .options = edit_options,
                                   .option_count = EDIT_OPTIONS,
                                   .details = edit_details,
                                   .examples = edit_examples,
                                   .run = run_edit};

/* --- remove ------------------------------------------------------------------------------------ */

static const es_option remove_options[REMOVE_OPTIONS] = {
    [REMOVE_HISTORY] = {"with-history", 0, ES_OPTION_FLAG, NULL,
                        "Also its readings, jobs, plays and anchors. Tapes that it recorded stay, "
                        "with the certificate that was last found for them.",
                        0.0, 0.0, NULL},
    [REMOVE_RECORDS] = ES_RECORDS_OPTION,
    [REMOVE_JSON] = ES_RECORDS_JSON_OPTION,
};

static int remove_deck(const es_ledger_use *use, es_ledger *l, const es_arguments *a)
{
    es_error error = {0};
    int history = a->values[REMOVE_HISTORY].given;
    return es_ledger_remove_deck(l, a->operands[0], history, &error) == ES_OK
               ? es_use_done(use, "The deck \"%s\" is not in the records any more.", a->operands[0])
               : es_use_fail(use, &error);
}

static int run_remove(const es_arguments *a)
{
    es_ledger_use use = {a->values[REMOVE_RECORDS].text, a->values[REMOVE_JSON].given};
    return es_use_with(&use, ES_LEDGER_WRITE, remove_deck, a);
}

static const char *const remove_details[] = {
    "Takes a deck out of the records. One with a history is only removed together with it, when "
    "that is asked for; evenspool export keeps a copy of all records first.",
    NULL};

static const char *const remove_examples[] = {"evenspool deck remove Workshop",
                                              "A deck that was entered by mistake.", NULL};

const es_verb es_verb_deck_remove = {.name = "deck remove",
                                     .about = "take a deck out of the records",
                                     .operands = "NAME",
                                     .operands_least = 1,
                                     .operands_most = 1,
                                     .operand_kind = "",
                                     .options = remove_options,
                                     .option_count = REMOVE_OPTIONS,
                                     .details = remove_details,
                                     .examples = remove_examples,
                                     .run = run_remove};
