/* The records as a network: decks' epochs are its unknowns, plays and anchors its observations. */
#include "live/ledger_inside.h"

#include "evenspool/base/text.h"
#include "evenspool/trust/anchors.h"
#include "evenspool/trust/certificate.h"
#include "store/anchors.h"
#include "store/decks.h"
#include "store/plays.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* --- reading the records ------------------------------------------------------------------------ */

static int by_deck_and_number(const void *a, const void *b)
{
    const es_epoch_record *x = a, *y = b;
    if (x->deck != y->deck)
        return x->deck < y->deck ? -1 : 1;
    return (x->number > y->number) - (x->number < y->number);
}

static int by_id(const void *a, const void *b)
{
    const es_ledger_id *x = a, *y = b;
    return (x->id > y->id) - (x->id < y->id);
}

/*
 * What refers comes before what it refers to, so that whatever another program adds meanwhile is either
 * whole or not seen.
 */
static es_status read_all(es_ledger *l, es_ledger_net *n, es_error *error)
{
    es_status status = es_store_list_plays(l->store, &n->plays, &n->play_count, error);
    if (status == ES_OK)
        status = es_store_list_anchors(l->store, &n->anchors, &n->anchor_count, error);
    if (status == ES_OK)
        status = es_store_list_epochs(l->store, 0, &n->epochs, &n->epoch_count, error);
    if (status == ES_OK)
        status = es_store_list_decks(l->store, &n->decks, &n->deck_count, error);
    return status;
}

static size_t deck_at(const es_ledger_net *n, int64_t id)
{
    size_t low = 0, high = n->deck_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (n->decks[middle].id < id)
            low = middle + 1;
        else
            high = middle;
    }
    return low < n->deck_count && n->decks[low].id == id ? low : ES_NONE;
}

/* Drops epochs whose deck was removed meanwhile, and puts the others in their order. */
static void sort_epochs(es_ledger_net *n)
{
    size_t kept = 0;
    for (size_t i = 0; i < n->epoch_count; i++)
        if (deck_at(n, n->epochs[i].deck) != ES_NONE)
            n->epochs[kept++] = n->epochs[i];
    n->epoch_count = kept;
    if (kept > 0)
        qsort(n->epochs, kept, sizeof *n->epochs, by_deck_and_number);
    for (size_t i = 0; i < kept; i++)
        n->epoch_ids[i] = (es_ledger_id){n->epochs[i].id, i};
    qsort(n->epoch_ids, kept, sizeof *n->epoch_ids, by_id);
}

size_t es_ledger_net_epoch(const es_ledger_net *n, int64_t id)
{
    es_ledger_id wanted = {id, 0}, *found = NULL;
    if (n->epoch_count > 0)
        found = bsearch(&wanted, n->epoch_ids, n->epoch_count, sizeof wanted, by_id);
    return found ? found->at : ES_NONE;
}

size_t es_ledger_net_latest(const es_ledger_net *n, int64_t deck)
{
    for (size_t i = n->epoch_count; i-- > 0;)
        if (n->epochs[i].deck == deck)
            return i;
    return ES_NONE;
}

/* --- unknowns and observations ------------------------------------------------------------------ */

static void make_unknowns(es_ledger_net *n)
{
    double today = es_ledger_today();
    for (size_t i = 0; i < n->epoch_count; i++) {
        const es_epoch_record *e = &n->epochs[i];
        n->deck_of[i] = deck_at(n, e->deck);
        n->latest[i] = i + 1 == n->epoch_count || e[1].deck != e->deck;
        double ended = n->latest[i] ? today : es_day_of(e[1].began);
        double walk = isnan(e->walk_percent) ? ES_USUAL_DRIFT_PERCENT : e->walk_percent;
        n->unknowns[i] = (es_epoch){walk / 100.0, isnan(ended) ? today : ended};
        es_text text = es_text_over(n->epoch_text[i], sizeof n->epoch_text[i]);
        es_text_add(&text, "%s", n->decks[n->deck_of[i]].name);
        if (!n->latest[i] && e[1].began[0])
            es_text_add(&text, " until %.10s", e[1].began);
        else if (!n->latest[i])
            es_text_add(&text, " before its adjustment %lld", (long long)e->number);
        n->epoch_name[i] = n->epoch_text[i];
    }
}

