/* evenspool trust solve, next: what follows from all that was entered. */
#include "command/figure.h"
#include "command/say.h"
#include "command/trust.h"
#include "json/trust_json.h"

#include <math.h>
#include <string.h>

/* --- decks and tapes --------------------------------------------------------------------------- */

static void print_figure(const char *name, const char *more, double error, double u95,
                         const char *words)
{
    char room[ES_NAME_ROOM + 64];
    es_text title = es_text_over(room, sizeof room);
    es_text_add(&title, "%s%s", name, more);
    es_wrap(stdout, "  ", "    ", room);
    es_figure_row(error, u95, words);
}

static void print_deck(const es_trust_deck *d)
{
    char more[64];
    es_text text = es_text_over(more, sizeof more);
    if (!d->latest)
        es_text_add(&text, " (epoch %lld, until %s)", (long long)d->number, d->day);
    else if (d->number > 1)
        es_text_add(&text, " (epoch %lld)", (long long)d->number);
    print_figure(d->name, more, d->error_percent, d->u95_percent,
                 d->tied_to[0] ? d->tied_to
                 : d->tied     ? "tied"
                               : "not tied to true speed");
}

static void print_decks(const es_trust_result *r)
{
    printf("How far the decks can be believed (%g %%), as of %s\n", 100.0 * r->level, r->asked_day);
    for (size_t i = 0; i < r->deck_count; i++)
        print_deck(&r->decks[i]);
    if (r->untied_decks > 0) {
        putchar('\n');
        es_wrap(
            stdout, "", "",
            "A deck that is not tied to true speed needs an anchor, or a comparison with a deck "
            "that has one; until then at most its difference from others is known.");
    }
}

static void print_tapes(const es_trust_result *r)
{
    if (r->tape_count > 0)
        puts("\nTapes");
    for (size_t i = 0; i < r->tape_count; i++)
        print_figure(r->tapes[i].name, "", r->tapes[i].error_percent, r->tapes[i].u95_percent,
                     r->tapes[i].path[0] ? r->tapes[i].path : "nobody has said what its error is");
}

/* --- do they agree ----------------------------------------------------------------------------- */

static void print_suspects(const es_trust_result *r)
{
    for (size_t i = 0; i < r->suspect_count; i++)
        es_wrap(stdout, "  * ", "    ", r->suspects[i].text);
}

static void print_apart(const es_trust_result *r)
{
    for (size_t i = 0; i < r->link_count; i++) {
        const es_trust_link *k = &r->links[i];
        char room[ES_NAME_ROOM + 256];
        es_text text = es_text_over(room, sizeof room);
        if (k->role == ES_TRUST_DRIFT_CHECK) {
            es_text_add(&text,
                        "Play %lld was heard on the deck that recorded it (%s): a check for drift, "
                        "not for speed. It moved by ",
                        (long long)k->id, r->decks[k->to].name);
            es_figure_percent(&text, k->value_percent);
            es_text_add(&text, ", %.1f times its standard uncertainty.", fabs(k->normalised));
        } else if (k->role == ES_TRUST_REMOVED) {
            es_text_add(&text, "%s %lld was left out: it is off by about ",
                        k->kind == ES_TRUST_PLAY ? "Play" : "Anchor", (long long)k->id);
            es_figure_percent(&text, k->gross_error_percent);
            es_text_add(&text, ".");
        }
        if (text.length > 0)
            es_wrap(stdout, "  * ", "    ", room);
    }
}

static void print_agreement(const es_trust_result *r)
{
    static const char *const words[] = {
        [ES_TRUST_UNTESTED] = "Nothing to tell yet: no entry checks another. One more comparison "
                              "between decks that are tied already would.",
        [ES_TRUST_CONSISTENT] = "Yes: they differ no more than their uncertainties allow.",
        [ES_TRUST_CONTRADICTORY] = "No: they differ by more than their uncertainties allow. At "
                                   "least one is wrong, or less certain than was entered."};
    char room[128];
    es_text text = es_text_over(room, sizeof room);
    puts("\nDo the entries agree?");
    es_wrap(stdout, "  ", "  ", words[r->consistency]);
    if (r->consistency != ES_TRUST_UNTESTED) {
        es_text_add(&text, "Chi-square %.2f with %zu degree%s of freedom, p = %.3f.", r->chi_square,
                    r->degrees_of_freedom, r->degrees_of_freedom == 1 ? "" : "s", r->p);
        es_wrap(stdout, "  ", "  ", room);
    }
    print_suspects(r);
    print_apart(r);
}

