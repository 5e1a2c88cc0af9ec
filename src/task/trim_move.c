#include "task/trim_inside.h"

#include "evenspool/trust/uncertainty.h"

#include <math.h>
#include <string.h>

#define REACTION_S 0.45     /* of a hand, from a figure to the next turn                    */
#define NUDGE_SPREADS 3.0   /* a smaller change is no nudge                                */
#define NUDGE_UNMET 4e-3    /* the same, while it is not yet known how the deck wavers       */
#define NUDGE_LEAST 1e-4    /* fraction; nor is one below this                             */
#define OVERSHOOT_LEAST 0.1 /* of the nudge; less is not told from flutter                 */

/* --- figures ---------------------------------------------------------------------------- */

double es_coach_error(const es_trim *t, double heard)
{
    return t->sense->error(t, heard);
}

double es_coach_u95(const es_trim *t, const es_mean *m)
{
    es_trim_doubt d = t->sense->doubt(t, m);
    double widened = m->u * es_coverage_factor(ES_LEVEL_95, fmax(m->dof, 1.0)) / 1.959964;
    double normal = sqrt(widened * widened + d.noise * d.noise + d.normal * d.normal);
    return es_expanded_by_shape(ES_LEVEL_95, normal, &d.limit, 1);
}

/* --- nudges ----------------------------------------------------------------------------- */

/* Nobody reads a figure and acts on it so soon: the last nudge simply was not over. */
static int goes_on(const es_coach *c, int seen)
{
    return seen && c->last_open && c->plateau.moved - c->last_closed < es_ticks_of(REACTION_S);
}

void es_move_open(es_trim *t, const es_mean *before, double time_s, int seen)
{
    es_coach *c = &t->coach;
    if (!c->move.open && goes_on(c, seen)) {
        c->move.open = c->move.again = 1;
        c->odd_changes++;
    } else if (!c->move.open) {
        c->move = (es_trim_move){.open = 1, .time_s = time_s, .before = *before};
        c->move.asked = es_hand_of_last(&c->hand, c->asked);
        c->move.low = c->move.high = before->value;
    }
    c->move.seen |= seen;
    c->last_open = 0;
    c->there_since = -1;
}

void es_move_watch(es_trim *t)
{
    es_coach *c = &t->coach;
    int64_t end = t->curve.end;
    double now = es_curve_mean(&t->curve, end - c->plateau.turn, end);
    if (!c->move.open || end - c->plateau.turn < c->plateau.moved)
        return;
    c->move.low = fmin(c->move.low, now);
    c->move.high = fmax(c->move.high, now);
}

/* How far the speed went past where it settled, as a share of the change. */
static double overshoot(const es_coach *c, double before, double after)
{
    double past = after > before ? c->move.high - after : after - c->move.low;
    double share = past / fabs(after - before);
    double noise = 2.0 * sqrt(es_scatter_guess(&c->plateau.scatter, 1.0));
    return share >= OVERSHOOT_LEAST && past > noise ? share : 0.0;
}

static es_nudge *last_nudge(es_trim_session *s)
{
    size_t kept = s->nudge_count < ES_NUDGES_MOST ? s->nudge_count : ES_NUDGES_MOST;
    return &s->nudges[kept - 1];
}

static es_nudge *add_nudge(es_trim_session *s)
{
    if (s->nudge_count >= ES_NUDGES_MOST)
        memmove(s->nudges, s->nudges + 1, (ES_NUDGES_MOST - 1) * sizeof *s->nudges);
    s->nudge_count++;
    return last_nudge(s);
}

/* The last nudge again, with its size as it is known by now. */
void es_move_refine(es_trim *t, const es_mean *after)
{
    es_coach *c = &t->coach;
    double size = es_coach_error(t, after->value) - es_coach_error(t, c->last_before.value);
    es_nudge *nudge = last_nudge(t->record.session);
    c->hand = c->hand_before;
    es_hand_turn made = es_hand_take(&c->hand, size, c->last_asked, t->config.limits.short_share);
    nudge->size_percent = t->scale * size;
    nudge->reversal = made.reversal;
}

/* The speed is steady again: was it a nudge? */
void es_move_close(es_trim *t, const es_mean *after)
{
    es_coach *c = &t->coach;
    es_trim_move *m = &c->move;
    double size = after->value - m->before.value;
    double spread = hypot(after->u, m->before.u);
    m->open = 0;
    c->last_closed = t->curve.end;
    if (m->again) {
        c->last_open = 1;
        es_move_refine(t, after);
        return;
    }
    double least = fmax(c->met ? NUDGE_LEAST : NUDGE_UNMET, NUDGE_SPREADS * spread);
    if (!(fabs(size) > least)) {
        es_plateau_mistrust(&c->plateau);
        c->odd_changes++;
        return;
    }
    es_nudge *nudge = add_nudge(t->record.session);
    *nudge = (es_nudge){.time_s = m->time_s, .asked = m->asked};
    nudge->overshoot = m->seen ? overshoot(c, m->before.value, after->value) : 0.0;
    c->hand_before = c->hand;
    c->last_before = m->before;
    c->last_asked = m->asked;
    c->last_open = 1;
    c->final = 0;
    es_move_refine(t, after);
}
