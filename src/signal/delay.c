#include "evenspool/signal/delay.h"

#include "evenspool/base/units.h"
#include "signal/twin.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FRAME_S 0.04
#define FRAMES_LEAST 4
#define DEAD_RATIO 1e-4 /* power: -40 dB: that channel carries leakage                   */
#define COHERENCE_MOST 0.999999
#define COHERENCE_LEAST 0.02 /* over what chance alone would show                            */
#define CHANCE 5.0           /* the peak of unrelated channels stays under so many deviations */
#define RIVAL_SURE 0.8
#define OVERLAP_GAIN 0.947 /* independent averages per half-overlapping Hann frame, Welch 1967 */
#define NEIGHBOURS 1.94    /* bins of a Hann window are not independent: 1 + 2 (4/9 + 1/36) */
#define FINE_STEPS 12      /* per period of the highest frequency, when looking for the peak */

struct es_delay {
    es_delay_config config;
    es_twin twin;
    double bin_hz;
    size_t from, to; /* bins that count, to excluded */
    es_twin_bin *sum;
    double frames;
    double *weight, *phase; /* scratch */
    double *height;         /* of the correlation on the grid of delays */
    size_t steps;           /* to either side of zero                   */
};

es_delay_config es_delay_defaults(double rate_hz)
{
    return (es_delay_config){.rate_hz = rate_hz,
                             .low_hz = 200.0,
                             .high_hz = fmin(16000.0, 0.45 * rate_hz),
                             .widest_s = 2e-3};
}

static int config_is_sound(const es_delay_config *c)
{
    return c->rate_hz >= 8000.0 && c->rate_hz <= 384000.0 && c->low_hz >= 20.0 &&
           c->high_hz > 1.1 * c->low_hz && c->high_hz <= 0.48 * c->rate_hz && c->widest_s >= 1e-5 &&
           c->widest_s <= 5e-3;
}

static double step_s(const es_delay *d)
{
    return 1.0 / (FINE_STEPS * d->config.high_hz);
}

es_status es_delay_create(const es_delay_config *config, es_delay **out)
{
    *out = NULL;
    if (!config_is_sound(config))
        return ES_ERR_ARG;
    es_delay *d = calloc(1, sizeof *d);
    if (!d)
        return ES_ERR_NOMEM;
    d->config = *config;
    size_t frame = 256;
    while ((double)frame < FRAME_S * config->rate_hz)
        frame *= 2;
    es_status status = es_twin_start(&d->twin, frame, frame / 2, ES_TWIN_HANN);
    d->bin_hz = config->rate_hz / (double)frame;
    d->from = (size_t)ceil(config->low_hz / d->bin_hz);
    d->to = (size_t)floor(config->high_hz / d->bin_hz) + 1;
    d->steps = (size_t)ceil(config->widest_s / step_s(d));
    d->sum = calloc(d->twin.bins, sizeof *d->sum);
    d->weight = calloc(d->twin.bins, sizeof *d->weight);
    d->phase = calloc(d->twin.bins, sizeof *d->phase);
    d->height = calloc(2 * d->steps + 1, sizeof *d->height);
    if (status != ES_OK || !d->sum || !d->weight || !d->phase || !d->height) {
        es_delay_destroy(d);
        return ES_ERR_NOMEM;
    }
    *out = d;
    return ES_OK;
}

void es_delay_destroy(es_delay *d)
{
    if (!d)
        return;
    es_twin_stop(&d->twin);
    free(d->sum);
    free(d->weight);
    free(d->phase);
    free(d->height);
    free(d);
}

void es_delay_reset(es_delay *d)
{
    es_twin_reset(&d->twin);
    memset(d->sum, 0, d->twin.bins * sizeof *d->sum);
    d->frames = 0.0;
}

static void add_frame(es_delay *d)
{
    es_twin_transform(&d->twin);
    for (size_t i = d->from; i < d->to; i++) {
        es_twin_bin bin = es_twin_look(&d->twin, i);
        d->sum[i].left += bin.left;
        d->sum[i].right += bin.right;
        d->sum[i].cross_re += bin.cross_re;
        d->sum[i].cross_im += bin.cross_im;
    }
    d->frames += 1.0;
}

void es_delay_push(es_delay *d, const float *left, const float *right, size_t stride, size_t frames)
{
    while (frames > 0) {
        size_t used = es_twin_push(&d->twin, left, right, stride, frames);
        if (es_twin_is_full(&d->twin))
            add_frame(d);
        left += used * stride;
        right += used * stride;
        frames -= used;
    }
}

