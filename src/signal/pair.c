#include "evenspool/signal/pair.h"

#include "evenspool/base/units.h"
#include "signal/twin.h"

#include <math.h>
#include <stdlib.h>

#define FRAME_S 0.04
#define LOW_HZ 60.0 /* hum, rumble and what heads don't play does not count */
#define HIGH_HZ 18000.0
#define LOBE 2         /* bins to either side of a tone's middle       */
#define TONE_SHARE 0.8 /* of the power within them                     */
#define ENOUGH 0.01    /* of the sound, for a part of it to be asked     */
#define ROUNDS 2       /* of the last refinement                         */
#define LEAST 1e-12    /* power of nothing [FS^2]                      */

struct es_pair {
    es_twin twin;
    double bin_hz;
    size_t from, to; /* bins that count, to excluded */
    double delay_s;  /* of the last reading, or expected */
    int opposed;
};

es_status es_pair_create(double rate_hz, es_pair **out)
{
    *out = NULL;
    if (!(rate_hz >= 8000.0 && rate_hz <= 384000.0))
        return ES_ERR_ARG;
    es_pair *p = calloc(1, sizeof *p);
    if (!p)
        return ES_ERR_NOMEM;
    size_t frame = 256, hop = (size_t)llround(rate_hz / ES_PAIR_HZ);
    while ((double)frame < FRAME_S * rate_hz)
        frame *= 2;
    es_status status = es_twin_start(&p->twin, frame, hop, ES_TWIN_HANN);
    p->bin_hz = rate_hz / (double)frame;
    p->from = (size_t)ceil(LOW_HZ / p->bin_hz);
    p->to = (size_t)floor(fmin(HIGH_HZ, 0.45 * rate_hz) / p->bin_hz) + 1;
    if (status != ES_OK) {
        es_pair_destroy(p);
        return status;
    }
    *out = p;
    return ES_OK;
}

void es_pair_destroy(es_pair *p)
{
    if (!p)
        return;
    es_twin_stop(&p->twin);
    free(p);
}

void es_pair_reset(es_pair *p)
{
    es_twin_reset(&p->twin);
}

void es_pair_expect(es_pair *p, double delay_s, int opposed)
{
    p->delay_s = delay_s;
    p->opposed = opposed;
}

/* --- levels ------------------------------------------------------------------------------ */

static es_twin_bin sum_of(const es_pair *p, size_t from, size_t to)
{
    es_twin_bin sum = {0};
    for (size_t i = from; i < to; i++) {
        es_twin_bin b = es_twin_look(&p->twin, i);
        sum.left += b.left;
        sum.right += b.right;
        sum.cross_re += b.cross_re;
        sum.cross_im += b.cross_im;
    }
    return sum;
}

static size_t strongest(const es_pair *p)
{
    size_t best = p->from;
    double most = 0.0;
    for (size_t i = p->from; i < p->to; i++) {
        es_twin_bin b = es_twin_look(&p->twin, i);
        if (b.left + b.right > most) {
            most = b.left + b.right;
            best = i;
        }
    }
    return best;
}

/* Middle of the lobe's power [Hz]. */
static double middle_of(const es_pair *p, size_t from, size_t to)
{
    double sum = 0.0, powers = 0.0;
    for (size_t i = from; i < to; i++) {
        es_twin_bin b = es_twin_look(&p->twin, i);
        sum += (b.left + b.right) * (double)i * p->bin_hz;
        powers += b.left + b.right;
    }
    return sum / powers;
}

/* The lobe of a tone, or all that counts. */
static es_twin_bin levels(const es_pair *p, es_pair_reading *r)
{
    size_t peak = strongest(p), from = peak > p->from + LOBE ? peak - LOBE : p->from;
    size_t to = peak + LOBE + 1 < p->to ? peak + LOBE + 1 : p->to;
    es_twin_bin all = sum_of(p, p->from, p->to), lobe = sum_of(p, from, to);
    int tone = lobe.left + lobe.right > TONE_SHARE * (all.left + all.right);
    r->tone_hz = tone ? middle_of(p, from, to) : (double)NAN;
    return tone ? lobe : all;
}

