/*
 * The course of a track: least squares through its rates and their slopes, repeated with less weight
 * for marks that lie off (Cauchy's weights), so that windows in which two lines met do no harm.
 */
#include "signal/lines_track.h"

#include <math.h>

#define MINUTE 60.0
#define BENT_LEAST 8   /* marks that allow a bent course                              */
#define NEAR_PART 0.25 /* of the capture to either side of the instant                */
#define ROUNDS 12
#define OFF_USUAL 2.5 /* standard deviations at which a mark's weight is halved */
#define SIGMA_OF_MEDIAN 1.4826

typedef struct fit {
    double a[3][4]; /* normal equations of rate, slope, bend (x in minutes), right side last */
    double squares; /* weighted squares of the observations                                  */
    double seen;    /* observations, by their weight                                         */
    int terms;
} fit;

typedef struct course {
    double x[3], u[3]; /* rate over base, slope, bend; standard errors */
} course;

typedef struct view {
    const es_lines_track *track;
    double at_s, reach_s, base_hz;
    double weight[ES_LINES_MARKS], slide_weight[ES_LINES_MARKS]; /* 0: out of reach */
} view;

/* --- least squares ------------------------------------------------------------------ */

static void observe(fit *f, const double *factor, double value, double u, double part)
{
    double weight = part / (u * u);
    for (int i = 0; i < f->terms; i++) {
        for (int j = 0; j < f->terms; j++)
            f->a[i][j] += weight * factor[i] * factor[j];
        f->a[i][3] += weight * factor[i] * value;
    }
    f->squares += weight * value * value;
    f->seen += part;
}

/* Gauss-Jordan; leaves the inverse's diagonal in u2. 0: not to be solved. */
static int solve(const fit *f, double *x, double *u2)
{
    int n = f->terms;
    double m[3][6] = {{0}};
    for (int i = 0; i < n; i++) {
        for (int j = 0; j < n; j++)
            m[i][j] = f->a[i][j];
        m[i][n + i] = 1.0;
    }
    for (int p = 0; p < n; p++) { /* positive definite: no pivoting needed */
        if (!(m[p][p] > 1e-12 * f->a[p][p]))
            return 0;
        double inverse = 1.0 / m[p][p];
        for (int j = 0; j < 2 * n; j++)
            m[p][j] *= inverse;
        for (int i = 0; i < n; i++) {
            double part = i == p ? 0.0 : m[i][p];
            for (int j = 0; j < 2 * n; j++)
                m[i][j] -= part * m[p][j];
        }
    }
    for (int i = 0; i < n; i++) {
        x[i] = 0.0;
        for (int j = 0; j < n; j++)
            x[i] += m[i][n + j] * f->a[j][3];
        u2[i] = m[i][n + i];
    }
    return 1;
}

static int fit_marks(const view *v, int terms, course *c)
{
    fit f = {.terms = terms};
    for (size_t i = 0; i < v->track->marks; i++) {
        const es_lines_mark *m = &v->track->mark[i];
        double d = (m->time_s - v->at_s) / MINUTE;
        if (v->weight[i] > 0.0)
            observe(&f, (double[]){1.0, d, d * d}, m->rate_hz - v->base_hz, m->rate_u_hz,
                    v->weight[i]);
        if (v->slide_weight[i] > 0.0)
            observe(&f, (double[]){0.0, 1.0, 2.0 * d}, m->slide_hz_s * MINUTE, m->slide_u * MINUTE,
                    v->slide_weight[i]);
    }
    double u2[3], found[3] = {0}, explained = 0.0;
    if (f.seen < (double)terms - 0.01 || !solve(&f, found, u2))
        return 0;
    for (int i = 0; i < terms; i++)
        explained += found[i] * f.a[i][3];
    double spare = f.seen - (double)terms, left = fmax(0.0, f.squares - explained);
    double stretch = spare > 0.5 ? fmax(1.0, left / spare) : 1.0;
    for (int i = 0; i < 3; i++) {
        c->x[i] = found[i];
        c->u[i] = i < terms ? sqrt(u2[i] * stretch) : 0.0;
    }
    return 1;
}

