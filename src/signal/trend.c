#include "evenspool/signal/trend.h"

#include "evenspool/base/units.h"

#include <math.h>
#include <stdlib.h>

#define FIRST_STEP_S 0.02
#define TERM_FIRST 2 /* cosine terms that tell how well the mean is known */
#define TERM_COUNT 12
#define SLOPE_BLOCKS 96
#define SHORTEST_SLOPE_S 5.0
#define SHORTEST_ENDS_S 4.0

struct es_trend {
    double sample_s, step_s;
    double total, first_s, last_s;
    size_t counted, used; /* blocks in use */
    es_trend_block block[ES_TREND_BLOCKS];
    double level[ES_TREND_BLOCKS]; /* scratch for the figures */
    double slopes[SLOPE_BLOCKS * (SLOPE_BLOCKS - 1) / 2];
};

es_status es_trend_create(double sample_s, es_trend **out)
{
    *out = NULL;
    if (!(sample_s > 0.0 && sample_s < 1.0))
        return ES_ERR_ARG;
    es_trend *t = calloc(1, sizeof *t);
    if (!t)
        return ES_ERR_NOMEM;
    t->sample_s = sample_s;
    es_trend_reset(t);
    *out = t;
    return ES_OK;
}

void es_trend_destroy(es_trend *t)
{
    free(t);
}

void es_trend_reset(es_trend *t)
{
    t->step_s = FIRST_STEP_S;
    t->total = 0.0;
    t->counted = t->used = 0;
}

static void merge_into(es_trend_block *to, const es_trend_block *from)
{
    if (from->count == 0)
        return;
    to->low = to->count ? fmin(to->low, from->low) : from->low;
    to->high = to->count ? fmax(to->high, from->high) : from->high;
    to->sum += from->sum;
    to->count += from->count;
}

static void halve(es_trend *t)
{
    for (size_t i = 0; i < ES_TREND_BLOCKS / 2; i++) {
        es_trend_block both = {0};
        merge_into(&both, &t->block[2 * i]);
        merge_into(&both, &t->block[2 * i + 1]);
        t->block[i] = both;
    }
    t->used = ES_TREND_BLOCKS / 2;
    t->step_s *= 2.0;
}

void es_trend_push(es_trend *t, double time_s, double value)
{
    while (time_s >= t->step_s * ES_TREND_BLOCKS) {
        while (t->used < ES_TREND_BLOCKS) {
            t->block[t->used++] = (es_trend_block){0};
        }
        halve(t);
    }
    size_t at = (size_t)(time_s / t->step_s);
    while (t->used <= at) {
        t->block[t->used++] = (es_trend_block){0};
    }
    es_trend_block one = {.sum = value, .low = value, .high = value, .count = 1};
    merge_into(&t->block[at], &one);
    if (t->counted == 0)
        t->first_s = time_s;
    t->last_s = time_s;
    t->total += value;
    t->counted++;
}

const es_trend_block *es_trend_blocks(const es_trend *t, size_t *count, double *step_s)
{
    *count = t->used;
    *step_s = t->step_s;
    return t->block;
}

/* --- figures -------------------------------------------------------------------------- */

typedef struct line {
    double middle, level, slope; /* level at block `middle`, slope per block */
} line;

static size_t first_block(const es_trend *t)
{
    size_t i = 0;
    while (i < t->used && t->block[i].count == 0)
        i++;
    return i;
}

static double block_mean(const es_trend_block *b)
{
    return b->sum / (double)b->count;
}

/* Least squares through the block means, each weighing its count. */
static line straight_line(const es_trend *t, size_t from, size_t count)
{
    double w = 0.0, wx = 0.0, wy = 0.0, xx = 0.0, xy = 0.0;
    for (size_t i = 0; i < count; i++) {
        const es_trend_block *b = &t->block[from + i];
        w += (double)b->count;
        wx += (double)b->count * (double)i;
        wy += b->sum;
    }
    line l = {.middle = wx / w, .level = wy / w};
    for (size_t i = 0; i < count; i++) {
        const es_trend_block *b = &t->block[from + i];
        double x = (double)i - l.middle;
        xx += (double)b->count * x * x;
        xy += x * (b->sum - (double)b->count * l.level);
    }
    l.slope = xx > 0.0 ? xy / xx : 0.0;
    return l;
}

