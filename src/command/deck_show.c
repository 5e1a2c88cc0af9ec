/* evenspool deck list, show. */
#include "command/deck.h"
#include "command/figure.h"
#include "command/say.h"
#include "command/trust.h"
#include "evenspool/base/record_figures.h"
#include "json/ledger_json.h"
#include "json/trust_json.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { RECORDS, JSON, OPTIONS };

static const es_option options[OPTIONS] = {
    [RECORDS] = ES_RECORDS_OPTION,
    [JSON] = ES_RECORDS_JSON_OPTION,
};

static const es_trust_deck *find(const es_trust_result *r, int64_t deck)
{
    for (size_t i = 0; i < r->deck_count; i++)
        if (r->decks[i].latest && r->decks[i].deck == deck)
            return &r->decks[i];
    return NULL;
}

/* --- list -------------------------------------------------------------------------------------- */

static void print_line(const es_deck_record *deck, const es_trust_result *trust)
{
    const es_trust_deck *known = find(trust, deck->id);
    char room[ES_NAME_ROOM + 64];
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "%s (%s)", deck->name, deck->transport);
    es_wrap(stdout, "  ", "    ", room);
    if (known)
        es_figure_row(known->error_percent, known->u95_percent, known->tied_to);
}

static int print_list(const es_ledger_use *use, const es_deck_record *decks, size_t count,
                      const es_trust_result *trust)
{
    if (use->json) {
        char *text;
        es_status status = es_decks_to_json(decks, count, trust, &text);
        return es_use_print(status, text);
    }
    if (count == 0)
        puts("There is no deck yet; evenspool deck add NAME adds one.");
    else
        puts("Decks, and how far their speed is known");
    for (size_t i = 0; i < count; i++)
        print_line(&decks[i], trust);
    return ES_EXIT_DONE;
}

static int list(const es_ledger_use *use, es_ledger *l, const es_arguments *a)
{
    (void)a;
    es_error error = {0};
    es_trust_asked asked = es_trust_asked_defaults();
    es_trust_result *trust = NULL;
    es_deck_record *decks = NULL;
    size_t count = 0;
    es_status status = es_ledger_decks(l, &decks, &count, &error);
    if (status == ES_OK)
        status = es_ledger_solve(l, &asked, &trust, &error);
    int code = status == ES_OK ? print_list(use, decks, count, trust) : es_use_fail(use, &error);
    es_trust_result_destroy(trust);
    free(decks);
    return code;
}

static int run_list(const es_arguments *a)
{
    es_ledger_use use = {a->values[RECORDS].text, a->values[JSON].given};
    return es_use_with(&use, ES_LEDGER_READ, list, a);
}

static const char *const list_details[] = {
    "Lists the decks, each with its speed error as it is known now, how far that can be believed "
    "(95 %), and what ties it to true speed.",
    NULL};

static const char *const list_examples[] = {"evenspool deck list", "All decks.", NULL};

const es_verb es_verb_deck_list = {.name = "deck list",
                                   .about = "list the decks with how far each is known",
                                   .operands = "",
                                   .operand_kind = "",
                                   .options = options,
                                   .option_count = OPTIONS,
                                   .details = list_details,
                                   .examples = list_examples,
                                   .run = run_list};

/* --- show: what it is -------------------------------------------------------------------------- */

static void print_size(const char *name, double metres, double unit, const char *unit_name)
{
    if (!isnan(metres))
        printf("  %-20s %g %s\n", name, metres / unit, unit_name);
}

static void print_deck(const es_deck_record *d)
{
    es_wrap(stdout, "", "", d->name);
    putchar('\n');
    printf("  %-20s %s\n", "class", d->transport);
    print_size("nominal speed", d->speed_m_s, 0.01, "cm/s");
    print_size("capstan", d->capstan_m, 0.001, "mm");
    print_size("pinch roller", d->pinch_roller_m, 0.001, "mm");
    print_size("flywheel", d->flywheel_m, 0.001, "mm");
    print_size("motor pulley", d->motor_pulley_m, 0.001, "mm");
    print_size("belt", d->belt_m, 0.001, "mm");
    print_size("idler", d->idler_m, 0.001, "mm");
    print_size("hub radius", d->hub_radius_m, 0.001, "mm");
    if (d->photo[0])
        printf("  %-20s %s\n", "photo", d->photo);
    if (d->notes[0])
        es_wrap(stdout, "  notes                ", "                       ", d->notes);
}

