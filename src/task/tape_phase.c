#include "task/tape_phase.h"

#include "evenspool/signal/stereo.h"

#include <math.h>
#include <stdlib.h>

#define REACH 0.02 /* speed is known better; wow and flutter pass */
#define LOOK_S 0.25
#define SKIP_S 0.05 /* filters fill */
#define LOOKS_MOST 128
#define LOOKS_LEAST 4
#define U_MOST_RAD 0.5 /* more is no common tone                       */
#define U_LEAST_RAD 1e-5

struct es_tape_phase {
    double rate_hz;
    es_baseband *channel[2];
    es_phasor *room[2];
    int tuned;
    size_t look, filled, skip; /* phasors */
    es_stereo open, looks[LOOKS_MOST];
    size_t count;
};

es_status es_tape_phase_create(double rate_hz, es_tape_phase **out)
{
    *out = NULL;
    es_tape_phase *p = calloc(1, sizeof *p);
    if (!p)
        return ES_ERR_NOMEM;
    p->rate_hz = rate_hz;
    es_status status = ES_OK;
    for (int c = 0; c < 2 && status == ES_OK; c++) {
        status = es_baseband_create(rate_hz, &p->channel[c]);
        p->room[c] = calloc(ES_TAPE_PHASE_BLOCK + 2, sizeof *p->room[c]);
        if (!p->room[c])
            status = ES_ERR_NOMEM;
    }
    if (status != ES_OK) {
        es_tape_phase_destroy(p);
        return status;
    }
    *out = p;
    return ES_OK;
}

void es_tape_phase_destroy(es_tape_phase *p)
{
    if (!p)
        return;
    for (int c = 0; c < 2; c++) {
        es_baseband_destroy(p->channel[c]);
        free(p->room[c]);
    }
    free(p);
}

es_status es_tape_phase_tune(es_tape_phase *p, double tone_hz)
{
    es_status status = es_baseband_tune(p->channel[0], tone_hz, REACH);
    if (status == ES_OK)
        status = es_baseband_tune(p->channel[1], tone_hz, REACH);
    p->tuned = status == ES_OK;
    p->count = p->filled = 0;
    p->open = (es_stereo){0};
    if (p->tuned) {
        double hop_hz = es_baseband_plan_of(p->channel[0]).hop_hz;
        p->look = (size_t)fmax(1.0, LOOK_S * hop_hz);
        p->skip = (size_t)(SKIP_S * hop_hz);
    }
    return status;
}

static void close_look(es_tape_phase *p)
{
    if (p->count < LOOKS_MOST)
        p->looks[p->count++] = p->open;
    p->open = (es_stereo){0};
    p->filled = 0;
}

static void take(es_tape_phase *p, const es_phasor *left, const es_phasor *right, size_t count)
{
    size_t at = p->skip < count ? p->skip : count;
    p->skip -= at;
    while (at < count) {
        size_t room = p->look - p->filled, part = count - at < room ? count - at : room;
        es_stereo_push(&p->open, left + at, right + at, part);
        p->filled += part;
        at += part;
        if (p->filled == p->look)
            close_look(p);
    }
}

void es_tape_phase_push(es_tape_phase *p, const float *left, const float *right, size_t stride,
                        size_t frames)
{
    size_t made[2] = {0, 0};
    const float *in[2] = {left, right};
    for (int c = 0; c < 2 && p->tuned; c++)
        if (es_baseband_process(p->channel[c], in[c], stride, frames, p->room[c],
                                ES_TAPE_PHASE_BLOCK + 2, &made[c]) != ES_OK)
            return;
    take(p, p->room[0], p->room[1], made[0] < made[1] ? made[0] : made[1]);
}

/* Standard uncertainty of the whole's phase from the scatter of means of `size` looks. */
static double scatter_u(const es_tape_phase *p, double re, double im, size_t size)
{
    size_t count = p->count / size;
    double square = 0.0;
    for (size_t i = 0; i < count; i++) {
        double a = 0.0, b = 0.0;
        for (size_t k = i * size; k < (i + 1) * size; k++) {
            a += p->looks[k].cross_re;
            b += p->looks[k].cross_im;
        }
        double off = atan2(b * re - a * im, a * re + b * im);
        square += off * off;
    }
    return count >= LOOKS_LEAST ? sqrt(square / (double)((count - 1) * count)) : 0.0;
}

static es_stereo sum_of(const es_tape_phase *p)
{
    es_stereo sum = {0};
    for (size_t i = 0; i < p->count; i++) {
        sum.cross_re += p->looks[i].cross_re;
        sum.cross_im += p->looks[i].cross_im;
        sum.left_power += p->looks[i].left_power;
        sum.right_power += p->looks[i].right_power;
        sum.count += p->looks[i].count;
    }
    return sum;
}

es_tape_phase_figures es_tape_phase_of(const es_tape_phase *p)
{
    es_tape_phase_figures f = {0, (double)NAN, (double)NAN};
    es_stereo sum = sum_of(p);
    if (p->count < LOOKS_LEAST || !es_stereo_figures_of(&sum, 1.0).known)
        return f;
    double u = fmax(scatter_u(p, sum.cross_re, sum.cross_im, 1),
                    scatter_u(p, sum.cross_re, sum.cross_im, 4));
    if (!(u < U_MOST_RAD))
        return f;
    return (es_tape_phase_figures){1, atan2(sum.cross_im, sum.cross_re), fmax(u, U_LEAST_RAD)};
}
