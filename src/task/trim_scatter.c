#include "task/trim_scatter.h"

#include <math.h>

#define FADE (1.0 / 200.0) /* per turn: about half a minute is remembered               */
#define USABLE_DOF 2.0
#define USUAL 3e-4       /* scatter of one turn's mean before it is known; common practice */
#define USUAL_DOF 2.0    /* and how firmly that is believed                             */
#define LEAST 2e-6       /* scatter of a perfect deck, so that nothing divides by zero  */
#define PARABOLA 1.2     /* the efficient mean of white frequency noise, over the plain one */
#define OUTLIER 6.0      /* a squared difference over so many of the usual ones is cut to that:  */
#define OUTLIER_DOF 4.0  /* a hand that was not noticed; once the usual ones are known          */
#define WIDER 1.5        /* variance, after a mistake */
#define NEAR_LENGTHS 4.0 /* lengths down to a quarter of the asked-for one speak for it */

void es_scatter_reset(es_scatter *s)
{
    *s = (es_scatter){.fitted = 1.0};
}

/* Overlapping differences share readings: one in `length` is independent (careful side). */
static double dof_of(const es_scatter *s, int i)
{
    return s->count[i] / (double)(1 << i);
}

static double bounded(const es_scatter *s, int i, double square)
{
    if (dof_of(s, i) < OUTLIER_DOF)
        return square;
    return fmin(square, OUTLIER * s->square[i] / s->count[i]);
}

void es_scatter_learn(es_scatter *s, const es_curve *c, int64_t start, int64_t end, int64_t turn)
{
    for (int i = 0; i < ES_SCATTER_LENGTHS; i++) {
        int64_t length = turn << i;
        if (end - 2 * length < start)
            break;
        double step =
            es_curve_mean(c, end - length, end) - es_curve_mean(c, end - 2 * length, end - length);
        if (isnan(step))
            continue;
        s->square[i] += bounded(s, i, 0.5 * step * step) - FADE * s->square[i];
        s->count[i] += 1.0 - FADE * s->count[i];
    }
    s->steps++;
}

void es_scatter_widen(es_scatter *s)
{
    for (int i = 0; i < ES_SCATTER_LENGTHS; i++)
        s->square[i] *= WIDER;
}

/* White noise falls with the length; noise that falls less shows at the longer lengths, which
 * count as they are: the mean over a shorter time can't scatter less. */
static double scaled(const es_scatter *s, int i, double turns)
{
    double length = (double)(1 << i), variance = s->square[i] / s->count[i];
    return length < turns ? variance * length / turns : variance;
}

double es_scatter_variance(const es_scatter *s, double turns, double *dof)
{
    double most = (double)NAN;
    *dof = (double)NAN;
    for (int i = 0; i < ES_SCATTER_LENGTHS && dof_of(s, i) >= USABLE_DOF; i++) {
        int next_usable = i + 1 < ES_SCATTER_LENGTHS && dof_of(s, i + 1) >= USABLE_DOF;
        if ((double)(1 << i) * NEAR_LENGTHS < turns && next_usable)
            continue;
        double variance = scaled(s, i, turns);
        if (!(variance <= most)) {
            most = variance;
            *dof = dof_of(s, i);
        }
    }
    return PARABOLA * s->fitted * most + LEAST * LEAST;
}

double es_scatter_guess(const es_scatter *s, double turns)
{
    double dof, known = es_scatter_variance(s, turns, &dof), usual = USUAL * USUAL / turns;
    if (isnan(known))
        return usual;
    return (known * dof + usual * USUAL_DOF) / (dof + USUAL_DOF);
}
