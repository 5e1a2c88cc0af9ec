#include "evenspool/signal/baseband.h"

#include "evenspool/base/units.h"
#include "signal/fir.h"
#include "signal/wide.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ATTENUATION_DB 84.0
#define CHUNK 2048       /* input frames worked on at a time: stays in the first cache */
#define TAPS_MOST 1024   /* of either filter                                          */
#define HOPS_AT_ONCE 64  /* of the second filter                                      */
#define MIXER_STEPS 4096 /* the mixing frequency is a multiple of first-stage rate / this */
#define FLUTTER_HZ 230.0 /* room beside the carrier for flutter to 200 Hz and its skirts */

typedef struct stage {
    size_t factor; /* decimation               */
    size_t taps;   /* multiple of ES_FIR_LANES */
} stage;

struct es_baseband {
    double rate_hz;
    es_baseband_plan plan; /* hop_frames 0: never tuned */
    stage first, second;
    uint32_t mixer_step;

    float *first_cos, *first_sin; /* band pass, TAPS_MOST each                */
    float *second_taps;           /* low pass, TAPS_MOST                      */
    float *turn_cos, *turn_sin;   /* MIXER_STEPS: rotation of the first stage */

    /* state cleared by reset */
    float *frames;                  /* TAPS_MOST + CHUNK, oldest first */
    size_t frame_count, frame_next; /* held; index where the next output begins */
    float *mid_re, *mid_im;         /* first-stage outputs, TAPS_MOST + CHUNK */
    size_t mid_count, mid_next;
    uint32_t mixer_at;
};

/* --- plan --------------------------------------------------------------------- */

typedef struct wish {
    double pass_hz, stop_hz, hop_min_hz;
} wish;

/* How wide the pass band may be: nothing else may reach it, neither the second harmonic (near
 * +centre) nor the image of the tone (at -2 centre, folded at the sample rate). */
static wish wished_band(double rate_hz, double centre_hz, double reach)
{
    wish w;
    double image_hz = rate_hz - (2.0 + reach) * centre_hz;
    w.stop_hz = fmin(0.8 * centre_hz, image_hz);
    w.pass_hz = fmin(reach * centre_hz + FLUTTER_HZ, 0.65 * w.stop_hz);
    w.hop_min_hz = fmax(2.5 * w.pass_hz, 1600.0);
    return w;
}

static size_t first_taps(double rate_hz, const wish *w, size_t factor)
{
    double transition = rate_hz / (double)factor - 2.0 * w->pass_hz;
    return factor == 1 ? ES_FIR_LANES : es_kaiser_taps(ATTENUATION_DB, transition / rate_hz);
}

static double second_stop_hz(const wish *w, double hop_hz)
{
    return fmin(w->stop_hz, hop_hz - w->pass_hz);
}

static size_t second_taps(double mid_hz, const wish *w, double hop_hz)
{
    return es_kaiser_taps(ATTENUATION_DB, (second_stop_hz(w, hop_hz) - w->pass_hz) / mid_hz);
}

/* What a hop costs beside its filter (its phase, its share of the kernel), in multiplications. */
#define HOP_COST 400.0

/* The cheapest pair of stages, in multiplications per input frame. */
static void choose_stages(double rate_hz, const wish *w, stage *first, stage *second)
{
    double best = HUGE_VAL;
    size_t most = (size_t)fmax(1.0, floor(rate_hz / w->hop_min_hz));
    *first = *second = (stage){1, ES_FIR_LANES};
    for (size_t total = most; total > most / 2; total--)
        for (size_t factor = 1; factor <= total; factor++) {
            if (total % factor)
                continue;
            size_t n1 = first_taps(rate_hz, w, factor);
            size_t n2 = second_taps(rate_hz / (double)factor, w, rate_hz / (double)total);
            double cost = 2.0 * ((double)n1 + 8.0) / (double)factor +
                          (2.0 * (double)n2 + HOP_COST) / (double)total;
            if (n1 <= TAPS_MOST && n2 <= TAPS_MOST && cost < best) {
                best = cost;
                *first = (stage){factor, n1};
                *second = (stage){total / factor, n2};
            }
        }
}

/* --- filters ------------------------------------------------------------------- */

