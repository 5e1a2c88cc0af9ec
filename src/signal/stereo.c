#include "evenspool/signal/stereo.h"

#include "evenspool/base/units.h"

#include <math.h>

#define DEAD_RATIO 0.01 /* -40 dB: that channel carries leakage, not the tone */
#define COHERENCE_LEAST 0.5
#define COUNT_LEAST 200

void es_stereo_push(es_stereo *s, const es_phasor *left, const es_phasor *right, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        double lr = (double)left[i].re, li = (double)left[i].im;
        double rr = (double)right[i].re, ri = (double)right[i].im;
        s->cross_re += rr * lr + ri * li;
        s->cross_im += ri * lr - rr * li;
        s->left_power += lr * lr + li * li;
        s->right_power += rr * rr + ri * ri;
    }
    s->count += count;
}

es_stereo_figures es_stereo_figures_of(const es_stereo *s, double tone_hz)
{
    double none = (double)NAN;
    es_stereo_figures f = {0, none, none, 0, none};
    double ratio = sqrt(s->right_power / s->left_power);
    double common =
        (s->cross_re * s->cross_re + s->cross_im * s->cross_im) / (s->left_power * s->right_power);
    if (s->count < COUNT_LEAST || !(ratio > DEAD_RATIO && ratio < 1.0 / DEAD_RATIO) ||
        !(common > COHERENCE_LEAST))
        return f;
    f.known = 1;
    f.level_ratio = ratio;
    f.phase_rad = atan2(s->cross_im, s->cross_re);
    f.opposed = fabs(f.phase_rad) > ES_PI / 2.0;
    double rest = f.opposed ? f.phase_rad - copysign(ES_PI, f.phase_rad) : f.phase_rad;
    f.delay_s = -rest / (ES_TWO_PI * tone_hz);
    return f;
}
