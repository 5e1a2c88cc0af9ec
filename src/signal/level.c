#include "evenspool/signal/level.h"

#include "signal/twin.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LOW_HZ 90.0         /* below it the long frame, to part the tone from hum */
#define KEPT 512            /* frames remembered; then neighbours are joined      */
#define LOBE_BINS 4.0       /* to either side: all but 1e-5 of its power   */
#define FLUTTER_SHARE 0.012 /* and what flutter adds: its depth ...               */
#define FAST_SHARE 0.02     /* ... and its rate, up to                            */
#define FAST_HZ 80.0
#define PEAK_SHARE 0.015 /* the tone stands within this of where it was said to be    */
#define STANDS_OUT 0.02  /* of the peak: belongs to the tone                          */
#define DROPOUT 0.8      /* power against the median: 1 dB under it            */
#define SHARE_LEAST 0.5  /* of the frames that must not be dropouts             */
#define EVIDENCE 4.0     /* standard deviations over the noise                  */
#define LOPSIDED 2.0     /* power: one side of the tone holds something else     */
#define LEAKAGE 1e-12    /* power: what arithmetic leaks from the other channel  */
#define HARMONICS (ES_LEVEL_HARMONICS + 1) /* index 0 stays empty */
#define OVERLAP_GAIN 0.947 /* independent looks per half-overlapping Hann frame, Welch 1967 */

typedef struct frame_powers {
    double tone[HARMONICS];                    /* power in each lobe                    */
    double below[HARMONICS], above[HARMONICS]; /* what as many bins beside it hold; HUGE_VAL:
                                                  there are none                        */
    double moment;                             /* of the power in the tone's lobe [W Hz] */
} frame_powers;

typedef struct memory {
    frame_powers kept[KEPT];
    double sorted[KEPT];
} memory;

struct es_level {
    double rate_hz, tone_hz;
    es_twin twins[2], *twin; /* short and long; the tuned one, NULL before */
    double bin_hz;
    memory channels[2];
    size_t count;       /* of kept                          */
    size_t joined, due; /* frames that make one kept, and of these so far */
    frame_powers open[2];
};

es_status es_level_create(double rate_hz, es_level **out)
{
    *out = NULL;
    if (!(rate_hz >= 8000.0 && rate_hz <= 384000.0))
        return ES_ERR_ARG;
    es_level *l = calloc(1, sizeof *l);
    if (!l)
        return ES_ERR_NOMEM;
    l->rate_hz = rate_hz;
    size_t frame = 256;
    while ((double)frame < ES_LEVEL_FRAME_S * rate_hz)
        frame *= 2;
    if (es_twin_start(&l->twins[0], frame, frame / 2, ES_TWIN_HANN) != ES_OK ||
        es_twin_start(&l->twins[1], 2 * frame, frame, ES_TWIN_HANN) != ES_OK) {
        es_level_destroy(l);
        return ES_ERR_NOMEM;
    }
    *out = l;
    return ES_OK;
}

void es_level_destroy(es_level *l)
{
    if (!l)
        return;
    es_twin_stop(&l->twins[0]);
    es_twin_stop(&l->twins[1]);
    free(l);
}

es_status es_level_tune(es_level *l, double tone_hz)
{
    if (!(tone_hz >= 20.0 && tone_hz <= 0.46 * l->rate_hz))
        return ES_ERR_ARG;
    l->tone_hz = tone_hz;
    l->twin = &l->twins[tone_hz < LOW_HZ];
    l->bin_hz = l->rate_hz / (double)l->twin->frame;
    es_twin_reset(l->twin);
    l->count = l->due = 0;
    l->joined = 1;
    memset(l->open, 0, sizeof l->open);
    return ES_OK;
}

/* --- one frame ----------------------------------------------------------------------------- */

typedef struct span {
    size_t from, to; /* bins, to included */
} span;

static double power_at(const es_level *l, int channel, size_t bin)
{
    es_twin_bin b = es_twin_look(l->twin, bin);
    return l->twin->power_scale * (channel ? b.right : b.left);
}

static double power_in(const es_level *l, int channel, span s)
{
    double sum = 0.0;
    for (size_t i = s.from; i <= s.to; i++)
        sum += power_at(l, channel, i);
    return sum;
}

static double half_width(const es_level *l, double hz)
{
    return LOBE_BINS + (FLUTTER_SHARE * hz + fmin(FAST_SHARE * hz, FAST_HZ)) / l->bin_hz;
}

