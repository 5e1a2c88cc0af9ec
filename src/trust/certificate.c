#include "evenspool/trust/certificate.h"

#include "evenspool/base/text.h"
#include "trust/network_inside.h"

#include <math.h>
#include <string.h>

#define DECKS_NAMED 6
#define WORTH_NAMING 0.05

/*
 * The value is a sum of readings, each with its own coefficient. Those of the anchors add up to
 * one; those of the plays are what flows through them from anchors to the deck asked for.
 */
typedef struct story {
    es_network *network;
    const es_certificate_names *names;
    const double *q; /* row of Q of the deck and day asked for                      */
    double *through; /* per epoch: what of the value came from it to the deck at hand */
    double *plays;   /* per epoch: plays in use with the deck at hand                */
    size_t deck[DECKS_NAMED];
    size_t count;
    es_text *text;
} story;

static double flow(const story *s, size_t row)
{
    const es_network *n = s->network;
    if (n->plus[row] == ES_NO_NODE || !(n->weight[row] > 0.0))
        return 0.0;
    double minus = n->minus[row] == ES_NO_NODE ? 0.0 : s->q[n->minus[row]];
    return n->weight[row] * (s->q[n->plus[row]] - minus);
}

/* Makes `epoch` the deck at hand. */
static void gather(story *s, size_t epoch)
{
    const es_network *n = s->network;
    memset(s->through, 0, n->epoch_count * sizeof *s->through);
    memset(s->plays, 0, n->epoch_count * sizeof *s->plays);
    for (size_t i = 0; i < n->observation_count; i++) {
        const es_observation *o = &n->observations[i];
        if (o->kind != ES_PLAY || !(n->weight[i] > 0.0) || o->deck == o->recorded_on ||
            (o->deck != epoch && o->recorded_on != epoch))
            continue;
        size_t other = o->deck == epoch ? o->recorded_on : o->deck;
        s->through[other] += o->deck == epoch ? flow(s, i) : -flow(s, i);
        s->plays[other] += 1.0;
    }
}

static int is_named(const story *s, size_t epoch)
{
    for (size_t i = 0; i < s->count; i++)
        if (s->deck[i] == epoch)
            return 1;
    return 0;
}

/* Joins "to a", "to b" and "to c" as one writes: the last but with "and". */
static void add_item(story *s, size_t at, size_t count, const char *lead)
{
    es_text_add(s->text, "%s%s", at == 0 ? "" : at + 1 == count ? " and " : ", ", lead);
}

static int anchor_counts(const story *s, size_t i, size_t epoch)
{
    const es_observation *o = &s->network->observations[i];
    return o->kind == ES_ANCHOR && o->deck == epoch && flow(s, i) >= WORTH_NAMING;
}

/* A neighbour of the deck at hand that should be told of. A floating one has no flow at all. */
static int neighbour_counts(const story *s, size_t other)
{
    int tied = s->network->group_tied[s->network->group[s->deck[0]]];
    return s->plays[other] > 0.0 && !is_named(s, other) &&
           (!tied || fabs(s->through[other]) >= WORTH_NAMING);
}

static size_t count_items(const story *s, size_t epoch)
{
    size_t items = 0;
    for (size_t i = 0; i < s->network->observation_count; i++)
        items += (size_t)anchor_counts(s, i, epoch);
    for (size_t e = 0; e < s->network->epoch_count; e++)
        items += (size_t)neighbour_counts(s, e);
    return items;
}

static void tell_anchors(story *s, size_t epoch, size_t items, size_t *at)
{
    for (size_t i = 0; i < s->network->observation_count; i++) {
        if (!anchor_counts(s, i, epoch))
            continue;
        add_item(s, (*at)++, items, "to ");
        es_text_add(s->text, "%s", s->names->anchor[i]);
        if (s->names->day[i])
            es_text_add(s->text, " on %s", s->names->day[i]);
    }
}

/* New decks join the list once all of them are told of. */
static void tell_neighbours(story *s, const char *lead, size_t items, size_t *at)
{
    size_t found[DECKS_NAMED], found_count = 0;
    for (size_t e = 0; e < s->network->epoch_count; e++) {
        if (!neighbour_counts(s, e))
            continue;
        add_item(s, (*at)++, items, lead);
        es_text_add(s->text, "%s by %g play%s", s->names->epoch[e], s->plays[e],
                    s->plays[e] == 1.0 ? "" : "s");
        if (s->count + found_count < DECKS_NAMED)
            found[found_count++] = e;
    }
    for (size_t i = 0; i < found_count; i++)
        s->deck[s->count++] = found[i];
}

static void tell_tied(story *s)
{
    for (size_t i = 0; i < s->count; i++) {
        gather(s, s->deck[i]);
        size_t items = count_items(s, s->deck[i]), at = 0;
        if (items == 0)
            continue; /* all that it hangs on has been named */
        es_text_add(s->text, i == 0 ? "recorded on %s, which was tied " : "; %s was tied ",
                    s->names->epoch[s->deck[i]]);
        tell_anchors(s, s->deck[i], items, &at);
        tell_neighbours(s, "to ", items, &at);
    }
}

static void tell_floating(story *s)
{
    size_t own = s->deck[0], at = 0;
    gather(s, own);
    size_t items = count_items(s, own);
    es_text_add(s->text, "recorded on %s, which is not tied to true speed", s->names->epoch[own]);
    if (items > 0)
        es_text_add(s->text, "; only its difference is known ");
    tell_neighbours(s, "from ", items, &at);
}

es_status es_certificate_make(es_network *n, const es_certificate_names *names, size_t epoch,
                              double day, es_certificate *out)
{
    out->tied = 0;
    es_text text = es_text_over(out->path, sizeof out->path);
    es_status status = es_network_at(n, epoch, day, &out->estimate);
    if (status != ES_OK)
        return status;
    out->tied = n->group_tied[n->group[epoch]];
    es_network_row_on(n, epoch, day, n->one);
    story s = {.network = n,
               .names = names,
               .q = n->one,
               .through = n->two,
               .plays = n->lanes, /* free once the row is made */
               .deck = {epoch},
               .count = 1,
               .text = &text};
    if (out->tied)
        tell_tied(&s);
    else
        tell_floating(&s);
    return ES_OK;
}