/* --- what next --------------------------------------------------------------------------------- */

void es_trust_print_next(const es_trust_result *r)
{
    for (size_t i = 0; i < r->next_count; i++) {
        const es_trust_next *n = &r->next[i];
        char room[2 * ES_LINE_ROOM];
        es_text text = es_text_over(room, sizeof room);
        es_text_add(&text, "+- %.3f %%", n->predicted_u95_percent);
        if (!isnan(n->now_u95_percent))
            es_text_add(&text, " in place of %.3f %%", n->now_u95_percent);
        es_text_add(&text, ": %s", n->measurement);
        es_wrap(stdout, "  * ", "    ", room);
    }
}

static void print_all(const es_trust_result *r)
{
    if (r->deck_count == 0) {
        puts("There is no deck yet; evenspool deck add NAME adds one.");
        return;
    }
    print_decks(r);
    print_tapes(r);
    print_agreement(r);
    if (r->next_count > 0)
        puts("\nWhat would help most");
    es_trust_print_next(r);
}

/* --- solve ------------------------------------------------------------------------------------- */

enum { SOLVE_ROBUST, SOLVE_LEVEL, SOLVE_RECORDS, SOLVE_JSON, SOLVE_OPTIONS };

static const es_option solve_options[SOLVE_OPTIONS] = {
    [SOLVE_ROBUST] =
        {"robust", 0, ES_OPTION_CHOICE, "HOW",
         "What to do with entries that disagree: none counts all as entered, as without it; remove "
         "leaves out the worst, and again; soften lets them count less.",
         0.0, 0.0, "none|remove|soften"},
    [SOLVE_LEVEL] = {"level", 0, ES_OPTION_NUMBER, "PERCENT",
                     "Of how many in a hundred such figures the true value lies within the given "
                     "range; 95 without it.",
                     50.0, 99.99, NULL},
    [SOLVE_RECORDS] = ES_RECORDS_OPTION,
    [SOLVE_JSON] = ES_RECORDS_JSON_OPTION,
};

static es_trust_asked asked_of(const es_option_value *v)
{
    es_trust_asked asked = es_trust_asked_defaults();
    if (v[SOLVE_ROBUST].given && strcmp(v[SOLVE_ROBUST].text, "remove") == 0)
        asked.robust = ES_TRUST_REMOVE;
    if (v[SOLVE_ROBUST].given && strcmp(v[SOLVE_ROBUST].text, "soften") == 0)
        asked.robust = ES_TRUST_SOFTEN;
    if (v[SOLVE_LEVEL].given)
        asked.level = v[SOLVE_LEVEL].number / 100.0;
    return asked;
}

/* Opens the records, solves and shows. */
static int solve_and_show(const es_ledger_use *use, const es_trust_asked *asked,
                          es_status (*to_json)(const es_trust_result *, char **),
                          void (*print)(const es_trust_result *))
{
    es_error error = {0};
    es_trust_result *r;
    es_ledger *l;
    int code = es_use_open(use, ES_LEDGER_READ, &l);
    if (code != ES_EXIT_DONE)
        return es_end_of_output(code);
    if (es_ledger_solve(l, asked, &r, &error) != ES_OK) {
        code = es_use_fail(use, &error);
    } else if (use->json) {
        char *text;
        es_status status = to_json(r, &text);
        code = es_use_print(status, text);
    } else {
        print(r);
    }
    es_trust_result_destroy(r);
    es_ledger_close(l);
    return es_end_of_output(code);
}

static int run_solve(const es_arguments *a)
{
    const es_option_value *v = a->values;
    es_ledger_use use = {v[SOLVE_RECORDS].text, v[SOLVE_JSON].given};
    es_trust_asked asked = asked_of(v);
    return solve_and_show(&use, &asked, es_trust_to_json, print_all);
}