/* --- weights ----------------------------------------------------------------------------- */

/* Magnitude squared, with what chance adds to it taken off; 0: no more than chance. */
static double coherence_of(const es_twin_bin *s, double averages)
{
    double powers = s->left * s->right;
    if (!(powers > 0.0))
        return 0.0;
    double seen = (s->cross_re * s->cross_re + s->cross_im * s->cross_im) / powers;
    double true_one = (seen - 1.0 / averages) / (1.0 - 1.0 / averages);
    return true_one > COHERENCE_LEAST ? fmin(true_one, COHERENCE_MOST) : 0.0;
}

typedef struct common {
    int alive;        /* neither channel dead                 */
    double coherence; /* mean, weighted with the power        */
    double ratio;     /* right / left amplitude of the common */
    double averages;
} common;

/* Fills weight and phase of each bin. Weights: inverse variances of the phase, 2 K g / (1 - g). */
static common weigh(es_delay *d)
{
    common c = {.averages = d->frames * OVERLAP_GAIN};
    double left = 0.0, right = 0.0, shared = 0.0, cross = 0.0, powers = 0.0;
    for (size_t i = d->from; i < d->to; i++) {
        const es_twin_bin *s = &d->sum[i];
        double g = coherence_of(s, c.averages);
        d->weight[i] = 2.0 * c.averages * g / (1.0 - g);
        d->phase[i] = atan2(s->cross_im, s->cross_re);
        left += s->left;
        right += s->right;
        double power = sqrt(s->left * s->right);
        shared += power * g;
        powers += power;
        cross += g > 0.0 ? g * s->left : 0.0;
        c.ratio += g > 0.0 ? hypot(s->cross_re, s->cross_im) * g : 0.0;
    }
    c.coherence = powers > 0.0 ? shared / powers : 0.0;
    c.ratio = cross > 0.0 ? c.ratio / cross : 0.0;
    c.alive = right > DEAD_RATIO * left && left > DEAD_RATIO * right;
    return c;
}

/* --- coarse: the correlation's highest peak -------------------------------------------------- */

/* A bin's say in the correlation, where one loud or clear stretch of frequencies must not drown the rest. */
static double say(const es_delay *d, size_t bin, double averages)
{
    double w = d->weight[bin] / (2.0 * averages);
    return w / (1.0 + w); /* the coherence again */
}

/* Sum over bins of g cos(phase + 2 pi f t), for every t of the grid; returns its standard deviation
 * if the phases had no order. */
static double correlate(es_delay *d, double averages)
{
    double squares = 0.0;
    memset(d->height, 0, (2 * d->steps + 1) * sizeof *d->height);
    for (size_t i = d->from; i < d->to; i++) {
        double g = say(d, i, averages);
        if (g == 0.0)
            continue;
        squares += g * g;
        double turn = ES_TWO_PI * (double)i * d->bin_hz * step_s(d);
        double angle = d->phase[i] - turn * (double)d->steps;
        double re = g * cos(angle), im = g * sin(angle), cos_turn = cos(turn), sin_turn = sin(turn);
        for (size_t k = 0; k <= 2 * d->steps; k++) {
            d->height[k] += re;
            double next = re * cos_turn - im * sin_turn;
            im = im * cos_turn + re * sin_turn;
            re = next;
        }
    }
    return sqrt(0.5 * NEIGHBOURS * squares);
}

static size_t highest(const es_delay *d)
{
    size_t best = d->steps;
    for (size_t k = 0; k <= 2 * d->steps; k++)
        if (fabs(d->height[k]) > fabs(d->height[best]))
            best = k;
    return best;
}

/* Height of the best other peak (of either sign) against this one; the slopes of this one don't count. */
static double rival_of(const es_delay *d, size_t best)
{
    double top = fabs(d->height[best]), rival = 0.0;
    for (size_t k = 1; k < 2 * d->steps; k++) {
        double here = fabs(d->height[k]);
        int peak = here >= fabs(d->height[k - 1]) && here >= fabs(d->height[k + 1]);
        if (peak && k != best)
            rival = fmax(rival, here);
    }
    return top > 0.0 ? rival / top : 1.0;
}

/* --- fine: the most likely delay ------------------------------------------------------------- */

typedef struct slope {
    double delay_s, u_s;
} slope;