/* --- weights -------------------------------------------------------------------------- */

static size_t take_within(view *v)
{
    size_t count = 0;
    for (size_t i = 0; i < v->track->marks; i++) {
        const es_lines_mark *m = &v->track->mark[i];
        int within = fabs(m->time_s - v->at_s) <= v->reach_s;
        v->weight[i] = within;
        v->slide_weight[i] = within && isfinite(m->slide_hz_s);
        count += (size_t)within;
    }
    return count;
}

static double off(const view *v, const course *c, size_t i)
{
    const es_lines_mark *m = &v->track->mark[i];
    double d = (m->time_s - v->at_s) / MINUTE;
    return fabs(m->rate_hz - v->base_hz - c->x[0] - d * (c->x[1] + d * c->x[2]));
}

static double slide_off(const view *v, const course *c, size_t i)
{
    const es_lines_mark *m = &v->track->mark[i];
    double d = (m->time_s - v->at_s) / MINUTE;
    return fabs(m->slide_hz_s * MINUTE - c->x[1] - 2.0 * d * c->x[2]);
}

static double median_off(const view *v, const course *c)
{
    double sorted[ES_LINES_MARKS];
    size_t count = 0;
    for (size_t i = 0; i < v->track->marks; i++) {
        if (!(v->weight[i] > 0.0))
            continue;
        double value = off(v, c, i);
        size_t k = count++;
        for (; k > 0 && sorted[k - 1] > value; k--)
            sorted[k] = sorted[k - 1];
        sorted[k] = value;
    }
    return count ? sorted[count / 2] : 0.0;
}

static double cauchy(double ratio)
{
    return 1.0 / (1.0 + ratio * ratio);
}

static void weigh(view *v, const course *c)
{
    double usual = SIGMA_OF_MEDIAN * median_off(v, c);
    for (size_t i = 0; i < v->track->marks; i++) {
        const es_lines_mark *m = &v->track->mark[i];
        double limit = OFF_USUAL * fmax(usual, m->rate_u_hz);
        double slide_limit = OFF_USUAL * m->slide_u * MINUTE * fmax(1.0, usual / m->rate_u_hz);
        double steady = cauchy(off(v, c, i) / limit);
        if (v->weight[i] > 0.0)
            v->weight[i] = steady;
        if (v->slide_weight[i] > 0.0)
            v->slide_weight[i] = steady * cauchy(slide_off(v, c, i) / slide_limit);
    }
}

/* --- course --------------------------------------------------------------------------- */

es_lines_course es_lines_track_course(const es_lines_track *t, double time_s, double length_s)
{
    const es_lines_mark *last = &t->mark[t->marks - 1];
    course c = {0};
    view v = {.track = t, .reach_s = NEAR_PART * length_s, .base_hz = t->last_hz};
    v.at_s = fmin(fmax(time_s, t->mark[0].time_s), last->time_s);
    if (t->marks < 3)
        v.at_s = time_s; /* so near that the straight course holds */
    if (take_within(&v) < BENT_LEAST) {
        v.reach_s = HUGE_VAL;
        take_within(&v);
    }
    int terms = take_within(&v) >= BENT_LEAST ? 3 : 2;
    if (!fit_marks(&v, terms, &c))
        return (es_lines_course){last->rate_hz, last->rate_u_hz, (double)NAN, HUGE_VAL};
    for (int round = 0; round < ROUNDS && terms == 3; round++) {
        weigh(&v, &c);
        if (!fit_marks(&v, terms, &c))
            break;
    }
    return (es_lines_course){v.base_hz + c.x[0], c.u[0], c.x[1] / MINUTE, c.u[1] / MINUTE};
}
