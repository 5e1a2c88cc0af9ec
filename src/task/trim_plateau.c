#include "task/trim_plateau.h"

#include <math.h>
#include <string.h>

#define FAR 5.0          /* standard deviations that make a change                        */
#define AGAIN 4.0        /* and between two neighbouring turns, while calm               */
#define ALIKE 3.0        /* neighbouring turns closer than this are calm                 */
#define TAIL 2.0         /* a first turn farther off than this is a motor's approach     */
#define REST 2e-4        /* fraction; of a motor's approach, that doesn't matter any more */
#define ALIKE_LEAST 1e-4 /* fraction; closer is always calm                               */
#define FAR_AT_FIRST 6.0 /* the same before the scatter is learned                        */
#define LEARNED 30       /* turns after which it is                                      */
#define STEADY_TURNS 3   /* at least, for a figure                                        */
#define FIRST_TURNS 10   /* the same while the scatter is learned                        */
#define PATIENCE_S 5.0   /* a speed that never calms down is taken as it is              */
#define DRIFT_KEPT_S 8.0
#define LEAN 2.0   /* times its variance that halves of a mean may differ by before it counts */
#define DRIFTS 3   /* times in a row that a drift is seen before it is called one */
#define KEPT_S 8.0
#define SWING_SPAN_LEAST 60 /* ticks of a plateau: shorter ones have no mean to speak of */
#define LONGEST 32 /* turns, of the means that are compared with what was before */

static int64_t ticks_of(double seconds)
{
    return (int64_t)(seconds * ES_TICKS_HZ);
}

static int64_t most(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

void es_plateau_start(es_plateau *p, es_curve *curve, int64_t turn)
{
    *p = (es_plateau){.curve = curve, .turn = turn};
    p->before = (es_mean){(double)NAN, (double)NAN, (double)NAN, 0};
    es_plateau_break(p);
}

void es_plateau_break(es_plateau *p)
{
    p->floor = p->start = p->moved = p->learned = p->curve->end;
    p->pace = ES_PACE_MOVING;
    p->had_one = 0;
    p->drift_per_s = 0.0;
    p->drifts = 0;
    p->unlearned = 1; /* the swings are gone, and what was left without them */
    es_scatter_reset(&p->scatter);
    memset(p->past, 0, sizeof p->past);
}

/* --- the mean ------------------------------------------------------------------------------ */

static double guess(const es_plateau *p, int64_t ticks)
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
    from = most(from, to - ticks_of(ES_PLATEAU_MOST_S));
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

/* --- learning the scatter --------------------------------------------------------------------- */

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
    es_scatter_reset(&p->scatter);
    p->scatter.fitted = fitted;
    p->learned = p->start;
    learn_until(p, p->curve->end);
    p->kept = p->scatter;
    p->kept_at = p->learned;
}

