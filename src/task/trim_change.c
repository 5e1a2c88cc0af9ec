#include "task/trim_change.h"

#include <math.h>

#define FAR 5.0          /* standard deviations that make a change                        */
#define FAR_AT_FIRST 6.0 /* the same before the scatter is learned                        */
#define LONGEST 32       /* turns, of the means that are compared with what was before */
#define DRIFTS 3         /* times in a row that a drift is seen before it is called one */
#define DRIFT_MORE 2.0   /* times what a drift should have done: still the drift */
#define DRIFT_KEPT_S 8.0
#define DRIFT_LEAST_S 3.0 /* of a span that may be one             */
#define DRIFT_SLOW_S 8.0  /* the same for one that is no step      */
#define DRIFT_SURE 8.0    /* standard deviations of its slope      */

/* How far, in standard deviations, the mean since tick `split` lies from that before. */
static double step_at(const es_plateau *p, int64_t split)
{
    int64_t end = p->curve->end;
    int64_t from = es_later(p->start, split - es_ticks_of(ES_PLATEAU_MOST_S));
    double step = es_curve_mean(p->curve, split, end) - es_curve_mean(p->curve, from, split);
    double deviation = sqrt(es_plateau_guess(p, end - split) + es_plateau_guess(p, split - from));
    return fabs(step) / deviation;
}

/* The largest of those, in parts of what makes a change. */
double es_change_suspicion(const es_plateau *p)
{
    static const int64_t turns[] = {1, 2, 3, 4, 6, 8, 12, 16, 24, LONGEST};
    double far = p->scatter.steps < ES_LEARNED_TURNS ? FAR_AT_FIRST : FAR, most = 0.0;
    for (size_t i = 0; i < sizeof turns / sizeof *turns; i++) {
        int64_t split = p->curve->end - turns[i] * p->turn;
        if (split - p->start < ES_STEADY_TURNS * p->turn)
            break;
        most = fmax(most, step_at(p, split)); /* NaN is no change */
    }
    return most / far;
}

int es_change_is_seen(const es_plateau *p)
{
    return es_change_suspicion(p) > 1.0;
}

/* The split that tells the two sides apart best: where the change began. */
int64_t es_change_begin(const es_plateau *p)
{
    int64_t end = p->curve->end, best = end - p->turn;
    int64_t first = es_later(p->start + ES_STEADY_TURNS * p->turn, end - (LONGEST + 8) * p->turn);
    double farthest = 0.0;
    for (int64_t split = first; split <= end - p->turn / 2; split++) {
        double a = (double)(split - p->start), b = (double)(end - split);
        double step = es_curve_mean(p->curve, split, end) -
                      es_curve_mean(p->curve, es_later(p->start, split - es_ticks_of(10.0)), split);
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

static int64_t drift_from(const es_plateau *p)
{
    return es_later(p->start, p->curve->end - es_ticks_of(ES_PLATEAU_MOST_S));
}

/* Does a straight line tell the whole span better than the step at `split`? *slope per second. */
static int is_line(const es_plateau *p, int64_t split, double *slope)
{
    int64_t from = drift_from(p);
    return squares_left(p, from, -1, slope) < squares_left(p, from, split, NULL);
}

static void count_drift(es_plateau *p, double slope)
{
    int same = slope > 0.0 ? p->drifts > 0 : p->drifts < 0;
    p->drifts = (same ? p->drifts : 0) + (slope > 0.0 ? 1 : -1);
    p->drift_last = slope;
    p->drift_per_s = p->drifts >= DRIFTS || p->drifts <= -DRIFTS ? slope : 0.0;
    p->drift_until = p->curve->end + es_ticks_of(DRIFT_KEPT_S);
}

/* No more than the drift that was seen before would have done in that time, or little more. */
static int goes_on_drifting(const es_plateau *p, int64_t split)
{
    int64_t from = drift_from(p), end = p->curve->end;
    double step = es_curve_mean(p->curve, split, end) - es_curve_mean(p->curve, from, split);
    double expected = p->drift_last * 0.5 * es_tick_seconds(end - from);
    return p->drifts && step * expected > 0.0 && fabs(step) < DRIFT_MORE * fabs(expected);
}

/* What looked like a step at `split`, was it a drift? */
int es_change_is_drift(es_plateau *p, int64_t split)
{
    double slope = 0.0;
    if (p->curve->end - drift_from(p) >= es_ticks_of(DRIFT_LEAST_S) && is_line(p, split, &slope))
        count_drift(p, slope);
    else if (goes_on_drifting(p, split))
        count_drift(p, p->drift_last);
    else
        return 0;
    return 1;
}

/* Slope from a tick on, and its standard deviation by what is left of the line. */
static double slope_from(const es_plateau *p, int64_t from, double *u)
{
    double slope = 0.0, left = squares_left(p, from, -1, &slope);
    int64_t ticks = p->curve->end - from;
    double turns = (double)(ticks / p->turn), span_s = (double)ticks / ES_TICKS_HZ;
    *u = sqrt(left / (turns - 2.0) * 12.0 / turns) / span_s;
    return slope;
}

/* A drift too slow to look like a step, and still going on. */
void es_drift_look(es_plateau *p)
{
    int64_t from = drift_from(p), end = p->curve->end;
    p->next_drift = end + es_ticks_of(1.0);
    if (end - from < es_ticks_of(DRIFT_SLOW_S))
        return;
    double u, recent_u, line, slope = slope_from(p, from, &u);
    double recent = slope_from(p, from + (end - from) / 2, &recent_u);
    int goes_on = recent * slope > 0.0 && fabs(recent) > fmax(2.0 * recent_u, 0.5 * fabs(slope));
    if (goes_on && fabs(slope) > DRIFT_SURE * u && is_line(p, es_change_begin(p), &line))
        count_drift(p, slope);
}

void es_drift_fade(es_plateau *p)
{
    if (p->drifts && p->curve->end >= p->drift_until) {
        p->drifts = 0;
        p->drift_per_s = 0.0;
    }
}
