#include "task/trim_plateau.h"

#include "task/trim_change.h"

#include <math.h>
#include <string.h>

#define ALIKE 3.0            /* standard deviations: neighbouring turns closer than this are calm */
#define AGAIN 4.0            /* and farther apart than this no longer                        */
#define REST 2e-4            /* fraction; of a motor's approach, that doesn't matter any more */
#define ALIKE_LEAST 1e-4     /* fraction; closer is always calm                               */
#define FIRST_TURNS 10       /* for a figure, while the scatter is learned                        */
#define PATIENCE_S 5.0       /* a speed that never calms down is taken as it is              */
#define PATIENCE_MOST_S 10.0 /* even if it goes somewhere: that may be slow wow */
#define ACCEPTED_S 3.0
#define NOWHERE 1.5
#define APPROACH_S 0.1 /* time constant of a motor, before it is known; common practice */
#define APPROACH_MOST_S 1.2
#define LARGE 5.0 /* times what looks calm: a step from which it can be guessed */
#define LEAN 2.0  /* times its variance that halves of a mean may differ by before it counts */
#define KEPT_S 8.0
#define WAIT_MOST_S 5.0
#define SWING_SPAN_LEAST 60 /* ticks of a plateau: shorter ones have no mean to speak of */

void es_plateau_start(es_plateau *p, es_curve *curve, int64_t turn)
{
    *p = (es_plateau){.curve = curve, .turn = turn, .approach = APPROACH_S * ES_TICKS_HZ};
    p->before = (es_mean){(double)NAN, (double)NAN, (double)NAN, 0};
    es_plateau_break(p);
}

void es_plateau_break(es_plateau *p)
{
    p->floor = p->start = p->moved = p->left = p->learned = p->curve->end;
    p->pace = ES_PACE_MOVING;
    p->had_one = 0;
    p->drift_per_s = 0.0;
    p->drifts = 0;
    p->unlearned = 1; /* the swings are gone, and what was left without them */
    es_scatter_reset(&p->scatter);
    memset(p->past, 0, sizeof p->past);
}

/* --- the mean --------------------------------------------------------------------------- */

double es_plateau_guess(const es_plateau *p, int64_t ticks)
{
    return es_scatter_guess(&p->scatter, (double)ticks / (double)p->turn);
}

/* Both halves must tell the same; what they differ by is a drift or the rest of an approach. */
static double lean(const es_curve *c, int64_t from, int64_t to)
{
    int64_t middle = from + (to - from) / 2;
    double step = es_curve_mean(c, middle, to) - es_curve_mean(c, from, middle);
    return isnan(step) ? 0.0 : 0.25 * step * step;
}

es_mean es_plateau_mean_from(const es_plateau *p, int64_t from)
{
    es_mean m = {.value = (double)NAN, .u = (double)NAN, .dof = (double)NAN};
    int64_t to = p->curve->end;
    from = es_later(from, to - es_ticks_of(ES_PLATEAU_MOST_S));
    int64_t turns = (to - from) / p->turn;
    if (turns < 1)
        return m;
    from = to - turns * p->turn;
    m.ticks = to - from;
    m.value = es_curve_fit(p->curve, from, to);
    double scatter = es_scatter_variance(&p->scatter, (double)turns, &m.dof);
    double leaning = turns > 1 ? lean(p->curve, from, to) : 0.0;
    m.u = isnan(m.value) ? (double)NAN : sqrt(scatter + fmax(0.0, leaning - LEAN * scatter));
    return m;
}

es_mean es_plateau_mean(const es_plateau *p)
{
    return es_plateau_mean_from(p, p->start);
}

/* --- learning the scatter --------------------------------------------------------------- */

static void learn_until(es_plateau *p, int64_t until)
{
    if (p->learned < p->start)
        p->learned = p->start;
    while (p->learned + p->turn <= until) {
        p->learned += p->turn;
        es_scatter_learn(&p->scatter, p->curve, p->start, p->learned, p->turn);
    }
}

/* From nothing but this plateau, over and over, as long as its beginning may still be cut off. */
static void learn_anew(es_plateau *p)
{
    double fitted = p->scatter.fitted;
    int64_t steps = p->unlearned ? 0 : p->scatter.steps;
    es_scatter_reset(&p->scatter);
    p->scatter.fitted = fitted;
    p->learned = p->start;
    learn_until(p, p->curve->end);
    p->scatter.steps = es_later(p->scatter.steps, steps);
    p->kept = p->scatter;
    p->kept_at = p->learned;
}

/* Lags behind, and waits while a change may be beginning, lest it be learned as scatter. */
static void learn_on(es_plateau *p)
{
    int64_t behind = p->curve->end - p->learned;
    if (es_change_suspicion(p) > ES_SUSPECT && behind < es_ticks_of(WAIT_MOST_S))
        return;
    learn_until(p, p->curve->end - ES_STEADY_TURNS * p->turn);
    if (p->learned - p->kept_at > es_ticks_of(KEPT_S)) {
        p->kept = p->scatter;
        p->kept_at = p->learned;
    }
}

