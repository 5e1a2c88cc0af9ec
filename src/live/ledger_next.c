/* What to measure next: of what a person can do, what would bring most. */
#include "live/ledger_inside.h"

#include "evenspool/base/text.h"
#include "evenspool/trust/anchors.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define PARTNERS_MOST 24 /* the best known decks to compare with */
#define DECKS_MOST 24    /* the least known decks, where all are asked for */
#define WORTH_IT 0.98    /* what shrinks an uncertainty by less is not worth the work */
#define CHOICES_MOST (PARTNERS_MOST + ES_ANCHOR_METHOD_COUNT)

typedef struct choices {
    size_t count;
    es_candidate candidate[CHOICES_MOST];
    es_anchor_method method[CHOICES_MOST]; /* of an anchor      */
    es_estimate after[CHOICES_MOST];
} choices;

/* --- what can be done ------------------------------------------------------------------------------ */

/* A deck whose own error is known; one that is not has nothing to tell. */
static int can_compare(const es_trust_result *r, size_t deck, size_t other)
{
    return other != deck && r->decks[other].latest && r->decks[other].tied &&
           r->decks[other].deck != r->decks[deck].deck &&
           strcmp(r->decks[other].transport, r->decks[deck].transport) == 0;
}

/* The best known first, at most PARTNERS_MOST. */
static size_t find_partners(const es_trust_result *r, size_t deck, size_t *partners)
{
    size_t count = 0;
    for (size_t i = 0; i < r->deck_count; i++) {
        if (!can_compare(r, deck, i))
            continue;
        size_t at = count < PARTNERS_MOST ? count++ : PARTNERS_MOST;
        for (; at > 0 && r->decks[partners[at - 1]].u95_percent > r->decks[i].u95_percent; at--)
            if (at < PARTNERS_MOST)
                partners[at] = partners[at - 1];
        if (at < PARTNERS_MOST)
            partners[at] = i;
    }
    return count;
}

static void add_choice(choices *c, es_observation_kind kind, size_t deck, size_t other, double u,
                       es_anchor_method method)
{
    c->candidate[c->count] = (es_candidate){
        .kind = kind, .deck = deck, .recorded_on = other, .u = u, .dof = (double)INFINITY};
    c->method[c->count++] = method;
}

static void list_choices(const es_trust_result *r, size_t deck, double play_u, choices *c)
{
    size_t partners[PARTNERS_MOST], count = find_partners(r, deck, partners);
    c->count = 0;
    for (size_t i = 0; i < count; i++)
        add_choice(c, ES_PLAY, deck, partners[i], play_u, ES_ANCHOR_OTHER);
    for (size_t m = 0; m < ES_ANCHOR_METHOD_COUNT; m++)
        if (m != ES_ANCHOR_OTHER) /* nothing to plan with */
            add_choice(c, ES_ANCHOR, deck, deck, es_anchor_methods()[m].usual_u,
                       (es_anchor_method)m);
}

/* --- in words -------------------------------------------------------------------------------------- */

static int was_done(const es_trust_result *r, size_t deck, const char *method)
{
    for (size_t i = 0; i < r->link_count; i++)
        if (r->links[i].kind == ES_TRUST_ANCHOR && r->links[i].to == deck &&
            strcmp(r->links[i].method, method) == 0)
            return 1;
    return 0;
}

static void write_words(const es_trust_result *r, const choices *c, size_t i, es_trust_next *out)
{
    const es_anchor_about *about = &es_anchor_methods()[c->method[i]];
    es_text text = es_text_over(out->measurement, sizeof out->measurement);
    es_text method = es_text_over(out->method, sizeof out->method);
    if (c->candidate[i].kind == ES_PLAY) {
        es_text_add(&text, "Record a tone on %.120s and play it on %.120s, or the other way round.",
                    r->decks[out->other].name, r->decks[out->deck].name);
        return;
    }
    es_text_add(&method, "%s", about->key);
    es_text_add(&text, "Anchor %.120s by %s. %s%s", r->decks[out->deck].name, about->name,
                about->text,
                was_done(r, out->deck, about->key)
                    ? " It was done before; it brings so much only with other tools."
                    : "");
}