/* --- delay ------------------------------------------------------------------------------- */

typedef struct agreement {
    double pull, curve; /* of the phases, towards another delay           */
    double along, whole;
} agreement;

/*
 * How the phases below bin `to` stand to one delay: what agrees with it, and which way they pull.
 * From afar the phases themselves pull (least squares); near by their sines do (most likely in white
 * noise, and a phase that is wrong by half a turn pulls no more than one that is right).
 */
static agreement look_at(const es_pair *p, double delay_s, size_t to, int from_afar)
{
    agreement a = {0};
    double sign = p->opposed ? -1.0 : 1.0;
    double turn = ES_TWO_PI * p->bin_hz * delay_s;
    for (size_t i = p->from; i < to; i++) {
        es_twin_bin b = es_twin_look(&p->twin, i);
        double c = cos(turn * (double)i), s = sin(turn * (double)i), hz = (double)i * p->bin_hz;
        double re = sign * (b.cross_re * c - b.cross_im * s);
        double im = sign * (b.cross_re * s + b.cross_im * c);
        double size = sqrt(b.left * b.right);
        a.pull += hz * (from_afar ? size * atan2(im, re) : im);
        a.curve += hz * hz * (from_afar ? size : re);
        a.along += re;
        a.whole += size;
    }
    return a;
}

static double moved(double delay_s, const agreement *a)
{
    return a->curve > 0.0 ? delay_s - a->pull / (ES_TWO_PI * a->curve) : delay_s;
}

/* From the delay before to the nearest at which the phases agree best: by the low frequencies, which
 * turn least, then by more and more of them. */
static void find_delay(es_pair *p, es_pair_reading *r)
{
    static const double up_to_hz[] = {1000.0, 2500.0, 6000.0, HUGE_VAL};
    double delay_s = p->delay_s, whole = look_at(p, 0.0, p->to, 0).whole;
    for (size_t k = 0; k < sizeof up_to_hz / sizeof *up_to_hz; k++) {
        size_t to = (size_t)fmin(up_to_hz[k] / p->bin_hz, (double)p->to);
        agreement part = look_at(p, delay_s, to, 1);
        if (part.whole > ENOUGH * whole)
            delay_s = moved(delay_s, &part);
    }
    for (int round = 0; round < ROUNDS; round++) {
        agreement all = look_at(p, delay_s, p->to, 0);
        delay_s = moved(delay_s, &all);
    }
    r->agreement = fmax(0.0, look_at(p, delay_s, p->to, 0).along / whole);
    r->delay_s = delay_s;
}

static void read_frame(es_pair *p, es_pair_reading *r)
{
    es_twin_transform(&p->twin);
    es_twin_bin sum = levels(p, r);
    double scale = p->twin.power_scale;
    r->power[0] = sum.left * scale;
    r->power[1] = sum.right * scale;
    double both = sqrt(sum.left) + sqrt(sum.right), half = both * both;
    r->sum_share =
        half > 0.0 ? fmax(0.0, sum.left + sum.right + 2.0 * sum.cross_re) / half : (double)NAN;
    r->delay_s = (double)NAN;
    r->agreement = 0.0;
    if (r->power[0] > LEAST && r->power[1] > LEAST)
        find_delay(p, r);
    if (!isnan(r->delay_s) && r->agreement > ES_PAIR_AGREES)
        p->delay_s = r->delay_s;
}

size_t es_pair_push(es_pair *p, const float *left, const float *right, size_t stride, size_t frames,
                    es_pair_reading *out, int *ready)
{
    size_t used = es_twin_push(&p->twin, left, right, stride, frames);
    *ready = es_twin_is_full(&p->twin);
    if (*ready)
        read_frame(p, out);
    return used;
}