/* What was learned since the change began was not scatter. */
static void unlearn(es_plateau *p, int64_t change)
{
    if (p->learned <= change || change < p->kept_at)
        return;
    p->scatter = p->kept;
    p->learned = p->kept_at;
    learn_until(p, change);
}

void es_plateau_set_turn(es_plateau *p, int64_t turn)
{
    p->turn = turn;
    learn_anew(p);
}

void es_plateau_mistrust(es_plateau *p)
{
    es_scatter_widen(&p->scatter);
    es_scatter_widen(&p->kept);
}

/* --- swings ----------------------------------------------------------------------------- */

/* The ticks of one plateau, less their mean. */
static void add_span(const es_plateau *p, es_span span, int64_t first, es_swing_point *room)
{
    int64_t from = es_later(span.from, first);
    double level = es_curve_mean(p->curve, from, span.to); /* less the swings known so far */
    if (span.to - from < SWING_SPAN_LEAST || isnan(level))
        return;
    for (int64_t i = from; i < span.to; i++) {
        const es_tick *t = es_curve_tick(p->curve, i);
        es_swing_point *to = &room[i - first];
        if (!isnan(t->heard)) {
            double middle = 0.5 * (double)(from + span.to - 1);
            double drift = p->drifts ? p->drift_last * ((double)i - middle) / ES_TICKS_HZ : 0.0;
            to->value = t->heard - level - drift;
            to->weight = 1.0;
        }
    }
}

static double squares(const es_swing_point *point, int count, const es_swings *less)
{
    double sum = 0.0;
    for (int i = 0; i < count; i++) {
        double rest = point[i].value - es_swings_value(less, point[i].way);
        sum += point[i].weight * rest * rest;
    }
    return sum;
}

void es_plateau_find_swings(es_plateau *p, es_swing_point *room)
{
    es_swings found, none = {0}, had = p->curve->swings;
    int64_t end = p->curve->end, first = es_later(p->floor, end - ES_SWING_SPAN);
    int count = (int)(end - first);
    if (count < ES_SWING_LEAST)
        return;
    for (int i = 0; i < count; i++)
        room[i] = (es_swing_point){.way = es_curve_tick(p->curve, first + i)->way};
    for (int i = 0; i < ES_PAST_PLATEAUS; i++)
        add_span(p, p->past[i], first, room);
    add_span(p, (es_span){p->start, end}, first, room);
    double before = squares(room, count, &had);
    es_swings_find(&found, room, count);
    if (squares(room, count, &none) >= before)
        return;
    es_curve_set_swings(p->curve, &found, first);
    /* each takes three numbers' worth of chance with it */
    double turns = (double)count / (double)p->turn;
    p->scatter.fitted = turns / fmax(turns - 3.0 * found.count, 0.5 * turns);
    if (found.count > had.count && end - p->start >= FIRST_TURNS * p->turn)
        learn_anew(p);
}

/* --- calm ------------------------------------------------------------------------------- */

static double last_step(const es_plateau *p)
{
    int64_t end = p->curve->end;
    if (end - p->floor < 2 * p->turn)
        return (double)NAN;
    return fabs(es_curve_mean(p->curve, end - p->turn, end) -
                es_curve_mean(p->curve, end - 2 * p->turn, end - p->turn));
}

static double calm_bound(const es_plateau *p)
{
    return fmax(ALIKE_LEAST, ALIKE * sqrt(2.0 * es_plateau_guess(p, p->turn)));
}

static int calms_down(const es_plateau *p)
{
    return last_step(p) <= calm_bound(p) && p->curve->end - p->moved >= 2 * p->turn;
}

static int knows_scatter(const es_plateau *p)
{
    double dof;
    return !isnan(es_scatter_variance(&p->scatter, 1.0, &dof));
}

static int is_steady(const es_plateau *p)
{
    int64_t turns = p->unlearned ? FIRST_TURNS : ES_STEADY_TURNS;
    return p->curve->end - p->start >= turns * p->turn && knows_scatter(p);
}

/* --- the look --------------------------------------------------------------------------- */

/* The mean before the change, for the size of it. */
static void close_plateau(es_plateau *p, int64_t split)
{
    int64_t from = es_later(p->start, split - es_ticks_of(ES_PLATEAU_MOST_S));
    double turns = (double)(split - from) / (double)p->turn;
    es_mean *m = &p->before;
    unlearn(p, split);
    m->value = es_curve_fit(p->curve, from, split);
    m->u = sqrt(es_scatter_variance(&p->scatter, fmax(turns, 1.0), &m->dof));
    m->ticks = split - from;
    p->past[p->past_next] = (es_span){p->start, split};
    p->past_next = (p->past_next + 1) % ES_PAST_PLATEAUS;
}

/* 1: out of a steady speed. */
static int begin_moving(es_plateau *p, int64_t split)
{
    int was_steady = p->pace == ES_PACE_STEADY;
    if (was_steady) {
        close_plateau(p, split);
        p->left = split;
    }
    p->pace = ES_PACE_MOVING;
    p->moved = split;
    return was_steady;
}