static void print_trust(const es_trust_deck *known)
{
    if (!known)
        return;
    puts("\nSpeed, as it is known now");
    es_figure_row(known->error_percent, known->u95_percent, known->tied_to);
}

/* --- show: what was done ----------------------------------------------------------------------- */

static const char *day_of(const char *time, char room[ES_TIME_ROOM])
{
    es_text text = es_text_over(room, ES_TIME_ROOM);
    es_text_add(&text, "%.10s", time[0] ? time : "?");
    return room;
}

static void print_epochs(const es_history *h)
{
    char day[ES_TIME_ROOM];
    puts("\nAdjustments");
    for (size_t i = 0; i < h->epoch_count; i++) {
        const es_epoch_record *e = &h->epochs[i];
        char room[ES_LINE_ROOM + 128];
        es_text text = es_text_over(room, sizeof room);
        if (i == 0)
            es_text_add(&text, "epoch 1 began with the deck%s%s", e->began[0] ? " on " : "",
                        e->began[0] ? day_of(e->began, day) : "");
        else
            es_text_add(&text, "epoch %lld began on %s%s%s", (long long)e->number,
                        day_of(e->began, day), e->why[0] ? ": " : "", e->why);
        es_wrap(stdout, "  ", "    ", room);
    }
}

static es_reading_record *reading_of(const es_history *h, int64_t id)
{
    for (size_t i = 0; i < h->reading_count && id; i++)
        if (h->readings[i].id == id)
            return &h->readings[i];
    return NULL;
}

static void add_reading(es_text *text, const char *name, es_adjust adjust, es_reading_record *r)
{
    if (!r)
        return;
    es_text_add(text, "%s ", name);
    es_figure_adjusted(text, adjust, *es_reading_error(r, adjust));
}

/* "job 2, 2026-05-03, azimuth: crackles": a job that says no quantity is the speed's. */
static void add_job(es_text *text, const es_job_record *j)
{
    char day[ES_TIME_ROOM];
    es_adjust adjust = es_job_adjust(j);
    es_text_add(text, "job %lld, %s", (long long)j->id, day_of(j->opened_at, day));
    if (adjust != ES_ADJUST_SPEED)
        es_text_add(text, ", %s", es_adjust_facts_of(adjust)->name);
    es_text_add(text, "%s%s", j->asked[0] ? ": " : "", j->asked);
}

static void print_jobs(const es_history *h)
{
    if (h->job_count > 0)
        puts("\nJobs");
    for (size_t i = 0; i < h->job_count; i++) {
        const es_job_record *j = &h->jobs[i];
        char room[ES_LINE_ROOM + 256];
        es_text text = es_text_over(room, sizeof room);
        size_t nudges = 0;
        for (size_t k = 0; k < h->nudge_count; k++)
            nudges += h->nudges[k].job == j->id;
        add_job(&text, j);
        add_reading(&text, ", as found", es_job_adjust(j), reading_of(h, j->as_found));
        es_text_add(&text, ", %zu turn%s", nudges, nudges == 1 ? "" : "s");
        add_reading(&text, ", as left", es_job_adjust(j), reading_of(h, j->as_left));
        es_wrap(stdout, "  ", "    ", room);
        for (size_t k = 0; k < h->remark_count; k++)
            if (h->remarks[k].job == j->id)
                es_wrap(stdout, "    * ", "      ", h->remarks[k].text);
    }
}