static const char *const solve_details[] = {
    "Reckons from all plays and anchors together how fast each deck runs and how far that can be "
    "believed, what each home-made tape is worth, whether the entries agree, which one disagrees "
    "and by how much, and what to measure next. docs/trust.md has the formulas.",
    "What is entered is never changed by it. A deck's trust fades with the time since it was "
    "compared, as deck edit --drift says.",
    NULL};

static const char *const solve_examples[] = {"evenspool trust solve", "The note for the bench.",
                                             "evenspool trust solve --robust remove --json",
                                             "For programs, without what is plainly wrong.", NULL};

const es_verb es_verb_trust_solve = {.name = "trust solve",
                                     .about = "reckon how far each deck and tape can be believed",
                                     .operands = "",
                                     .operand_kind = "",
                                     .options = solve_options,
                                     .option_count = SOLVE_OPTIONS,
                                     .details = solve_details,
                                     .examples = solve_examples,
                                     .run = run_solve};

/* --- next -------------------------------------------------------------------------------------- */

enum { NEXT_PLAY_U, NEXT_RECORDS, NEXT_JSON, NEXT_OPTIONS };

static const es_option next_options[NEXT_OPTIONS] = {
    [NEXT_PLAY_U] = {"play-u", 0, ES_OPTION_NUMBER, "PERCENT",
                     "Standard uncertainty that a comparison of yours has; 0.02 without it.",
                     0.0001, 10.0, NULL},
    [NEXT_RECORDS] = ES_RECORDS_OPTION,
    [NEXT_JSON] = ES_RECORDS_JSON_OPTION,
};

static void print_share(const es_trust_result *r, const es_trust_link *k)
{
    char first[32], room[2 * ES_NAME_ROOM + 128];
    es_text start = es_text_over(first, sizeof first), text = es_text_over(room, sizeof room);
    es_text_add(&start, "  %5.1f %%  ", 100.0 * k->share);
    if (k->kind == ES_TRUST_PLAY)
        es_text_add(&text, "play %lld, recorded on %s, played on %s", (long long)k->id,
                    r->decks[k->from].name, r->decks[k->to].name);
    else
        es_text_add(&text, "anchor %lld, %s of %s", (long long)k->id, k->name,
                    r->decks[k->to].name);
    es_wrap(stdout, first, "           ", room);
}

static void print_shares(const es_trust_result *r)
{
    if (!r->decks[r->shares_of].tied)
        return;
    puts("\nWhat the uncertainty comes from");
    for (size_t i = 0; i < r->link_count; i++)
        if (r->links[i].share >= 0.0005)
            print_share(r, &r->links[i]);
    if (r->walk_share >= 0.0005)
        printf("  %5.1f %%  drift since it was measured\n", 100.0 * r->walk_share);
}

static void print_advice(const es_trust_result *r)
{
    print_deck(&r->decks[r->shares_of]);
    print_shares(r);
    puts("\nWhat would help most");
    es_trust_print_next(r);
    if (r->next_count == 0)
        puts("  Nothing that can be done at home would make it surer.");
}

static int run_next(const es_arguments *a)
{
    const es_option_value *v = a->values;
    es_ledger_use use = {v[NEXT_RECORDS].text, v[NEXT_JSON].given};
    es_trust_asked asked = es_trust_asked_defaults();
    asked.deck = a->operands[0];
    asked.play_u_percent = v[NEXT_PLAY_U].number;
    return solve_and_show(&use, &asked, es_next_to_json, print_advice);
}

static const char *const next_details[] = {
    "Says for one deck what its uncertainty comes from and, of the measurements that you could "
    "make, which would shrink it most, with the uncertainty that it would have then. Comparisons "
    "are "
    "proposed with decks of the same class that are tied to true speed.",
    NULL};

static const char *const next_examples[] = {"evenspool trust next Attic",
                                            "What to do about this deck.", NULL};

const es_verb es_verb_trust_next = {.name = "trust next",
                                    .about = "say which measurement would help a deck most",
                                    .operands = "DECK",
                                    .operands_least = 1,
                                    .operands_most = 1,
                                    .operand_kind = "",
                                    .options = next_options,
                                    .option_count = NEXT_OPTIONS,
                                    .details = next_details,
                                    .examples = next_examples,
                                    .run = run_next};