/* Do the last seconds go nowhere, however restless they are? */
static int goes_nowhere(const es_plateau *p)
{
    es_scatter own;
    double dof;
    int64_t end = p->curve->end, from = es_later(p->floor, end - es_ticks_of(ACCEPTED_S));
    es_scatter_reset(&own);
    for (int64_t to = from + p->turn; to <= end; to += p->turn)
        es_scatter_learn(&own, p->curve, from, to, p->turn);
    double turns = (double)(end - from) / (double)p->turn;
    return lean(p->curve, from, end) <= NOWHERE * es_scatter_variance(&own, turns, &dof);
}

/* A speed that never calms down is taken as it is. */
static int is_tired(const es_plateau *p)
{
    int64_t waited = p->curve->end - p->left;
    return waited > es_ticks_of(PATIENCE_S) &&
           (waited > es_ticks_of(PATIENCE_MOST_S) || p->pace == ES_PACE_CALM || goes_nowhere(p));
}

/* By how much the means over the last two turns still differ on an exponential approach with time
 * constant `constant`, so many ticks after a step of 1. */
static double still_moving(const es_plateau *p, double constant, double ticks)
{
    double turn = (double)p->turn, part = 1.0 - exp(-turn / constant);
    return constant / turn * part * part * exp(-(ticks - 2.0 * turn) / constant);
}

/* The time constant with which a step looks calm after just so many ticks. */
static double constant_of(const es_plateau *p, double step, double ticks)
{
    double low = 1.0, high = fmin(APPROACH_MOST_S * ES_TICKS_HZ, ticks - (double)p->turn);
    for (int i = 0; i < 20; i++) {
        double middle = 0.5 * (low + high);
        if (step * still_moving(p, middle, ticks) < calm_bound(p))
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* A motor comes near its new speed ever more slowly: its time constant is guessed from how long it
 * took after a large step to look calm, and the plateau begins where the rest is small. */
static int64_t end_of_approach(es_plateau *p)
{
    int64_t end = p->curve->end, latest = end + es_ticks_of(APPROACH_MOST_S);
    double step = fabs(es_curve_mean(p->curve, end - p->turn, end) - p->before.value);
    if (!p->had_one || !(step > REST))
        return end - 2 * p->turn;
    if (step > LARGE * calm_bound(p))
        p->approach = constant_of(p, step, (double)(end - p->moved));
    int64_t from = p->moved + (int64_t)(p->approach * log(step / REST));
    return from < latest ? from : latest;
}

static void accept(es_plateau *p)
{
    p->start = es_later(p->floor, p->curve->end - es_ticks_of(ACCEPTED_S));
    p->unlearned = 1;
    p->pace = ES_PACE_CALM;
}

static void look_while_moving(es_plateau *p)
{
    int64_t end = p->curve->end;
    if (calms_down(p) && !is_tired(p)) {
        p->start = es_later(p->floor, es_later(end_of_approach(p), end - 2 * p->turn));
        p->pace = ES_PACE_CALM;
    } else if (is_tired(p)) {
        accept(p);
    }
}

static int moves_again(const es_plateau *p)
{
    return last_step(p) > fmax(ALIKE_LEAST, AGAIN * sqrt(2.0 * es_plateau_guess(p, p->turn)));
}

static int look_while_calm(es_plateau *p)
{
    if (!is_tired(p)) {
        if (moves_again(p)) {
            p->pace = ES_PACE_MOVING;
            return 0;
        }
        if (es_change_is_seen(p))
            return begin_moving(p, es_change_begin(p));
    }
    if (p->unlearned || !knows_scatter(p))
        learn_anew(p);
    if (!is_steady(p))
        return 0;
    p->pace = ES_PACE_STEADY;
    p->had_one = 1;
    p->unlearned = 0;
    return 0;
}

static int look_while_steady(es_plateau *p)
{
    if (!es_change_is_seen(p)) {
        learn_on(p);
        if (p->curve->end >= p->next_drift)
            es_drift_look(p);
        return 0;
    }
    int64_t split = es_change_begin(p);
    if (!es_change_is_drift(p, split))
        return begin_moving(p, split);
    p->start = es_later(p->start, p->curve->end - es_ticks_of(2.0));
    return 0;
}

void es_plateau_accept(es_plateau *p)
{
    p->left = p->curve->end - 2 * es_ticks_of(PATIENCE_MOST_S);
    accept(p);
}

int es_plateau_look(es_plateau *p)
{
    int64_t end = p->curve->end;
    p->start = es_later(p->start, end - ES_CURVE_TICKS + 4 * p->turn);
    es_drift_fade(p);
    if (p->pace == ES_PACE_CALM)
        return look_while_calm(p);
    if (p->pace == ES_PACE_STEADY)
        return look_while_steady(p);
    look_while_moving(p);
    return 0;
}