static void fill_first(es_baseband *b)
{
    double taps[TAPS_MOST];
    size_t n = b->first.taps;
    if (b->first.factor == 1) { /* nothing to decimate: one tap, in the middle as far as can be */
        memset(taps, 0, n * sizeof *taps);
        taps[n / 2] = 1.0;
    } else {
        double edge_hz = b->rate_hz / (double)b->first.factor / 2.0;
        es_fir_lowpass(taps, n, edge_hz / b->rate_hz, ATTENUATION_DB);
    }
    for (size_t i = 0; i < n; i++) {
        double angle = ES_TWO_PI * b->plan.centre_hz / b->rate_hz * (double)i;
        b->first_cos[i] = (float)(taps[i] * cos(angle));
        b->first_sin[i] = (float)(-taps[i] * sin(angle));
    }
}

static void fill_second(es_baseband *b, const wish *w)
{
    double taps[TAPS_MOST];
    double mid_hz = b->rate_hz / (double)b->first.factor;
    double stop_hz = second_stop_hz(w, b->plan.hop_hz);
    es_fir_lowpass(taps, b->second.taps, (w->pass_hz + stop_hz) / 2.0 / mid_hz, ATTENUATION_DB);
    for (size_t i = 0; i < b->second.taps; i++)
        b->second_taps[i] = (float)taps[i];
}

static void fill_mixer(es_baseband *b, double centre_hz)
{
    double mid_hz = b->rate_hz / (double)b->first.factor;
    double steps = floor(centre_hz / mid_hz * MIXER_STEPS + 0.5);
    b->plan.centre_hz = steps * mid_hz / MIXER_STEPS;
    b->mixer_step = (uint32_t)((uint64_t)steps % MIXER_STEPS);
    for (size_t i = 0; i < MIXER_STEPS; i++) {
        double angle = ES_TWO_PI * (double)i / MIXER_STEPS;
        b->turn_cos[i] = (float)cos(angle);
        b->turn_sin[i] = (float)sin(angle);
    }
}

/* Centre of gravity of a symmetric filter; the one-tap stand-in has its tap at n / 2. */
static double first_centre(const stage *s)
{
    return s->factor == 1 ? (double)(s->taps / 2) : ((double)s->taps - 1.0) / 2.0;
}

es_status es_baseband_tune(es_baseband *b, double centre_hz, double reach)
{
    if (!(centre_hz >= 300.0 && centre_hz <= 0.4 * b->rate_hz && reach >= 0.0 && reach <= 0.3))
        return ES_ERR_ARG;
    wish w = wished_band(b->rate_hz, centre_hz, reach);
    choose_stages(b->rate_hz, &w, &b->first, &b->second);
    fill_mixer(b, centre_hz);
    b->plan.pass_hz = w.pass_hz;
    b->plan.hop_frames = b->first.factor * b->second.factor;
    b->plan.hop_hz = b->rate_hz / (double)b->plan.hop_frames;
    b->plan.delay_frames =
        first_centre(&b->first) + ((double)b->second.taps - 1.0) / 2.0 * (double)b->first.factor;
    fill_first(b);
    fill_second(b, &w);
    es_baseband_reset(b);
    return ES_OK;
}

/* --- life ---------------------------------------------------------------------- */

es_status es_baseband_create(double rate_hz, es_baseband **out)
{
    *out = NULL;
    if (!(rate_hz >= 8000.0 && rate_hz <= 384000.0))
        return ES_ERR_ARG;
    es_baseband *b = calloc(1, sizeof *b);
    size_t floats = 3 * TAPS_MOST + 2 * MIXER_STEPS + 3 * (TAPS_MOST + CHUNK);
    float *at = b ? calloc(floats, sizeof *at) : NULL;
    if (!at) {
        free(b);
        return ES_ERR_NOMEM;
    }
    b->rate_hz = rate_hz;
    b->first_cos = at;
    b->first_sin = b->first_cos + TAPS_MOST;
    b->second_taps = b->first_sin + TAPS_MOST;
    b->turn_cos = b->second_taps + TAPS_MOST;
    b->turn_sin = b->turn_cos + MIXER_STEPS;
    b->frames = b->turn_sin + MIXER_STEPS;
    b->mid_re = b->frames + TAPS_MOST + CHUNK;
    b->mid_im = b->mid_re + TAPS_MOST + CHUNK;
    *out = b;
    return ES_OK;
}

void es_baseband_destroy(es_baseband *b)
{
    if (!b)
        return;
    free(b->first_cos); /* one block holds them all */
    free(b);
}

void es_baseband_reset(es_baseband *b)
{
    b->frame_count = b->frame_next = 0;
    b->mid_count = b->mid_next = 0;
    b->mixer_at = 0;
}

