#include "signal/lines_zoom.h"

#include "evenspool/base/units.h"

#include <math.h>

#define REACH 14       /* independent bins to either side of the peak              */
#define SLIDE_STEP 2.0 /* of the search grid, slides -SLIDE_MOST .. SLIDE_MOST     */
#define SLIDE_MOST 8.0
#define RATE_MOST 2.0   /* rates beside the peak, in steps of 1                     */
#define ROUNDS 8        /* of Newton's method                                       */
#define ENOUGH 1e-4     /* the maximum is so near [turns per span]                  */
#define NEIGHBOUR 12.0  /* other lines so near are taken off [turns per span]         */
#define SPREAD 2.0      /* a slide's power over the peak's: at most 2 + 2 x slide     */
#define SLIDE_PLAIN 1.0 /* slides below that are not doubted                          */
#define POWER_MOST 1.25 /* of a sliding line, over what its amplitude accounts for    */
#define GAIN_LEAST 6.0  /* a slide counts when it lifts the power by so many floors */

typedef es_lines_turn turn;

typedef struct guess {
    double rate, slide, power;
    turn sum;
} guess;

static turn times(turn a, turn b)
{
    return (turn){a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}

static turn at_angle(double angle)
{
    return (turn){cos(angle), sin(angle)};
}

/* --- constants -------------------------------------------------------------------- */

/* Spread of the estimate that turns by factor[m] per unit, under weights w. */
static double spread_of(const double *w, const double *factor)
{
    double sum = 0.0, squares = 0.0, mean = 0.0;
    for (int m = 0; m < ES_LINES_POINTS; m++) {
        sum += w[m];
        squares += w[m] * w[m];
        mean += w[m] * factor[m];
    }
    mean /= sum;
    double lever = 0.0, noise = 0.0;
    for (int m = 0; m < ES_LINES_POINTS; m++) {
        double q = factor[m] - mean;
        lever += w[m] * q * q;
        noise += w[m] * w[m] * q * q;
    }
    return sqrt(noise / squares / 2.0) * sum / lever;
}

static double slide_at(int i)
{
    return SLIDE_STEP * (i - ES_LINES_SLIDES / 2);
}

static double rate_at(int i)
{
    return (double)(i - ES_LINES_RATES / 2);
}

void es_lines_zoom_init(es_lines_zoom *z)
{
    *z = (es_lines_zoom){0};
    double w[ES_LINES_POINTS], rate[ES_LINES_POINTS], slide[ES_LINES_POINTS];
    for (int m = 0; m < ES_LINES_POINTS; m++) {
        double at = ((double)m + 0.5) / ES_LINES_POINTS - 0.5;
        z->at[m] = at;
        w[m] = 0.5 + 0.5 * cos(ES_TWO_PI * at);
        z->weights += w[m];
        z->squares += w[m] * w[m];
        rate[m] = ES_TWO_PI * at;
        slide[m] = ES_PI * at * at;
    }
    z->rate_spread = spread_of(w, rate);
    z->slide_spread = spread_of(w, slide);
    for (int m = 0; m < ES_LINES_POINTS; m++) {
        for (int i = 0; i < ES_LINES_SLIDES; i++)
            z->slide[i][m] = at_angle(-slide[m] * slide_at(i));
        for (int i = 0; i < ES_LINES_RATES; i++)
            z->rate[i][m] = at_angle(-rate[m] * rate_at(i));
    }
}

/* --- down to 0 Hz ------------------------------------------------------------------- */

/* All instants go along side by side: vector units like that. */
typedef struct row {
    double re[ES_LINES_POINTS], im[ES_LINES_POINTS];
} row;

static void set_row(row *r, size_t m, turn value)
{
    r->re[m] = value.re;
    r->im[m] = value.im;
}

static void add_bin(row *sum, row *now, const row *step, es_fourier_bin bin)
{
    double re = (double)bin.re, im = (double)bin.im;
    for (int m = 0; m < ES_LINES_POINTS; m++) {
        double a = now->re[m], b = now->im[m];
        sum->re[m] += a * re - b * im;
        sum->im[m] += a * im + b * re;
        now->re[m] = a * step->re[m] - b * step->im[m];
        now->im[m] = a * step->im[m] + b * step->re[m];
    }
}

static void turn_down(const es_lines_window *w, size_t bin, turn *out)
{
    double apart = (double)w->most / (double)w->length, scale = 1.0 / (ES_LINES_POINTS * apart);
    size_t reach = (size_t)lrint(REACH * apart), last = w->most / 2 - 1;
    size_t low = bin > reach ? bin - reach : 1, high = bin + reach < last ? bin + reach : last;
    row sum = {0}, now, step;
    for (size_t m = 0; m < ES_LINES_POINTS; m++) {
        double angle = ES_TWO_PI * ((double)m + 0.5) / ES_LINES_POINTS / apart;
        set_row(&step, m, at_angle(angle));
        set_row(&now, m, at_angle(-angle * (double)(bin - low)));
    }
    for (size_t k = low; k <= high; k++)
        add_bin(&sum, &now, &step, w->fourier.bin[k]);
    for (int m = 0; m < ES_LINES_POINTS; m++)
        out[m] = (turn){scale * sum.re[m], scale * sum.im[m]};
}

/* The turn between the phase of a line brought down from a place and its own, mid-window. */
static turn middle_turn(double place)
{
    return at_angle(ES_PI * place);
}

static void take_off(const es_lines_zoom *zoom, const es_lines_sight *other, double place, turn *z)
{
    double rate = other->rate - place;
    if (fabs(rate) > NEIGHBOUR)
        return;
    turn size = times(other->size, middle_turn(-place));
    for (int m = 0; m < ES_LINES_POINTS; m++) {
        double at = zoom->at[m], weight = 0.5 + 0.5 * cos(ES_TWO_PI * at);
        double slide = other->slides ? other->slide : 0.0;
        turn x = times(size, at_angle(ES_TWO_PI * rate * at + ES_PI * slide * at * at));
        z[m].re -= weight * x.re;
        z[m].im -= weight * x.im;
    }
}

/* --- search -------------------------------------------------------------------------- */

static double power_of(turn sum)
{
    return sum.re * sum.re + sum.im * sum.im;
}

/* Sums of z turned back by the guess, times 1, p, q, pp, pq, qq of the phases' derivatives. */
static void sums_at(const es_lines_zoom *zoom, const turn *z, guess g, turn *sum)
{
    const double pace = 1.0 / ES_LINES_POINTS, first = zoom->at[0];
    turn now = at_angle(-(ES_TWO_PI * first * g.rate + ES_PI * first * first * g.slide));
    turn step = at_angle(-pace * (ES_TWO_PI * g.rate + ES_PI * (2.0 * first + pace) * g.slide));
    turn bend = at_angle(-ES_TWO_PI * pace * pace * g.slide);
    for (int i = 0; i < 6; i++)
        sum[i] = (turn){0};
    for (int m = 0; m < ES_LINES_POINTS; m++) {
        double at = zoom->at[m], p = ES_TWO_PI * at, q = ES_PI * at * at;
        turn x = times(z[m], now);
        const double factor[6] = {1.0, p, q, p * p, p * q, q * q};
        for (int i = 0; i < 6; i++) {
            sum[i].re += factor[i] * x.re;
            sum[i].im += factor[i] * x.im;
        }
        now = times(now, step);
        step = times(step, bend);
    }
}

static turn over(turn a, turn b)
{
    double p = power_of(b);
    return (turn){(a.re * b.re + a.im * b.im) / p, (a.im * b.re - a.re * b.im) / p};
}

static double kept(double value, double most)
{
    return fmin(most, fmax(-most, value));
}

/* One step of Newton's method on ln power; with_slide 0 leaves the slide alone. Returns its length;
 * 0: no maximum near. */
static double step(guess *g, const turn *sum, int with_slide)
{
    turn p = over(sum[1], sum[0]), q = over(sum[2], sum[0]);
    turn pp = times(p, p), pq = times(p, q), qq = times(q, q);
    /* d/dr = 2 Re(-i S1/S0) = 2 Im(S1/S0); d2/dr2 = 2 Re(-S11/S0 + (S1/S0)^2) */
    double gr = p.im, gs = q.im, rate = 0.0, slide = 0.0;
    double hrr = pp.re - over(sum[3], sum[0]).re, hrs = pq.re - over(sum[4], sum[0]).re;
    double hss = qq.re - over(sum[5], sum[0]).re, det = hrr * hss - hrs * hrs;
    if (!(hrr < 0.0) || (with_slide && !(det > 0.0)))
        return 0.0;
    rate = kept((with_slide ? (hss * gr - hrs * gs) / det : gr / hrr), 0.5);
    slide = with_slide ? kept((hrr * gs - hrs * gr) / det, 1.0) : 0.0;
    g->rate -= rate;
    g->slide -= slide;
    return fabs(rate) + fabs(slide);
}

static guess climb(const es_lines_zoom *zoom, const turn *z, guess g, int with_slide)
{
    turn sum[6];
    double moved = HUGE_VAL;
    for (int i = 0;; i++) {
        sums_at(zoom, z, g, sum);
        g.sum = sum[0];
        g.power = power_of(g.sum);
        if (i == ROUNDS || moved < ENOUGH || !(g.power > 0.0))
            return g;
        moved = step(&g, sum, with_slide);
        if (!(moved > 0.0))
            return g;
    }
}

static turn turned_sum(const turn *x, const turn *by)
{
    turn sum = {0};
    for (int m = 0; m < ES_LINES_POINTS; m++) {
        turn y = times(x[m], by[m]);
        sum.re += y.re;
        sum.im += y.im;
    }
    return sum;
}

static guess search(const es_lines_zoom *zoom, const turn *z)
{
    guess best = {0};
    for (int i = 0; i < ES_LINES_SLIDES; i++) {
        turn x[ES_LINES_POINTS];
        for (int m = 0; m < ES_LINES_POINTS; m++)
            x[m] = times(z[m], zoom->slide[i][m]);
        for (int k = 0; k < ES_LINES_RATES; k++) {
            double power = power_of(turned_sum(x, zoom->rate[k]));
            if (power > best.power)
                best = (guess){.rate = rate_at(k), .slide = slide_at(i), .power = power};
        }
    }
    return best;
}

/* Power of z within the sweep of a slide, as a sum over whole turns per span. */
static double swept_power(const turn *z, guess g, int reach, double *turns)
{
    int middle = (int)lrint(g.rate);
    double sum = 0.0;
    *turns = 0.0;
    for (int d = middle - reach; d <= middle + reach; d++) {
        turn step = at_angle(-ES_TWO_PI * d / ES_LINES_POINTS), now = {1.0, 0.0}, all = {0};
        for (int m = 0; m < ES_LINES_POINTS; m++) {
            turn x = times(z[m], now);
            all.re += x.re;
            all.im += x.im;
            now = times(now, step);
        }
        sum += power_of(all);
        *turns += 1.0;
    }
    return sum;
}

/* Two lines near to each other look like one that slides, but there is more power than its own. */
static int is_one_line(const es_lines_zoom *zoom, const turn *z, guess g, double noise)
{
    if (fabs(g.slide) < SLIDE_PLAIN)
        return 1;
    double turns, reach = ceil(fabs(g.slide) / 2.0) + 2.0;
    double swept = swept_power(z, g, (int)fmin(reach, ES_LINES_POINTS / 2 - 1), &turns);
    double own = ES_LINES_POINTS * zoom->squares / zoom->weights / zoom->weights * g.power;
    return swept - turns * noise <= POWER_MOST * own + 3.0 * sqrt(turns) * noise;
}

/* The best turn with a slide; like `still` but with a slide not known when there is none. */
static guess best_slide(const es_lines_zoom *zoom, const turn *z, guess still, double noise)
{
    guess far = search(zoom, z);
    guess best = climb(zoom, z, far.power > still.power ? far : still, 1);
    double most = still.power * (SPREAD + SPREAD * fabs(best.slide)); /* else it is a neighbour's */
    if (best.power >= still.power && best.power <= most &&
        fabs(best.slide) <= SLIDE_MOST + SLIDE_STEP && is_one_line(zoom, z, best, noise))
        return best;
    best = still;
    best.slide = (double)NAN;
    return best;
}

es_lines_sight es_lines_zoom_on(const es_lines_zoom *zoom, const es_lines_window *w, size_t bin,
                                double floor, const es_lines_sight *others, size_t count,
                                size_t self)
{
    turn z[ES_LINES_POINTS];
    double place = (double)bin * (double)w->length / (double)w->most;
    turn_down(w, bin, z);
    for (size_t i = 0; i < count; i++)
        if (i != self)
            take_off(zoom, &others[i], place, z);
    double noise = floor * w->squares;
    guess still = climb(zoom, z, (guess){0}, 0), best = best_slide(zoom, z, still, noise);
    int slides = best.power > still.power + GAIN_LEAST * noise;
    guess one = slides ? best : still;
    turn size = times(one.sum, middle_turn(place));
    return (es_lines_sight){.rate = place + one.rate,
                            .slide = best.slide,
                            .power = one.power / w->squares,
                            .slides = slides,
                            .size = {size.re / zoom->weights, size.im / zoom->weights}};
}