/* The first of two times that is known, else the day of the epoch's question. */
static double day_or(const char *time, const char *otherwise, double last)
{
    double day = es_day_of(time);
    if (isnan(day))
        day = es_day_of(otherwise);
    return isnan(day) ? last : day;
}

static es_observation observe_play(const es_ledger_net *n, const es_play_record *p, size_t from,
                                   size_t to)
{
    return (es_observation){.kind = ES_PLAY,
                            .deck = to,
                            .recorded_on = from,
                            .day = day_or(p->played_at, p->recorded_at, n->unknowns[to].asked_day),
                            .recorded_day =
                                day_or(p->recorded_at, p->played_at, n->unknowns[to].asked_day),
                            .value = p->heard_percent / 100.0,
                            .u = p->u_percent / 100.0,
                            .dof = p->dof};
}

static es_observation observe_anchor(const es_ledger_net *n, const es_anchor_record *a, size_t at)
{
    return (es_observation){.kind = ES_ANCHOR,
                            .deck = at,
                            .day = day_or(a->made_at, "", n->unknowns[at].asked_day),
                            .value = a->error_percent / 100.0,
                            .u = a->u_percent / 100.0,
                            .dof = a->dof};
}

static void name_observation(es_ledger_net *n, size_t at, const char *day, const char *method)
{
    es_anchor_method found;
    es_ledger_day_text(day, n->day_text[at]);
    n->day_name[at] = n->day_text[at][0] ? n->day_text[at] : NULL;
    n->method_name[at] = es_anchor_find(method, &found) == ES_OK
                             ? es_anchor_methods()[found].name
                             : method; /* of a newer version's records, say */
}

static void make_observations(es_ledger_net *n)
{
    size_t plays = 0, anchors = 0;
    for (size_t i = 0; i < n->play_count; i++) {
        const es_play_record *p = &n->plays[i];
        size_t from = es_ledger_net_epoch(n, p->recorded_on);
        size_t to = es_ledger_net_epoch(n, p->played_on);
        if (from == ES_NONE || to == ES_NONE)
            continue;
        n->values[plays] = observe_play(n, p, from, to);
        name_observation(n, plays, p->played_at, "");
        n->plays[plays++] = *p;
    }
    n->play_count = plays;
    for (size_t i = 0; i < n->anchor_count; i++) {
        const es_anchor_record a = n->anchors[i];
        size_t at = es_ledger_net_epoch(n, a.epoch), row = plays + anchors;
        if (at == ES_NONE)
            continue;
        n->values[row] = observe_anchor(n, &a, at);
        n->anchors[anchors] = a;
        name_observation(n, row, a.made_at, n->anchors[anchors++].method);
    }
    n->anchor_count = anchors;
}

/* --- making and solving ------------------------------------------------------------------------- */

static int take_room(es_ledger_net *n)
{
    size_t epochs = n->epoch_count + 1, rows = n->play_count + n->anchor_count + 1;
    n->epoch_ids = calloc(epochs, sizeof *n->epoch_ids);
    n->deck_of = calloc(epochs, sizeof *n->deck_of);
    n->latest = calloc(epochs, 1);
    n->unknowns = calloc(epochs, sizeof *n->unknowns);
    n->epoch_text = calloc(epochs, sizeof *n->epoch_text);
    n->epoch_name = calloc(epochs, sizeof *n->epoch_name);
    n->values = calloc(rows, sizeof *n->values);
    n->day_text = calloc(rows, sizeof *n->day_text);
    n->method_name = calloc(rows, sizeof *n->method_name);
    n->day_name = calloc(rows, sizeof *n->day_name);
    return n->epoch_ids && n->deck_of && n->latest && n->unknowns && n->epoch_text &&
           n->epoch_name && n->values && n->day_text && n->method_name && n->day_name;
}