static double wrapped(double angle)
{
    return angle - ES_TWO_PI * floor(angle / ES_TWO_PI + 0.5);
}

/* Newton's way to the maximum of sum w cos(phase + w t), phases turned over when opposed. */
static slope most_likely(const es_delay *d, double delay_s, int opposed)
{
    double curve = 0.0, scatter = 0.0;
    for (int round = 0; round < 8; round++) {
        double pull = 0.0;
        curve = scatter = 0.0;
        for (size_t i = d->from; i < d->to; i++) {
            double turn = ES_TWO_PI * (double)i * d->bin_hz;
            double rest = wrapped(d->phase[i] + turn * delay_s + (opposed ? ES_PI : 0.0));
            double part = d->weight[i] * turn * sin(rest);
            pull += part;
            scatter += part * part;
            curve += d->weight[i] * turn * turn;
        }
        if (!(curve > 0.0))
            break;
        delay_s -= pull / curve;
    }
    double by_scatter = NEIGHBOURS * scatter / (curve * curve); /* what the phases really do */
    return (slope){.delay_s = delay_s, .u_s = sqrt(fmax(by_scatter, 1.0 / curve))};
}

es_delay_figures es_delay_figures_of(es_delay *d)
{
    double none = (double)NAN;
    es_delay_figures f = {0, none, none, 0, none, none, none, 0};
    if (d->frames < FRAMES_LEAST)
        return f;
    common c = weigh(d);
    double chance = correlate(d, c.averages);
    size_t best = highest(d);
    if (!c.alive || !(fabs(d->height[best]) > CHANCE * chance))
        return f;
    f.opposed = d->height[best] < 0.0;
    slope fine = most_likely(d, ((double)best - (double)d->steps) * step_s(d), f.opposed);
    f.known = 1;
    f.delay_s = fine.delay_s;
    f.u_s = fine.u_s;
    f.coherence = c.coherence;
    f.level_ratio = c.ratio;
    f.rival = rival_of(d, best);
    f.sure = f.rival < RIVAL_SURE;
    return f;
}

/* --- phase against frequency ------------------------------------------------------------------- */

static es_delay_point point_of(const es_delay *d, double hz)
{
    double half = pow(2.0, 1.0 / 6.0);
    es_twin_bin s = {0};
    for (size_t i = (size_t)ceil(hz / half / d->bin_hz); (double)i * d->bin_hz < hz * half; i++)
        if (i >= d->from && i < d->to) {
            s.left += d->sum[i].left;
            s.right += d->sum[i].right;
            s.cross_re += d->sum[i].cross_re;
            s.cross_im += d->sum[i].cross_im;
        }
    double g = d->frames >= FRAMES_LEAST ? coherence_of(&s, d->frames * OVERLAP_GAIN) : 0.0;
    return (es_delay_point){.hz = hz,
                            .phase_rad = g > 0.0 ? atan2(s.cross_im, s.cross_re) : (double)NAN,
                            .coherence = g};
}

size_t es_delay_curve(const es_delay *d, es_delay_point *out, size_t room)
{
    size_t count = 0;
    for (int k = -17; k <= 14 && count < room;
         k++) { /* 20 Hz .. 25 kHz, thirds of an octave round 1 kHz */
        double hz = 1000.0 * pow(10.0, k / 10.0);
        if (hz >= 0.99 * d->config.low_hz && hz <= 1.01 * d->config.high_hz)
            out[count++] = point_of(d, hz);
    }
    return count;
}

/* --- tones ---------------------------------------------------------------------------------------- */

es_delay_figures es_delay_refine(const es_delay_figures *figures, double tone_hz, double phase_rad,
                                 double u_rad)
{
    es_delay_figures f = *figures;
    if (!f.known || !isfinite(phase_rad) || !(u_rad > 0.0) || !(tone_hz > 0.0))
        return f;
    double turn = ES_TWO_PI * tone_hz;
    double expected = -turn * f.delay_s + (f.opposed ? ES_PI : 0.0);
    double delay_s = f.delay_s - wrapped(phase_rad - expected) / turn;
    double u_s = u_rad / turn;
    if (3.0 * hypot(f.u_s, u_s) > 0.5 / tone_hz)
        f.sure = 0;
    double broad = 1.0 / (f.u_s * f.u_s), tone = 1.0 / (u_s * u_s);
    f.delay_s = (broad * f.delay_s + tone * delay_s) / (broad + tone);
    f.u_s = 1.0 / sqrt(broad + tone);
    return f;
}