/* "+0.400 % +- 0.080 %", "azimuth +50.02 us +- 0.52 us". */
static void add_figure(es_text *text, const es_history *h, es_reading_record *r)
{
    es_adjust adjust = es_reading_adjust(r);
    for (size_t i = 0; i < h->job_count; i++)
        if (h->jobs[i].id == r->job && adjust != ES_ADJUST_SPEED)
            adjust = es_job_adjust(&h->jobs[i]);
    const es_adjust_facts *f = es_adjust_facts_of(adjust);
    double u95 = *es_reading_u95(r, adjust);
    if (adjust != ES_ADJUST_SPEED)
        es_text_add(text, "%s ", f->name);
    if (isnan(*es_reading_error(r, adjust)))
        es_text_add(text, "compared only");
    else
        es_figure_adjusted(text, adjust, *es_reading_error(r, adjust));
    if (!isnan(u95))
        es_text_add(text, " +- %.*f %s", f->decimals + 1, u95, f->unit);
}

static void print_readings(const es_history *h)
{
    char day[ES_TIME_ROOM];
    if (h->reading_count > 0)
        puts("\nReadings");
    for (size_t i = 0; i < h->reading_count; i++) {
        es_reading_record *r = &h->readings[i];
        char room[ES_PATH_ROOM + 128];
        es_text text = es_text_over(room, sizeof room);
        es_text_add(&text, "%s, ", day_of(r->taken_at, day));
        add_figure(&text, h, r);
        if (!isnan(r->weighted_quasi_peak_percent))
            es_text_add(&text, ", wow and flutter %.3f %%", r->weighted_quasi_peak_percent);
        es_text_add(&text, "%s%s", r->capture[0] ? ", " : "", r->capture);
        es_wrap(stdout, "  ", "              ", room);
    }
}

static void print_entries(const es_history *h)
{
    if (h->play_count + h->anchor_count > 0)
        puts("\nPlays and anchors");
    es_trust_print_entries(h);
}

/* --- show -------------------------------------------------------------------------------------- */

static void print_history(const es_history *h, const es_trust_result *trust)
{
    print_deck(&h->deck);
    print_trust(find(trust, h->deck.id));
    print_epochs(h);
    print_jobs(h);
    print_readings(h);
    print_entries(h);
}

int es_deck_print(const es_ledger_use *use, es_ledger *l, const char *name)
{
    es_error error = {0};
    es_trust_asked asked = es_trust_asked_defaults();
    es_history *h = NULL;
    es_trust_result *trust = NULL;
    int code = ES_EXIT_DONE;
    es_status status = es_ledger_history(l, name, &h, &error);
    if (status == ES_OK)
        status = es_ledger_solve(l, &asked, &trust, &error);
    if (status != ES_OK) {
        code = es_use_fail(use, &error);
    } else if (use->json) {
        char *text;
        status = es_history_to_json(h, trust, &text);
        code = es_use_print(status, text);
    } else {
        print_history(h, trust);
    }
    es_history_destroy(h);
    es_trust_result_destroy(trust);
    return code;
}

static int show(const es_ledger_use *use, es_ledger *l, const es_arguments *a)
{
    return es_deck_print(use, l, a->operands[0]);
}

static int run_show(const es_arguments *a)
{
    es_ledger_use use = {a->values[RECORDS].text, a->values[JSON].given};
    return es_use_with(&use, ES_LEDGER_READ, show, a);
}

static const char *const show_details[] = {
    "Shows a deck with its sizes, how far its speed is known and by what, its adjustments, jobs, "
    "readings, and the plays and anchors that it took part in.",
    NULL};

static const char *const show_examples[] = {"evenspool deck show Workshop", "All about one deck.",
                                            NULL};

const es_verb es_verb_deck_show = {.name = "deck show",
                                   .about = "show all that is kept of a deck",
                                   .operands = "NAME",
                                   .operands_least = 1,
                                   .operands_most = 1,
                                   .operand_kind = "",
                                   .options = options,
                                   .option_count = OPTIONS,
                                   .details = show_details,
                                   .examples = show_examples,
                                   .run = run_show};