/* What the network refuses was not entered here: it is of the records, not of the command line. */
static es_status create(es_ledger_net *n, es_error *error)
{
    es_error why = {0};
    es_status status = es_network_create(n->unknowns, n->epoch_count, n->values,
                                         n->play_count + n->anchor_count, &n->network, &why);
    return status == ES_ERR_ARG ? es_fail(error, ES_ERR_INPUT, why.code, "%s", why.text)
           : status != ES_OK    ? es_fail(error, status, why.code, "%s", why.text)
                                : ES_OK;
}

static es_status solve(es_ledger_net *n, const es_trust_asked *asked, es_error *error)
{
    static const es_robust robust[] = {[ES_TRUST_AS_STATED] = ES_ROBUST_NONE,
                                       [ES_TRUST_REMOVE] = ES_ROBUST_REMOVE,
                                       [ES_TRUST_SOFTEN] = ES_ROBUST_SOFTEN};
    es_solve_options options = es_solve_defaults();
    options.level = asked->level;
    options.robust = robust[asked->robust];
    es_status status = es_network_solve(n->network, &options);
    if (status == ES_ERR_ARG)
        return es_fail(error, status, "bad-level",
                       "The level of confidence has to be from 0.5 to 0.9999.");
    if (status == ES_ERR_INPUT)
        return es_fail(error, status, "unlike-uncertainties",
                       "Some uncertainties in the records are millions of times smaller than "
                       "others; correct the plays and anchors that can't be so sure.");
    return status;
}

es_status es_ledger_net_make(es_ledger *l, const es_trust_asked *asked, es_ledger_net *n,
                             es_error *error)
{
    memset(n, 0, sizeof *n);
    es_status status = read_all(l, n, error);
    if (status == ES_OK && !take_room(n))
        status = es_ledger_no_memory(error);
    if (status != ES_OK)
        return status;
    sort_epochs(n);
    make_unknowns(n);
    make_observations(n);
    if (n->epoch_count == 0)
        return ES_OK;
    status = create(n, error);
    return status == ES_OK ? solve(n, asked, error) : status;
}

void es_ledger_net_clear(es_ledger_net *n)
{
    es_network_destroy(n->network);
    free(n->decks);
    free(n->epochs);
    free(n->plays);
    free(n->anchors);
    free(n->epoch_ids);
    free(n->deck_of);
    free(n->latest);
    free(n->unknowns);
    free(n->values);
    free(n->epoch_text);
    free(n->day_text);
    free(n->epoch_name);
    free(n->method_name);
    free(n->day_name);
    memset(n, 0, sizeof *n);
}

/* --- certificates ------------------------------------------------------------------------------- */

es_status es_ledger_certify(es_ledger_net *n, es_tape_record *tape, es_error *error)
{
    es_certificate_names names = {n->epoch_name, n->method_name, n->day_name};
    es_certificate c;
    size_t epoch = es_ledger_net_epoch(n, tape->recorded_epoch);
    if (epoch == ES_NONE)
        return ES_OK; /* a bought tape */
    double day = day_or(tape->recorded_at, "", n->unknowns[epoch].asked_day);
    if (es_certificate_make(n->network, &names, epoch, day, &c) != ES_OK)
        return es_fail(error, ES_ERR_INTERNAL, "fault", "The certificate can't be made.");
    tape->certificate_percent = 100.0 * c.estimate.value;
    tape->certificate_u_percent = 100.0 * c.estimate.u;
    tape->certificate_dof = isnan(c.estimate.dof) ? c.estimate.dof : fmax(1.0, c.estimate.dof);
    tape->certificate_u95_percent = 100.0 * c.estimate.u95;
    es_ledger_now(tape->certificate_at);
    es_text path = es_text_over(tape->certificate_path, sizeof tape->certificate_path);
    es_text_add(&path, "%s", c.path);
    return ES_OK;
}
