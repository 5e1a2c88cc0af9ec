#include "signal/quasi_468.h"

#include "evenspool/base/units.h"
#include "evenspool/signal/noise.h"
#include "signal/fir.h"

#include <math.h>
#include <string.h>

#define GRID 512 /* steps from 0 to half the rate */
#define HALF (ES_QUASI_468_TAPS / 2 - 1)
#define TOP_HZ 20000.0
#define TOP_SHARE 0.46

/* Poles of the closed form of the weighting [Hz]: roots of its denominator in j f. */
static const double real_poles[2] = {9975.06312393, 4122.70206613};
static const struct {
    double re, im;
} pairs[2] = {{2983.15993789, 9940.84264571}, {3758.52916301, 5790.04233661}};

/* Rise and fall of both stages [s]. */
static const double rise_s[2] = {1.44e-3, 137e-3}, fall_s[2] = {281e-3, 207e-3};

static double response(const es_biquad *s, double turn)
{
    double re = s->b0 + s->b1 * cos(turn) + s->b2 * cos(2.0 * turn);
    double im = s->b1 * sin(turn) + s->b2 * sin(2.0 * turn);
    double den_re = 1.0 + s->a1 * cos(turn) + s->a2 * cos(2.0 * turn);
    double den_im = s->a1 * sin(turn) + s->a2 * sin(2.0 * turn);
    return hypot(re, im) / hypot(den_re, den_im);
}

static void place_poles(es_quasi_468 *m, double rate_hz)
{
    double step = ES_TWO_PI / rate_hz;
    double a = exp(-real_poles[0] * step), b = exp(-real_poles[1] * step);
    m->pole[0] = (es_biquad){.b0 = 1.0, .b1 = -1.0, .a1 = -a - b, .a2 = a * b};
    for (int i = 0; i < 2; i++) {
        double radius = exp(-pairs[i].re * step);
        m->pole[i + 1] = (es_biquad){
            .b0 = 1.0, .a1 = -2.0 * radius * cos(pairs[i].im * step), .a2 = radius * radius};
    }
}

/* What the poles lack at a frequency, as an amplitude. */
static double lacking(const es_quasi_468 *m, double hz, double rate_hz)
{
    double turn = ES_TWO_PI * hz / rate_hz, have = 1.0;
    for (int i = 0; i < 3; i++)
        have *= response(&m->pole[i], turn);
    return es_amplitude(es_weight_468_db(hz)) / have;
}

/* Linear phase, by frequency sampling under a Kaiser window; beyond the top it stays level. */
static void fit_taps(es_quasi_468 *m, double rate_hz)
{
    double tap[HALF + 1] = {0};
    double top = fmin(TOP_HZ, TOP_SHARE * rate_hz);
    for (int k = 0; k <= GRID; k++) {
        double hz = fmin(fmax(k * 0.5 * rate_hz / GRID, 1.0), top);
        double gain = lacking(m, hz, rate_hz) / GRID * (k == 0 || k == GRID ? 0.5 : 1.0);
        for (int n = 0; n <= HALF; n++)
            tap[n] += gain * cos(ES_PI * k * n / GRID);
    }
    for (int n = 0; n <= HALF; n++) {
        double t = tap[n] * es_kaiser((double)n / (HALF + 1), 5.0);
        m->tap[HALF - n] = m->tap[HALF + n] = (float)t;
    }
}

static double share(double time_s, double rate_hz)
{
    return 1.0 - exp(-1.0 / (time_s * rate_hz));
}

static double rectify(es_quasi_468 *m, double weighted)
{
    double in = fabs(weighted);
    for (int i = 0; i < 2; i++) {
        m->needle[i] += (in > m->needle[i] ? m->rise[i] : m->fall[i]) * (in - m->needle[i]);
        in = m->needle[i];
    }
    return in;
}

/* Reading of a steady sine of peak 1, found by listening to one: 1 kHz, until the needle rests. */
static double steady_reading(es_quasi_468 *m, double rate_hz)
{
    double most = 0.0;
    long total = (long)(8.0 * rate_hz), from = (long)(7.5 * rate_hz);
    for (long i = 0; i < total; i++) {
        double turns = 1000.0 * (double)i / rate_hz;
        double shown = rectify(m, sin(ES_TWO_PI * (turns - floor(turns))));
        if (i >= from)
            most = fmax(most, shown);
    }
    return most;
}

void es_quasi_468_start(es_quasi_468 *m, double rate_hz)
{
    memset(m, 0, sizeof *m);
    place_poles(m, rate_hz);
    fit_taps(m, rate_hz);
    for (int i = 0; i < 2; i++) {
        m->rise[i] = share(rise_s[i], rate_hz);
        m->fall[i] = share(fall_s[i], rate_hz);
    }
    m->gain = 1.0 / steady_reading(m, rate_hz);
    es_quasi_468_reset(m);
}

void es_quasi_468_reset(es_quasi_468 *m)
{
    es_biquads_reset(m->pole, 3);
    memset(m->past, 0, sizeof m->past);
    m->needle[0] = m->needle[1] = 0.0;
}

void es_quasi_468_weigh(es_quasi_468 *m, const float *in, size_t stride, size_t count, double *out)
{
    float *now = m->past + ES_QUASI_468_TAPS - 1;
    for (size_t i = 0; i < count; i++) {
        float x = in[i * stride];
        now[i] = (float)es_biquads_step(m->pole, 3, isfinite(x) ? (double)x : 0.0);
    }
    for (size_t i = 0; i < count; i++)
        out[i] = (double)es_fir_dot(m->tap, m->past + i, ES_QUASI_468_TAPS);
    memmove(m->past, m->past + count, (ES_QUASI_468_TAPS - 1) * sizeof *m->past);
}

void es_quasi_468_read(es_quasi_468 *m, const float *in, size_t stride, size_t count, double *out)
{
    es_quasi_468_weigh(m, in, stride, count, out);
    for (size_t i = 0; i < count; i++)
        out[i] = m->gain * rectify(m, out[i]);
}