static void write_choice(const es_trust_result *r, const choices *c, size_t i, es_trust_next *out)
{
    const es_candidate *candidate = &c->candidate[i];
    int play = candidate->kind == ES_PLAY;
    *out = (es_trust_next){.kind = play ? ES_TRUST_PLAY : ES_TRUST_ANCHOR,
                           .deck = candidate->deck,
                           .other = play ? candidate->recorded_on : ES_NO_DECK,
                           .u_percent = 100.0 * candidate->u,
                           .now_u95_percent = r->decks[candidate->deck].u95_percent,
                           .predicted_u95_percent = 100.0 * c->after[i].u95};
    write_words(r, c, i, out);
}

/* --- which is best --------------------------------------------------------------------------------- */

static int helps(const es_trust_next *n)
{
    return isnan(n->now_u95_percent) ? !isnan(n->predicted_u95_percent)
                                     : n->predicted_u95_percent < WORTH_IT * n->now_u95_percent;
}

static int better_first(const void *a, const void *b)
{
    const es_trust_next *x = a, *y = b;
    if (x->predicted_u95_percent != y->predicted_u95_percent)
        return x->predicted_u95_percent < y->predicted_u95_percent ? -1 : 1;
    return (x->kind > y->kind) - (x->kind < y->kind);
}

/* All that helps the deck into out[0 .. CHOICES_MOST), best first; returns how many. */
static size_t rank(es_ledger_net *n, const es_trust_result *r, size_t deck, double play_u,
                   es_trust_next *out, es_error *error, es_status *status)
{
    choices c;
    size_t count = 0;
    list_choices(r, deck, play_u, &c);
    *status = es_network_next(n->network, deck, c.candidate, c.count, c.after, NULL);
    if (*status != ES_OK) {
        *status = es_fail(error, ES_ERR_INPUT, "bad-uncertainty",
                          "A play's uncertainty has to be from 0.000001 to 100 %%.");
        return 0;
    }
    for (size_t i = 0; i < c.count; i++) {
        write_choice(r, &c, i, &out[count]);
        count += (size_t)helps(&out[count]);
    }
    qsort(out, count, sizeof *out, better_first);
    return count;
}

/* Decks as they are now that are known least: first those not tied, then by uncertainty. */
static int is_less_known(const es_trust_deck *a, const es_trust_deck *b)
{
    return a->tied != b->tied ? !a->tied : a->tied && a->u95_percent > b->u95_percent;
}

static size_t find_least_known(const es_trust_result *r, size_t *decks)
{
    size_t count = 0;
    for (size_t i = 0; i < r->deck_count; i++) {
        if (!r->decks[i].latest)
            continue;
        size_t at = count < DECKS_MOST ? count++ : DECKS_MOST;
        for (; at > 0 && is_less_known(&r->decks[i], &r->decks[decks[at - 1]]); at--)
            if (at < DECKS_MOST)
                decks[at] = decks[at - 1];
        if (at < DECKS_MOST)
            decks[at] = i;
    }
    return count;
}

es_status es_ledger_next(es_ledger_net *n, const es_trust_asked *asked, es_trust_result *r,
                         es_error *error)
{
    double play_u =
        (isnan(asked->play_u_percent) ? ES_USUAL_PLAY_U_PERCENT : asked->play_u_percent) / 100.0;
    size_t decks[DECKS_MOST] = {r->shares_of};
    size_t count = asked->deck ? 1 : find_least_known(r, decks);
    r->next = calloc(CHOICES_MOST + DECKS_MOST, sizeof *r->next);
    if (!r->next)
        return es_ledger_no_memory(error);
    es_status status = ES_OK;
    for (size_t i = 0; i < count && status == ES_OK; i++) {
        size_t found = rank(n, r, decks[i], play_u, r->next + r->next_count, error, &status);
        r->next_count += asked->deck ? found : (found > 0);
    }
    return status;
}
