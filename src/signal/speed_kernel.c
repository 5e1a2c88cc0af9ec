#include "signal/speed_kernel.h"

#include "evenspool/base/units.h"
#include "signal/fir.h"

#include <math.h>

#define ATTENUATION_DB 90.0
#define STEPS 24 /* of the fraction; cubic between them, which errs by 1e-5 at half the hop rate */

_Static_assert(ES_KERNEL_ROWS == STEPS + 1, "a row for each step, and one at the end");

#define WINDOW_POINTS 2048 /* window and slope are read from a table: linear steps err by 1e-6 */

typedef struct shape {
    double cutoff;                                              /* cycles per hop */
    double half;                                                /* half length [hops] */
    double window[WINDOW_POINTS + 2], slope[WINDOW_POINTS + 2]; /* slope per hop */
} shape;

static void fill_shape(shape *s, double cutoff, double half)
{
    double beta = es_kaiser_beta(ATTENUATION_DB), step = 0.01 / WINDOW_POINTS;
    s->cutoff = cutoff;
    s->half = half;
    for (size_t i = 0; i < WINDOW_POINTS + 2; i++) {
        double x = (double)i / WINDOW_POINTS, inside = fmin(x, 1.0 - step);
        s->window[i] = es_kaiser(x, beta);
        s->slope[i] =
            (es_kaiser(inside + step, beta) - es_kaiser(inside - step, beta)) / (2.0 * step * half);
    }
}

/* Derivative of the low pass at `at` hops from its middle. */
static double slope(const shape *s, double at)
{
    double far = fabs(at), place = far / s->half * WINDOW_POINTS;
    if (place >= WINDOW_POINTS)
        return 0.0;
    size_t i = (size_t)place;
    double part = place - (double)i, w = ES_TWO_PI * s->cutoff, x = w * far;
    double window = s->window[i] + (s->window[i + 1] - s->window[i]) * part;
    double falling = s->slope[i] + (s->slope[i + 1] - s->slope[i]) * part;
    double sinc = x < 1e-4 ? 1.0 - x * x / 6.0 : sin(x) / x;
    double sinc_slope = x < 1e-4 ? -x / 3.0 : (cos(x) - sinc) / x;
    double d = 2.0 * s->cutoff * (sinc * falling + w * sinc_slope * window);
    return at < 0.0 ? -d : d;
}

/* Summation by parts: the step that ends at phasor i weighs the sum of the slopes from i on. */
static void fill_row(const shape *s, double fraction, size_t taps, float *row)
{
    double first = (double)taps / 2.0 + fraction; /* instant, in hops after the first phasor */
    double sum = 0.0, total = 0.0;
    for (size_t i = taps; i-- > 0;) {
        sum += slope(s, first - (double)(i + 1));
        row[i] = (float)sum;
        total += sum;
    }
    for (size_t i = 0; i < taps; i++)
        row[i] = (float)((double)row[i] / total);
}

void es_speed_kernel_fill(es_speed_kernel *k, double hop_hz, double pass_hz, double stop_hz)
{
    size_t taps = es_kaiser_taps(ATTENUATION_DB, (stop_hz - pass_hz) / hop_hz);
    k->taps = taps < ES_KERNEL_TAPS ? taps : ES_KERNEL_TAPS;
    shape s;
    fill_shape(&s, (pass_hz + stop_hz) / 2.0 / hop_hz, (double)k->taps / 2.0);
    for (size_t r = 0; r <= STEPS; r++)
        fill_row(&s, (double)r / STEPS, k->taps, k->weights + r * k->taps);
}

void es_speed_kernel_spot(double fraction, es_speed_spot *spot)
{
    double place = fraction * STEPS;
    size_t row = (size_t)place; /* the second of the four, but at the ends */
    row -= row > 0;
    row = row < STEPS - 3 ? row : STEPS - 3;
    double a = place - (double)row, b = a - 1.0, c = a - 2.0, d = a - 3.0; /* Lagrange's cubic */
    spot->row = row;
    spot->by[0] = (float)(b * c * d * (-1.0 / 6.0));
    spot->by[1] = (float)(a * c * d * 0.5);
    spot->by[2] = (float)(a * b * d * -0.5);
    spot->by[3] = (float)(a * b * c * (1.0 / 6.0));
}

double es_speed_kernel_at(const es_speed_kernel *k, const es_speed_spot *spot, const float *steps)
{
    return (double)es_fir_between(k->weights + spot->row * k->taps, spot->by, steps, k->taps);
}
