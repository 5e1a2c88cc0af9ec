#include "signal/lines_window.h"

#include "evenspool/base/units.h"

#include <math.h>
#include <stdlib.h>

int es_lines_window_init(es_lines_window *w, double rate_hz, double high_hz, size_t most)
{
    *w = (es_lines_window){.rate_hz = rate_hz, .most = most};
    w->bins = (size_t)ceil(high_hz / rate_hz * (double)most) + 2;
    es_status status = es_fourier_real_start(&w->fourier, most);
    w->shape = calloc(most / 2 + 1, sizeof *w->shape);
    w->power = calloc(w->bins, sizeof *w->power);
    return w->shape && w->power && status == ES_OK;
}

void es_lines_window_free(es_lines_window *w)
{
    es_fourier_real_stop(&w->fourier);
    free(w->shape);
    free(w->power);
}

double es_lines_peak_squared(double power, double length)
{
    return power * 6.0 / length; /* Hann: 4 (sum of w^2) / (sum of w)^2 = 6 / length */
}

static void make_shape(es_lines_window *w, size_t length)
{
    if (w->shaped == length)
        return;
    w->shaped = length;
    w->squares = 0.375 * (double)length;
    for (size_t i = 0; i < (length + 1) / 2; i++)
        w->shape[i] = (float)(0.5 - 0.5 * cos(ES_TWO_PI * ((double)i + 0.5) / (double)length));
}

typedef struct straight {
    double level, slope; /* value in the middle, rise per sample */
} straight;

/* Weighted so that whole turns of a line within the window hardly tilt it. */
static straight fit_straight(const es_lines_window *w, const float *x, size_t length)
{
    double weight = 0.0, level = 0.0, lever = 0.0, tilt = 0.0;
    double middle = ((double)length - 1.0) / 2.0;
    for (size_t i = 0; i < length / 2; i++) {
        double h = (double)w->shape[i], at = middle - (double)i;
        double early = (double)x[i], late = (double)x[length - 1 - i];
        weight += 2.0 * h;
        level += h * (early + late);
        lever += 2.0 * h * at * at;
        tilt += h * at * (late - early);
    }
    return (straight){level / weight, tilt / lever};
}

static void load(es_lines_window *w, const float *x, size_t length)
{
    straight line = fit_straight(w, x, length);
    double middle = ((double)length - 1.0) / 2.0;
    for (size_t i = 0; i < length; i++) {
        double h = (double)w->shape[i < length / 2 ? i : length - 1 - i];
        double bent = (double)x[i] - line.level - line.slope * ((double)i - middle);
        w->fourier.samples[i] = (float)(h * bent);
    }
    for (size_t i = length; i < w->most; i++)
        w->fourier.samples[i] = 0.0f;
}

void es_lines_window_take(es_lines_window *w, const float *samples, size_t length)
{
    make_shape(w, length);
    w->length = length;
    load(w, samples, length);
    es_fourier_real_run(&w->fourier);
    float scale = (float)(1.0 / w->squares);
    for (size_t k = 0; k < w->bins; k++) {
        es_fourier_bin x = w->fourier.bin[k];
        w->power[k] = scale * (x.re * x.re + x.im * x.im);
    }
}
