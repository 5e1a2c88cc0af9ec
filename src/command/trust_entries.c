/* evenspool trust list, remove. */
#include "command/figure.h"
#include "command/options.h"
#include "command/say.h"
#include "command/trust.h"
#include "json/ledger_json.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { RECORDS, JSON, OPTIONS };

static const es_option options[OPTIONS] = {
    [RECORDS] = ES_RECORDS_OPTION,
    [JSON] = ES_RECORDS_JSON_OPTION,
};

/* --- list -------------------------------------------------------------------------------------- */

/* A deck that was adjusted since is named with its epoch. */
static void add_deck(es_text *text, const char *name, int64_t number)
{
    es_text_add(text, "%s", name);
    if (number > 1)
        es_text_add(text, " (epoch %lld)", (long long)number);
}

static void add_day(es_text *text, const char *time)
{
    if (time[0])
        es_text_add(text, " on %.10s", time);
}

static void print_play(const es_told_play *p)
{
    char room[3 * ES_NAME_ROOM + ES_LINE_ROOM + 256];
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "play %lld", (long long)p->play.id);
    add_day(&text, p->play.played_at);
    es_text_add(&text, ": recorded on ");
    add_deck(&text, p->recorded_deck, p->recorded_number);
    es_text_add(&text, ", played on ");
    add_deck(&text, p->played_deck, p->played_number);
    es_text_add(&text, ", heard ");
    es_figure_percent(&text, p->play.heard_percent);
    es_text_add(&text, " (u %.4f %%)", p->play.u_percent);
    if (p->tape[0])
        es_text_add(&text, ", tape %s", p->tape);
    if (p->play.note[0])
        es_text_add(&text, "; %s", p->play.note);
    es_wrap(stdout, "  ", "    ", room);
}

static void print_anchor(const es_told_anchor *a)
{
    char room[ES_NAME_ROOM + 2 * ES_LINE_ROOM];
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "anchor %lld", (long long)a->anchor.id);
    add_day(&text, a->anchor.made_at);
    es_text_add(&text, ": ");
    add_deck(&text, a->deck, a->number);
    es_text_add(&text, " by %s ", a->name);
    es_figure_percent(&text, a->anchor.error_percent);
    es_text_add(&text, " +- %.3f %%", a->anchor.u95_percent);
    if (a->anchor.note[0])
        es_text_add(&text, "; %s", a->anchor.note);
    es_wrap(stdout, "  ", "    ", room);
}

void es_trust_print_entries(const es_history *h)
{
    for (size_t i = 0; i < h->play_count; i++)
        print_play(&h->plays[i]);
    for (size_t i = 0; i < h->anchor_count; i++)
        print_anchor(&h->anchors[i]);
}

static int print_list(const es_ledger_use *use, const es_history *h)
{
    if (use->json) {
        char *text;
        es_status status = es_entries_to_json(h, &text);
        return es_use_print(status, text);
    }
    if (h->play_count + h->anchor_count == 0)
        puts("Nothing was compared yet, and no deck is anchored.");
    else
        puts("Plays and anchors");
    es_trust_print_entries(h);
    return ES_EXIT_DONE;
}

static int list(const es_ledger_use *use, es_ledger *l, const es_arguments *a)
{
    es_error error = {0};
    es_history *h = NULL;
    const char *deck = a->operand_count > 0 ? a->operands[0] : NULL;
    int code = es_ledger_history(l, deck, &h, &error) == ES_OK ? print_list(use, h)
                                                               : es_use_fail(use, &error);
    es_history_destroy(h);
    return code;
}

static int run_list(const es_arguments *a)
{
    es_ledger_use use = {a->values[RECORDS].text, a->values[JSON].given};
    return es_use_with(&use, ES_LEDGER_READ, list, a);
}

static const char *const list_details[] = {
    "Lists the plays and anchors, of all decks or of one, with the numbers by which trust remove "
    "takes them out again.",
    NULL};

static const char *const list_examples[] = {"evenspool trust list Workshop",
                                            "What is known of one deck, and from where.", NULL};

const es_verb es_verb_trust_list = {.name = "trust list",
                                    .about = "list plays and anchors with their numbers",
                                    .operands = "[DECK]",
                                    .operands_most = 1,
                                    .operand_kind = "",
                                    .options = options,
                                    .option_count = OPTIONS,
                                    .details = list_details,
                                    .examples = list_examples,
                                    .run = run_list};

/* --- remove ------------------------------------------------------------------------------------ */

enum { TAPE_HISTORY = OPTIONS, REMOVE_OPTIONS };

static const es_option remove_options[REMOVE_OPTIONS] = {
    [RECORDS] = ES_RECORDS_OPTION,
    [JSON] = ES_RECORDS_JSON_OPTION,
    [TAPE_HISTORY] = {"with-history", 0, ES_OPTION_FLAG, NULL,
                      "Also a tape that plays or readings name; they stay and no longer name it.",
                      0.0, 0.0, NULL},
};

static int read_id(const char *text, int64_t *id)
{
    double number;
    if (!es_number_read(text, &number) || number < 1.0 || number > 9e15 || number != floor(number))
        return 0;
    *id = (int64_t)number;
    return 1;
}

static es_status remove_one(es_ledger *l, const es_arguments *a, es_error *error)
{
    const char *kind = a->operands[0], *which = a->operands[1];
    int64_t id = 0;
    if (strcmp(kind, "tape") == 0)
        return es_ledger_remove_tape(l, which, a->values[TAPE_HISTORY].given, error);
    if (strcmp(kind, "play") != 0 && strcmp(kind, "anchor") != 0)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "A play, an anchor or a tape can be removed, not a \"%.40s\".", kind);
    if (a->values[TAPE_HISTORY].given)
        return es_fail(error, ES_ERR_ARG, "usage", "--with-history is for a tape.");
    if (!read_id(which, &id))
        return es_fail(error, ES_ERR_ARG, "usage",
                       "A %s is named by its number, not by \"%.40s\"; evenspool trust list shows "
                       "the numbers.",
                       kind, which);
    return strcmp(kind, "play") == 0 ? es_ledger_remove_play(l, id, error)
                                     : es_ledger_remove_anchor(l, id, error);
}

static int remove_entry(const es_ledger_use *use, es_ledger *l, const es_arguments *a)
{
    es_error error = {0};
    return remove_one(l, a, &error) == ES_OK
               ? es_use_done(use, "The %s %s is not in the records any more.", a->operands[0],
                             a->operands[1])
               : es_use_fail(use, &error);
}

static int run_remove(const es_arguments *a)
{
    es_ledger_use use = {a->values[RECORDS].text, a->values[JSON].given};
    return es_use_with(&use, ES_LEDGER_WRITE, remove_entry, a);
}

static const char *const remove_details[] = {"Takes back an entry that was wrong: play or anchor "
                                             "with its number, as trust list shows it, or "
                                             "tape with its name.",
                                             NULL};

static const char *const remove_examples[] = {"evenspool trust remove play 4",
                                              "The play that solve names as a suspect, say.", NULL};

const es_verb es_verb_trust_remove = {.name = "trust remove",
                                      .about = "take out a play, an anchor or a tape",
                                      .operands = "play|anchor|tape WHICH",
                                      .operands_least = 2,
                                      .operands_most = 2,
                                      .operand_kind = "",
                                      .options = remove_options,
                                      .option_count = REMOVE_OPTIONS,
                                      .details = remove_details,
                                      .examples = remove_examples,
                                      .run = run_remove};