/* Lags behind, so that a change is seen before it is learned as scatter. */
static void learn_on(es_plateau *p)
{
    learn_until(p, p->curve->end - STEADY_TURNS * p->turn);
    if (p->learned - p->kept_at > ticks_of(KEPT_S)) {
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

/* --- swings -------------------------------------------------------------------------------- */

/* The ticks of one plateau, less their mean. */
static void add_span(const es_plateau *p, es_span span, int64_t first, es_swing_point *room)
{
    int64_t from = most(span.from, first);
    double level = es_curve_mean(p->curve, from, span.to); /* less the swings known so far */
    if (span.to - from < SWING_SPAN_LEAST || isnan(level))
        return;
    for (int64_t i = from; i < span.to; i++) {
        const es_tick *t = es_curve_tick(p->curve, i);
        es_swing_point *to = &room[i - first];
        if (!isnan(t->heard)) {
            to->value = t->heard - level;
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
    int64_t end = p->curve->end, first = most(p->floor, end - ES_SWING_SPAN);
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
    if (!had.count && found.count)
        learn_anew(p);
}

/* --- a change ---------------------------------------------------------------------------------- */

/* How far, in standard deviations, the mean since tick `split` lies from that before. */
static double step_at(const es_plateau *p, int64_t split)
{
    int64_t end = p->curve->end;
    int64_t from = most(p->start, split - ticks_of(ES_PLATEAU_MOST_S));
    double step = es_curve_mean(p->curve, split, end) - es_curve_mean(p->curve, from, split);
    double deviation = sqrt(guess(p, end - split) + guess(p, split - from));
    return fabs(step) / deviation; /* NaN compares as no change */
}

static int has_changed(const es_plateau *p)
{
    static const int64_t turns[] = {1, 2, 3, 4, 6, 8, 12, 16, 24, LONGEST};
    double far = p->scatter.steps < LEARNED ? FAR_AT_FIRST : FAR;
    for (size_t i = 0; i < sizeof turns / sizeof *turns; i++) {
        int64_t split = p->curve->end - turns[i] * p->turn;
        if (split - p->start < STEADY_TURNS * p->turn)
            break;
        if (step_at(p, split) > far)
            return 1;
    }
    return 0;
}

/* The split that tells the two sides apart best: where the change began. */
static int64_t where_it_changed(const es_plateau *p)
{
    int64_t end = p->curve->end, best = end - p->turn;
    int64_t first = most(p->start + STEADY_TURNS * p->turn, end - (LONGEST + 8) * p->turn);
    double farthest = 0.0;
    for (int64_t split = first; split <= end - p->turn / 2; split++) {
        double a = (double)(split - p->start), b = (double)(end - split);
        double step = es_curve_mean(p->curve, split, end) -
                      es_curve_mean(p->curve, most(p->start, split - 1000), split);
        double gain = step * step * a * b / (a + b);
        if (gain > farthest) {
            farthest = gain;
            best = split;
        }
    }
    return best;
}

/* Sum of squares of the turns' means about one level each side of `split`, or about a straight
 * line (split < 0). */
static double squares_left(const es_plateau *p, int64_t from, int64_t split, double *slope)
{
    double n = 0.0, x = 0.0, y = 0.0, xx = 0.0, xy = 0.0, yy = 0.0;
    int64_t end = p->curve->end;
    double low = split < 0 ? 0.0 : es_curve_mean(p->curve, from, split);
    double high = split < 0 ? 0.0 : es_curve_mean(p->curve, split, end);
    double level = es_curve_mean(p->curve, from, end);
    for (int64_t t = from; t + p->turn <= end; t += p->turn) {
        double value = es_curve_mean(p->curve, t, t + p->turn), at = (double)(t - from);
        if (isnan(value))
            continue;
        value -= split < 0 ? level : t + p->turn / 2 < split ? low : high;
        n += 1.0, x += at, y += value, xx += at * at, xy += at * value, yy += value * value;
    }
    if (split >= 0)
        return yy;
    double spread = xx - x * x / n, along = xy - x * y / n;
    *slope = along / spread * ES_TICKS_HZ;
    return yy - y * y / n - along * along / spread;
}

/* Does a straight line tell the whole span better than the step at `split`? */
static int is_drift(es_plateau *p, int64_t split)
{
    double slope = 0.0;
    int64_t from = most(p->start, p->curve->end - ticks_of(ES_PLATEAU_MOST_S));
    if (p->curve->end - from < ticks_of(3.0))
        return 0;
    if (squares_left(p, from, -1, &slope) > squares_left(p, from, split, NULL))
        return 0;
    int same = slope > 0.0 ? p->drifts > 0 : p->drifts < 0;
    p->drifts = (same ? p->drifts : 0) + (slope > 0.0 ? 1 : -1);
    p->drift_per_s = p->drifts >= DRIFTS || p->drifts <= -DRIFTS ? slope : 0.0;
    p->drift_until = p->curve->end + ticks_of(DRIFT_KEPT_S);
    return 1;
}

/* --- calm -------------------------------------------------------------------------------------- */

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
    return fmax(ALIKE_LEAST, ALIKE * sqrt(2.0 * guess(p, p->turn)));
}

static int calms_down(const es_plateau *p)
{
    return last_step(p) <= calm_bound(p) && p->curve->end - p->moved >= 2 * p->turn;
}

/* What is left of the approach at the beginning of the plateau. */
static void cut_approach(es_plateau *p)
{
    while (p->curve->end - p->start >= (STEADY_TURNS + 1) * p->turn) {
        int64_t second = p->start + p->turn, end = p->curve->end;
        double step =
            es_curve_mean(p->curve, p->start, second) - es_curve_mean(p->curve, second, end);
        if (!(fabs(step) > TAIL * sqrt(guess(p, p->turn) + guess(p, end - second))))
            break;
        p->start += most(1, p->turn / 2);
    }
}

static int is_steady(const es_plateau *p)
{
    int64_t turns = p->unlearned ? FIRST_TURNS : STEADY_TURNS;
    double dof;
    return p->curve->end - p->start >= turns * p->turn &&
           !isnan(es_scatter_variance(&p->scatter, 1.0, &dof));
}

/* --- the look ------------------------------------------------------------------------------------ */

/* The mean before the change, for the size of it. */
static void close_plateau(es_plateau *p, int64_t split)
{
    int64_t from = most(p->start, split - ticks_of(ES_PLATEAU_MOST_S));
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
    if (was_steady)
        close_plateau(p, split);
    p->pace = ES_PACE_MOVING;
    p->moved = split;
    return was_steady;
}

/* A speed that never calms down is taken as it is. */
static int is_tired(const es_plateau *p)
{
    return p->curve->end - p->moved > ticks_of(PATIENCE_S);
}

/* A motor comes near its new speed ever more slowly: its time constant is guessed from how long it took
 * to come so near that it looks calm, and the plateau begins where the rest is small. */
static int64_t end_of_approach(const es_plateau *p)
{
    int64_t end = p->curve->end;
    double step = fabs(es_curve_mean(p->curve, end - p->turn, end) - p->before.value);
    double took = (double)(end - p->turn - p->moved);
    if (!p->had_one || !(step > REST))
        return end - 2 * p->turn;
    double constant = took / fmax(1.0, log(step / calm_bound(p)));
    return p->moved + (int64_t)(constant * log(step / REST));
}

static void look_while_moving(es_plateau *p)
{
    int64_t end = p->curve->end;
    if (calms_down(p)) {
        p->start = most(p->floor, most(end_of_approach(p), end - 2 * p->turn));
    } else if (is_tired(p)) {
        p->start = most(p->floor, end - ticks_of(3.0));
        p->unlearned = 1;
    } else {
        return;
    }
    p->pace = ES_PACE_CALM;
}

static int moves_again(const es_plateau *p)
{
    return last_step(p) > fmax(ALIKE_LEAST, AGAIN * sqrt(2.0 * guess(p, p->turn)));
}

static int look_while_calm(es_plateau *p)
{
    if (!is_tired(p)) {
        if (moves_again(p)) {
            p->pace = ES_PACE_MOVING;
            return 0;
        }
        cut_approach(p);
        if (has_changed(p))
            return begin_moving(p, where_it_changed(p));
    }
    if (p->unlearned)
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
    if (!has_changed(p)) {
        learn_on(p);
        return 0;
    }
    int64_t split = where_it_changed(p);
    if (!is_drift(p, split))
        return begin_moving(p, split);
    p->start = most(p->start, p->curve->end - ticks_of(2.0));
    return 0;
}

int es_plateau_look(es_plateau *p)
{
    int64_t end = p->curve->end;
    p->start = most(p->start, end - ES_CURVE_TICKS + 4 * p->turn);
    if (p->drifts && end >= p->drift_until) {
        p->drifts = 0;
        p->drift_per_s = 0.0;
    }
    if (p->pace == ES_PACE_CALM)
        return look_while_calm(p);
    if (p->pace == ES_PACE_STEADY)
        return look_while_steady(p);
    look_while_moving(p);
    return 0;
}