/* Bins from so many half widths below hz to so many above; at least from bin 1 to the last but one. */
static span bins_round(const es_level *l, double hz, double below, double above)
{
    double middle = hz / l->bin_hz, half = half_width(l, hz), last = (double)l->twin->bins - 2.0;
    double from = fmin(fmax(ceil(middle - below * half), 1.0), last);
    double to = fmin(fmax(floor(middle + above * half), from), last);
    return (span){(size_t)from, (size_t)to};
}

static void measure_lobe(const es_level *l, int channel, int k, double hz, frame_powers *p)
{
    span own = bins_round(l, hz, 1.0, 1.0);
    span below = bins_round(l, hz, 2.0, -1.0), above = bins_round(l, hz, -1.0, 2.0);
    double width = (double)(own.to - own.from + 1);
    p->tone[k] = power_in(l, channel, own);
    p->below[k] = p->above[k] = HUGE_VAL;
    if (below.from > 1) /* not cut off at 0 Hz */
        p->below[k] = power_in(l, channel, below) * width / (double)(below.to - below.from + 1);
    if (above.to < l->twin->bins - 2)
        p->above[k] = power_in(l, channel, above) * width / (double)(above.to - above.from + 1);
}

/* The noise in a lobe: the mean of both sides, or the quieter one. */
static double noise_of(const frame_powers *p, int k)
{
    double least = fmin(p->below[k], p->above[k]), most = fmax(p->below[k], p->above[k]);
    if (least == HUGE_VAL)
        return 0.0;
    return most < LOPSIDED * least ? 0.5 * (least + most) : least;
}

static double both_powers(const es_level *l, size_t bin)
{
    return power_at(l, 0, bin) + power_at(l, 1, bin);
}

/* Where the tone stands in this frame: the middle of what flutter makes of it, of both channels, so that
 * the louder one leads. */
static double tone_in_frame(const es_level *l)
{
    double reach = PEAK_SHARE * l->tone_hz / l->bin_hz + 1.5, middle = l->tone_hz / l->bin_hz;
    size_t from = (size_t)fmax(1.0, ceil(middle - reach)), to = (size_t)floor(middle + reach);
    double most = 0.0, sum = 0.0, moment = 0.0;
    for (size_t i = from; i <= to; i++)
        most = fmax(most, both_powers(l, i));
    for (size_t i = from; i <= to; i++)
        if (both_powers(l, i) > STANDS_OUT * most) {
            sum += both_powers(l, i);
            moment += both_powers(l, i) * (double)i;
        }
    return sum > 0.0 ? moment / sum * l->bin_hz : l->tone_hz;
}

/* About the middle of the lobe, so that even noise pulls nowhere. */
static double moment_of(const es_level *l, int channel, double hz)
{
    span s = bins_round(l, hz, 1.0, 1.0);
    double sum = 0.0;
    for (size_t i = s.from; i <= s.to; i++)
        sum += power_at(l, channel, i) * ((double)i * l->bin_hz - l->tone_hz);
    return sum;
}

static frame_powers measure_frame(const es_level *l, int channel, double hz)
{
    frame_powers p = {0};
    for (int k = 1; k <= ES_LEVEL_HARMONICS; k++) {
        if (k * hz + half_width(l, k * hz) * l->bin_hz > 0.49 * l->rate_hz && k > 1)
            break;
        measure_lobe(l, channel, k, k * hz, &p);
    }
    p.moment = moment_of(l, channel, hz);
    return p;
}

/* --- frames together ---------------------------------------------------------------------------- */

static void add_powers(frame_powers *to, const frame_powers *from)
{
    for (int k = 1; k <= ES_LEVEL_HARMONICS; k++) {
        to->tone[k] += from->tone[k];
        to->below[k] += from->below[k];
        to->above[k] += from->above[k];
    }
    to->moment += from->moment;
}

static void join_neighbours(es_level *l)
{
    for (int c = 0; c < 2; c++)
        for (size_t i = 0; i < KEPT / 2; i++) {
            frame_powers both = l->channels[c].kept[2 * i];
            add_powers(&both, &l->channels[c].kept[2 * i + 1]);
            l->channels[c].kept[i] = both;
        }
    l->count = KEPT / 2;
    l->joined *= 2;
}

static void take_frame(es_level *l)
{
    es_twin_transform(l->twin);
    double hz = tone_in_frame(l);
    l->due++;
    for (int c = 0; c < 2; c++) {
        frame_powers p = measure_frame(l, c, hz);
        add_powers(&l->open[c], &p);
        if (l->due == l->joined)
            l->channels[c].kept[l->count] = l->open[c];
    }
    if (l->due < l->joined)
        return;
    memset(l->open, 0, sizeof l->open);
    l->due = 0;
    if (++l->count == KEPT)
        join_neighbours(l);
}