void es_baseband_skip(es_baseband *b, uint64_t frames)
{
    uint64_t turns = frames / b->first.factor;
    b->mixer_at = (uint32_t)(turns % MIXER_STEPS * b->mixer_step % MIXER_STEPS);
}

es_baseband_plan es_baseband_plan_of(const es_baseband *b)
{
    return b->plan;
}

/* --- signal -------------------------------------------------------------------- */

/* Drops what no later output needs. */
static void shift(float *at, size_t *count, size_t *next)
{
    memmove(at, at + *next, (*count - *next) * sizeof *at);
    *count -= *next;
    *next = 0;
}

/* Outputs of a filter whose next one begins at `next`. */
static size_t outputs_of(const stage *s, size_t count, size_t next)
{
    return next + s->taps <= count ? (count - next - s->taps) / s->factor + 1 : 0;
}

/* Turns first-stage outputs back by the mixing frequency's phase. */
static void turn_back(es_baseband *b, float *re, float *im, size_t count)
{
    uint32_t at = b->mixer_at;
    for (size_t i = 0; i < count; i++) {
        float c = b->turn_cos[at], s = b->turn_sin[at], x = re[i], y = im[i];
        re[i] = x * c + y * s;
        im[i] = y * c - x * s;
        at = (at + b->mixer_step) % MIXER_STEPS;
    }
    b->mixer_at = at;
}

static void run_first(es_baseband *b)
{
    size_t made = outputs_of(&b->first, b->frame_count, b->frame_next);
    float *re = b->mid_re + b->mid_count, *im = b->mid_im + b->mid_count;
    es_fir_split(b->frames + b->frame_next, b->first.factor, made, b->first_cos, b->first_sin,
                 b->first.taps, re, im);
    turn_back(b, re, im, made);
    b->mid_count += made;
    b->frame_next += made * b->first.factor;
    assert(b->frame_next <= b->frame_count); /* a filter is longer than the factor it serves */
    shift(b->frames, &b->frame_count, &b->frame_next);
}

static size_t run_second(es_baseband *b, es_phasor *out)
{
    float re[HOPS_AT_ONCE], im[HOPS_AT_ONCE];
    size_t made = 0, part;
    while ((part = outputs_of(&b->second, b->mid_count, b->mid_next)) > 0) {
        part = part < HOPS_AT_ONCE ? part : HOPS_AT_ONCE;
        es_fir_both(b->mid_re + b->mid_next, b->mid_im + b->mid_next, b->second.factor, part,
                    b->second_taps, b->second.taps, re, im);
        for (size_t i = 0; i < part; i++)
            out[made++] = (es_phasor){re[i], im[i]};
        b->mid_next += part * b->second.factor;
    }
    size_t next = b->mid_next < b->mid_count ? b->mid_next : b->mid_count;
    size_t left = b->mid_count - next;
    memmove(b->mid_re, b->mid_re + next, left * sizeof *b->mid_re);
    memmove(b->mid_im, b->mid_im + next, left * sizeof *b->mid_im);
    b->mid_count = left;
    b->mid_next -= next;
    return made;
}

size_t es_baseband_yield(const es_baseband *b, size_t frames)
{
    return b->plan.hop_frames ? frames / b->plan.hop_frames + 2 : 0;
}

/* One channel out of interleaved frames; the usual strides by name, since they are much faster. */
WIDE static void copy_channel(float *to, const float *in, size_t stride, size_t count)
{
    if (stride == 1)
        memcpy(to, in, count * sizeof *to);
    else if (stride == 2)
        for (size_t i = 0; i < count; i++)
            to[i] = in[2 * i];
    else
        for (size_t i = 0; i < count; i++)
            to[i] = in[i * stride];
}

es_status es_baseband_process(es_baseband *b, const float *in, size_t stride, size_t frames,
                              es_phasor *out, size_t room, size_t *count)
{
    *count = 0;
    if (!b->plan.hop_frames)
        return ES_ERR_ARG;
    if (room < es_baseband_yield(b, frames))
        return ES_ERR_SPACE;
    while (frames > 0) {
        size_t take = frames < CHUNK ? frames : CHUNK;
        copy_channel(b->frames + b->frame_count, in, stride, take);
        b->frame_count += take;
        in += take * stride;
        frames -= take;
        run_first(b);
        *count += run_second(b, out + *count);
    }
    return ES_OK;
}