/* Block means less their straight line; blocks with less than half of their readings stay on it. */
static void fill_levels(es_trend *t, size_t from, size_t count)
{
    line l = straight_line(t, from, count);
    double full = t->step_s / t->sample_s;
    for (size_t i = 0; i < count; i++) {
        const es_trend_block *b = &t->block[from + i];
        double on_line = l.level + l.slope * ((double)i - l.middle);
        t->level[i] = (double)b->count >= 0.5 * full ? block_mean(b) - on_line : 0.0;
    }
}

static double cosine_term(const es_trend *t, size_t count, size_t half_waves)
{
    double sum = 0.0;
    for (size_t i = 0; i < count; i++)
        sum += t->level[i] * cos(ES_PI * (double)half_waves * ((double)i + 0.5) / (double)count);
    return sum * sqrt(2.0 / (double)count);
}

static void fill_uncertainty(es_trend *t, size_t from, size_t count, es_trend_figures *f)
{
    f->mean_u = f->mean_dof = (double)NAN;
    if (count < TERM_FIRST + 6)
        return;
    fill_levels(t, from, count);
    size_t terms = count - TERM_FIRST < TERM_COUNT ? count - TERM_FIRST : TERM_COUNT;
    double power = 0.0;
    for (size_t k = 0; k < terms; k++) {
        double term = cosine_term(t, count, TERM_FIRST + k);
        power += term * term;
    }
    double span_s = (double)count * t->step_s;
    f->mean_u = sqrt(power / (double)terms / (double)count * fmax(1.0, span_s / f->counted_s));
    f->mean_dof = (double)terms;
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Median of the slopes between all pairs of up to SLOPE_BLOCKS groups (Theil 1950, Sen 1968). */
static double theil_sen(es_trend *t, size_t from, size_t count)
{
    double x[SLOPE_BLOCKS], y[SLOPE_BLOCKS];
    size_t groups = 0, pairs = 0, size = (count + SLOPE_BLOCKS - 1) / SLOPE_BLOCKS;
    for (size_t i = 0; i < count; i += size) {
        es_trend_block group = {0};
        for (size_t k = i; k < i + size && k < count; k++)
            merge_into(&group, &t->block[from + k]);
        if ((double)group.count < 0.5 * (double)size * t->step_s / t->sample_s)
            continue;
        x[groups] = ((double)i + (double)size / 2.0) * t->step_s;
        y[groups++] = block_mean(&group);
    }
    for (size_t i = 0; i < groups; i++)
        for (size_t k = i + 1; k < groups; k++)
            t->slopes[pairs++] = (y[k] - y[i]) / (x[k] - x[i]);
    if (pairs == 0)
        return (double)NAN;
    qsort(t->slopes, pairs, sizeof *t->slopes, by_value);
    return pairs % 2 ? t->slopes[pairs / 2]
                     : (t->slopes[pairs / 2 - 1] + t->slopes[pairs / 2]) / 2.0;
}

static double mean_between(const es_trend *t, double from_s, double to_s)
{
    es_trend_block part = {0};
    for (size_t i = 0; i < t->used; i++) {
        double middle_s = ((double)i + 0.5) * t->step_s;
        if (middle_s >= from_s && middle_s <= to_s)
            merge_into(&part, &t->block[i]);
    }
    return part.count ? block_mean(&part) : (double)NAN;
}

es_trend_figures es_trend_figures_of(es_trend *t)
{
    double none = (double)NAN;
    es_trend_figures f = {.counted_s = (double)t->counted * t->sample_s,
                          .mean = none,
                          .mean_u = none,
                          .mean_dof = none,
                          .slope_per_s = none,
                          .start = none,
                          .end = none};
    if (t->counted == 0)
        return f;
    f.first_s = t->first_s;
    f.last_s = t->last_s;
    f.mean = t->total / (double)t->counted;
    size_t from = first_block(t), count = t->used - from;
    fill_uncertainty(t, from, count, &f);
    double span_s = t->last_s - t->first_s;
    if (span_s >= SHORTEST_SLOPE_S)
        f.slope_per_s = theil_sen(t, from, count);
    if (span_s >= SHORTEST_ENDS_S) {
        double part_s = fmin(10.0, fmax(1.0, span_s / 10.0));
        f.start = mean_between(t, t->first_s, t->first_s + part_s);
        f.end = mean_between(t, t->last_s - part_s, t->last_s);
    }
    return f;
}
