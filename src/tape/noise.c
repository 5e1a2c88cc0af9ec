#include "tape/noise.h"

#include "evenspool/base/units.h"

#include <math.h>
#include <string.h>

/* --- uniform ----------------------------------------------------------------------- */

static uint64_t splitmix(uint64_t *state)
{
    uint64_t z = (*state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

es_rng es_rng_seeded(uint64_t seed, uint64_t stream)
{
    uint64_t other = stream;
    uint64_t state = seed ^ (stream ? splitmix(&other) : 0);
    es_rng rng;
    for (int i = 0; i < 4; i++)
        rng.state[i] = splitmix(&state);
    return rng;
}

static uint64_t rotate(uint64_t x, int bits)
{
    return (x << bits) | (x >> (64 - bits));
}

uint64_t es_rng_next(es_rng *rng)
{
    uint64_t *s = rng->state;
    uint64_t result = rotate(s[0] + s[3], 23) + s[0];
    uint64_t t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = rotate(s[3], 45);
    return result;
}

double es_rng_uniform(es_rng *rng)
{
    return (double)(es_rng_next(rng) >> 11) * 0x1p-53;
}

/* --- normal ------------------------------------------------------------------------ */

#define TAIL_FROM 3.442619855899       /* right edge of the lowest full layer          */
#define LAYER_AREA 9.91256303526217e-3 /* area of every layer under exp(-x^2/2)         */

void es_gauss_prepare(es_gauss *g)
{
    double height = exp(-0.5 * TAIL_FROM * TAIL_FROM);
    g->edge[0] = LAYER_AREA / height; /* lowest layer as if it were a rectangle */
    g->edge[1] = TAIL_FROM;
    for (int i = 2; i < ES_GAUSS_LAYERS; i++) {
        g->edge[i] = sqrt(-2.0 * log(LAYER_AREA / g->edge[i - 1] + height));
        height = exp(-0.5 * g->edge[i] * g->edge[i]);
    }
    g->edge[ES_GAUSS_LAYERS] = 0.0;
    for (int i = 0; i < ES_GAUSS_LAYERS; i++)
        g->share[i] = g->edge[i + 1] / g->edge[i];
}

/* Beyond TAIL_FROM: Marsaglia's exact method. */
static double tail(es_rng *rng, int negative)
{
    double x, y;
    do {
        x = log(1.0 - es_rng_uniform(rng)) / TAIL_FROM;
        y = log(1.0 - es_rng_uniform(rng));
    } while (-2.0 * y < x * x);
    return negative ? x - TAIL_FROM : TAIL_FROM - x;
}

static int under_curve(const es_gauss *g, es_rng *rng, unsigned layer, double x)
{
    double low = exp(-0.5 * (g->edge[layer] * g->edge[layer] - x * x));
    double high = exp(-0.5 * (g->edge[layer + 1] * g->edge[layer + 1] - x * x));
    return high + es_rng_uniform(rng) * (low - high) < 1.0;
}

double es_gauss_next(const es_gauss *g, es_rng *rng)
{
    for (;;) {
        uint64_t bits = es_rng_next(rng);
        unsigned layer = (unsigned)(bits & (ES_GAUSS_LAYERS - 1));
        double u = (double)(int64_t)(bits >> 11) * 0x1p-52 - 1.0;
        double x = u * g->edge[layer];
        if (fabs(u) < g->share[layer])
            return x;
        if (layer == 0)
            return tail(rng, u < 0.0);
        if (under_curve(g, rng, layer, x))
            return x;
    }
}

/* --- band-shaped ------------------------------------------------------------------- */

/*
 * Butterworth section of second order by the trapezoidal rule, as two integrators: unlike the usual
 * direct forms its state stays well scaled however low the corner lies, so that it can be started in its
 * steady state.
 */
static void design(double section[5], double corner_hz, double rate_hz, int high)
{
    double g = tan(ES_PI * corner_hz / rate_hz), damping = sqrt(2.0);
    section[0] = 1.0 / (1.0 + g * (g + damping));
    section[1] = g * section[0];
    section[2] = g * section[1];
    section[3] = damping;
    section[4] = high;
}

static double section_step(const double c[5], double state[2], double in)
{
    double rest = in - state[1];
    double band = c[0] * state[0] + c[1] * rest;
    double low = state[1] + c[1] * state[0] + c[2] * rest;
    state[0] = 2.0 * band - state[0];
    state[1] = 2.0 * low - state[1];
    return c[4] > 0.0 ? in - c[3] * band - low : low;
}

static double band_step(es_band *b, double in)
{
    double passed = section_step(b->high_pass, b->state, in);
    return section_step(b->low_pass, b->state + 2, passed);
}

/* The filter as matrices, read off by exciting one state at a time. */
typedef struct linear {
    double keep[4][4]; /* state to next state */
    double feed[4];    /* input to next state */
    double out[4], through;
} linear;

static linear linear_of(es_band b)
{
    linear l;
    for (int i = 0; i < 5; i++) {
        memset(b.state, 0, sizeof b.state);
        if (i < 4)
            b.state[i] = 1.0;
        double y = band_step(&b, i < 4 ? 0.0 : 1.0);
        if (i < 4)
            l.out[i] = y;
        else
            l.through = y;
        for (int row = 0; row < 4; row++) {
            if (i < 4)
                l.keep[row][i] = b.state[row];
            else
                l.feed[row] = b.state[row];
        }
    }
    return l;
}

/* out = a b, or a b' when turned. */
static void multiply(double out[4][4], double a[4][4], double b[4][4], int turned)
{
    for (int i = 0; i < 4; i++)
        for (int j = 0; j < 4; j++) {
            out[i][j] = 0.0;
            for (int k = 0; k < 4; k++)
                out[i][j] += a[i][k] * (turned ? b[j][k] : b[k][j]);
        }
}

/* Covariance of the state under unit white noise: the sum of A^k B B' A'^k, doubled each round. */
static void steady_covariance(const linear *l, double p[4][4])
{
    double a[4][4], half[4][4], more[4][4];
    memcpy(a, l->keep, sizeof a);
    for (int i = 0; i < 4; i++)
        for (int j = 0; j < 4; j++)
            p[i][j] = l->feed[i] * l->feed[j];
    for (int round = 0; round < 40; round++) {
        multiply(half, a, p, 0);
        multiply(more, half, a, 1);
        for (int i = 0; i < 4; i++)
            for (int j = 0; j < 4; j++)
                p[i][j] += more[i][j];
        multiply(half, a, a, 0);
        memcpy(a, half, sizeof a);
    }
}

/* Lower triangle with root root' = p; directions without variance stay zero. */
static void triangle_root(double p[4][4], double root[4][4])
{
    memset(root, 0, 16 * sizeof(double));
    for (int j = 0; j < 4; j++)
        for (int i = j; i < 4; i++) {
            double rest = p[i][j];
            for (int k = 0; k < j; k++)
                rest -= root[i][k] * root[j][k];
            if (i == j)
                root[i][j] = rest > 0.0 ? sqrt(rest) : 0.0;
            else
                root[i][j] = root[j][j] > 0.0 ? rest / root[j][j] : 0.0;
        }
}

static double output_variance(const linear *l, double p[4][4])
{
    double variance = l->through * l->through;
    for (int i = 0; i < 4; i++)
        for (int j = 0; j < 4; j++)
            variance += l->out[i] * p[i][j] * l->out[j];
    return variance;
}

void es_band_start(es_band *b, double rms, double low_hz, double high_hz, double rate_hz,
                   es_rng rng, const es_gauss *table)
{
    *b = (es_band){.rng = rng};
    if (!(rms > 0.0))
        return;
    design(b->high_pass, low_hz, rate_hz, 1);
    design(b->low_pass, high_hz, rate_hz, 0);
    linear l = linear_of(*b);
    double p[4][4], root[4][4], start[4];
    steady_covariance(&l, p);
    triangle_root(p, root);
    b->gain = rms / sqrt(output_variance(&l, p));
    for (int i = 0; i < 4; i++)
        start[i] = es_gauss_next(table, &b->rng);
    for (int i = 0; i < 4; i++)
        for (int k = 0; k <= i; k++)
            b->state[i] += root[i][k] * start[k];
}

void es_band_fill(es_band *b, const es_gauss *table, double *out, size_t count)
{
    for (size_t i = 0; i < count; i++)
        out[i] = b->gain > 0.0 ? b->gain * band_step(b, es_gauss_next(table, &b->rng)) : 0.0;
}