void es_level_push(es_level *l, const float *left, const float *right, size_t stride, size_t frames)
{
    while (l->twin && frames > 0) {
        size_t used = es_twin_push(l->twin, left, right, stride, frames);
        if (es_twin_is_full(l->twin))
            take_frame(l);
        left += used * stride;
        if (right)
            right += used * stride;
        frames -= used;
    }
}

/* --- figures -------------------------------------------------------------------------------------- */

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Power below which a frame is a dropout. */
static double dropout_limit(memory *c, size_t count)
{
    for (size_t i = 0; i < count; i++)
        c->sorted[i] = c->kept[i].tone[1];
    qsort(c->sorted, count, sizeof *c->sorted, by_size);
    return DROPOUT * c->sorted[count / 2];
}

typedef struct sums {
    frame_powers all;
    double squares; /* of the lobes' powers */
    size_t used;
} sums;

static sums add_up(memory *c, size_t count)
{
    sums s = {0};
    double limit = dropout_limit(c, count);
    for (size_t i = 0; i < count; i++) {
        const frame_powers *p = &c->kept[i];
        if (p->tone[1] < limit)
            continue;
        add_powers(&s.all, p);
        s.squares += p->tone[1] * p->tone[1];
        s.used++;
    }
    return s;
}

/* Independent looks of frames that overlap by half. */
static double looks_of(const es_level *l, size_t used)
{
    return fmax(1.0, OVERLAP_GAIN * (double)(used * l->joined));
}

/* Standard deviation of the power that noise alone would put into harmonic k's lobe, over all frames. */
static double chance_power(const es_level *l, const sums *s, int k)
{
    double bins = 2.0 * half_width(l, k * l->tone_hz) + 1.0;
    return noise_of(&s->all, k) * sqrt(2.0 / (bins * 0.5 * looks_of(l, s->used)));
}

static void fill_harmonics(const es_level *l, const sums *s, double tone, es_level_figures *f)
{
    f->harmonic[1] = f->harmonic_floor[1] = 1.0;
    f->harmonic_floor[1] = sqrt(noise_of(&s->all, 1) / tone);
    for (int k = 2; k <= ES_LEVEL_HARMONICS; k++) {
        if (!(s->all.tone[k] > 0.0))
            continue;
        double net = s->all.tone[k] - noise_of(&s->all, k), chance = chance_power(l, s, k);
        f->harmonic_floor[k] = sqrt(noise_of(&s->all, k) / tone);
        if (net > EVIDENCE * chance)
            f->harmonic[k] = sqrt(net / tone);
    }
}

/* Standard deviation of the sum of the powers, from how they scatter; widened as Student's t of so few looks
 * is wide. Fewer than four looks tell nothing: HUGE_VAL. */
static double scatter_of(const es_level *l, const sums *s)
{
    double n = (double)s->used, looks = looks_of(l, s->used), mean = s->all.tone[1] / n;
    double square = fmax(s->squares / n - mean * mean, 0.0);
    return looks > 3.5 ? n * sqrt(square / (looks - 3.0)) : HUGE_VAL;
}

es_level_figures es_level_figures_of(es_level *l, int channel_index)
{
    double none = (double)NAN;
    es_level_figures f = {.hz = none, .amplitude_fs = none, .u_db = none, .floor_fs = none};
    for (int k = 0; k < HARMONICS; k++)
        f.harmonic[k] = f.harmonic_floor[k] = none;
    if (!l->twin || l->count == 0)
        return f;
    sums s = add_up(&l->channels[channel_index != 0], l->count);
    sums other = add_up(&l->channels[channel_index == 0], l->count);
    f.frames = s.used * l->joined;
    f.left_out = (l->count - s.used) * l->joined;
    double n = (double)f.frames, tone = s.all.tone[1] - noise_of(&s.all, 1);
    f.floor_fs = sqrt(2.0 * noise_of(&s.all, 1) / n);
    if (!(tone > EVIDENCE * chance_power(l, &s, 1)) || !(tone > LEAKAGE * other.all.tone[1]) ||
        (double)s.used < SHARE_LEAST * (double)l->count)
        return f;
    f.known = 1;
    f.hz = l->tone_hz + s.all.moment / tone;
    f.amplitude_fs = sqrt(2.0 * tone / n);
    f.u_db = 10.0 / log(10.0) * (scatter_of(l, &s) + chance_power(l, &s, 1)) / tone;
    fill_harmonics(l, &s, tone, &f);
    return f;
}
