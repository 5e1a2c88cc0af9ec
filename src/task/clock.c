#include "evenspool/task/clock.h"

#include "evenspool/trust/uncertainty.h"

#include <math.h>
#include <stdlib.h>

#define SLOTS 256
#define SLOT_S 0.25 /* at first; pairs are merged when they become too many */
#define BATCHES 16
#define SLOTS_LEAST 6
#define SIDE 3       /* slots on either side of a jump                              */
#define JUMP_S 0.005 /* a smaller one is lateness                                   */
#define CORRELATION_MOST 0.8
#define JUMP_TIMES 12 /* of the usual step between slots                             */

/* The least late block of a time. */
typedef struct slot {
    double time_s, lag_s; /* since the stretch began; lag NaN: no block came */
    int64_t frames;       /* counted from the beginning of all               */
} slot;

/* Sums of a straight line. */
typedef struct line {
    double weight, x, y, xx, xy, yy;
} line;

struct es_clock {
    double rate_hz;

    /* the stretch in hand */
    slot slots[SLOTS];
    double slot_s;
    double begin_s, last_s; /* begin NaN: nothing came yet */
    int64_t begin_frames, last_frames;
    line all; /* lag of every block */

    es_clock_figures best; /* of the stretches before; used_s 0: none */
    int64_t blocks, interruptions;
};

/* --- life ----------------------------------------------------------------------------------- */

static void begin_stretch(es_clock *c)
{
    c->slot_s = SLOT_S;
    c->begin_s = (double)NAN;
    c->all = (line){0};
    for (size_t i = 0; i < SLOTS; i++)
        c->slots[i].lag_s = (double)NAN;
}

static es_clock_figures nothing(void)
{
    return (es_clock_figures){.error_ppm = (double)NAN,
                              .u_ppm = (double)NAN,
                              .dof = (double)NAN,
                              .resolution_ppm = (double)NAN,
                              .jitter_s = (double)NAN};
}

es_status es_clock_create(double rate_hz, es_clock **out)
{
    *out = NULL;
    if (!(rate_hz >= 1000.0 && rate_hz <= 1e6))
        return ES_ERR_ARG;
    es_clock *c = calloc(1, sizeof *c);
    if (!c)
        return ES_ERR_NOMEM;
    c->rate_hz = rate_hz;
    es_clock_reset(c);
    *out = c;
    return ES_OK;
}

void es_clock_destroy(es_clock *c)
{
    free(c);
}

void es_clock_reset(es_clock *c)
{
    begin_stretch(c);
    c->best = nothing();
    c->blocks = c->interruptions = 0;
}

/* --- straight lines --------------------------------------------------------------------------- */

static void add(line *l, double weight, double x, double y)
{
    l->weight += weight;
    l->x += weight * x;
    l->y += weight * y;
    l->xx += weight * x * x;
    l->xy += weight * x * y;
    l->yy += weight * y * y;
}

/* Sums about the means. */
static line centred(const line *l)
{
    return (line){.weight = l->weight,
                  .x = l->x / l->weight,
                  .y = l->y / l->weight,
                  .xx = l->xx - l->x * l->x / l->weight,
                  .xy = l->xy - l->x * l->y / l->weight,
                  .yy = l->yy - l->y * l->y / l->weight};
}

/* --- blocks ---------------------------------------------------------------------------------- */

static void take(slot *to, const slot *from)
{
    if (!isnan(from->lag_s) && !(to->lag_s <= from->lag_s))
        *to = *from;
}

static void merge_pairs(es_clock *c)
{
    for (size_t i = 0; i < SLOTS / 2; i++) {
        slot one = c->slots[2 * i];
        take(&one, &c->slots[2 * i + 1]);
        c->slots[i] = one;
    }
    for (size_t i = SLOTS / 2; i < SLOTS; i++)
        c->slots[i].lag_s = (double)NAN;
    c->slot_s *= 2.0;
}

void es_clock_push(es_clock *c, double time_s, int64_t frames)
{
    if (isnan(c->begin_s)) {
        c->begin_s = c->last_s = time_s;
        c->begin_frames = c->last_frames = frames;
    }
    if (!(time_s >= c->last_s) || frames < c->last_frames)
        return;
    c->last_s = time_s;
    c->last_frames = frames;
    c->blocks++;
    slot one = {.time_s = time_s - c->begin_s, .frames = frames};
    one.lag_s = one.time_s - (double)(frames - c->begin_frames) / c->rate_hz;
    while (one.time_s >= SLOTS * c->slot_s)
        merge_pairs(c);
    take(&c->slots[(size_t)(one.time_s / c->slot_s)], &one);
    add(&c->all, 1.0, one.time_s, one.lag_s);
}

/* --- from slots to figures -------------------------------------------------------------------- */

typedef struct stretch {
    slot at[SLOTS];
    size_t count;
    int64_t jumps;
} stretch;

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(const double *values, size_t count)
{
    double sorted[SLOTS];
    for (size_t i = 0; i < count; i++)
        sorted[i] = values[i];
    qsort(sorted, count, sizeof *sorted, by_size);
    return sorted[count / 2];
}

/* How much later blocks come from slot k on than before. */
static double step_at(const stretch *s, size_t k)
{
    double before[SIDE], after[SIDE];
    for (size_t i = 0; i < SIDE; i++) {
        before[i] = s->at[k - SIDE + i].lag_s;
        after[i] = s->at[k + i].lag_s;
    }
    return fabs(median(after, SIDE) - median(before, SIDE));
}

static double raw_step_at(const stretch *s, size_t k)
{
    return fabs(s->at[k].lag_s - s->at[k - 1].lag_s);
}

static double jump_limit(const stretch *s)
{
    double steps[SLOTS];
    for (size_t k = 1; k < s->count; k++)
        steps[k - 1] = raw_step_at(s, k);
    return fmax(JUMP_S, JUMP_TIMES * median(steps, s->count - 1));
}

/* The first slot from `from` on at which a jump begins a new level; count: none. The medians find it
 * up to a slot or two too early, the slots themselves tell it to the slot. */
static size_t next_jump(const stretch *s, size_t from, double limit)
{
    size_t k = from + SIDE;
    while (k + SIDE <= s->count && !(step_at(s, k) > limit))
        k++;
    if (k + SIDE > s->count)
        return s->count;
    size_t sharpest = k;
    for (size_t i = k; i < k + SIDE; i++)
        if (raw_step_at(s, i) > raw_step_at(s, sharpest))
            sharpest = i;
    return sharpest;
}

/* At either end too little is left to tell a jump from a late slot: neither counts. */
static void trim_ends(stretch *s, double limit)
{
    size_t begin = 0;
    for (size_t k = 1; k < SIDE; k++) {
        if (raw_step_at(s, k) > limit)
            begin = k;
        if (raw_step_at(s, s->count - k) > limit)
            s->count -= k;
    }
    for (size_t i = begin; i < s->count; i++)
        s->at[i - begin] = s->at[i];
    s->count -= begin;
}

/* Leaves the longest part between two jumps. */
static void cut_at_jumps(stretch *s)
{
    if (s->count <= 4 * SIDE)
        return;
    size_t best = 0, best_count = 0;
    double limit = jump_limit(s);
    trim_ends(s, limit);
    for (size_t from = 0; from < s->count;) {
        size_t to = next_jump(s, from, limit);
        s->jumps += to < s->count;
        if (to - from > best_count) {
            best = from;
            best_count = to - from;
        }
        from = to;
    }
    for (size_t i = 0; i < best_count; i++)
        s->at[i] = s->at[best + i];
    s->count = best_count;
}

static line batch_of(const stretch *s, size_t index, size_t batches)
{
    line sum = {0};
    for (size_t i = index * s->count / batches; i < (index + 1) * s->count / batches; i++)
        add(&sum, 1.0, s->at[i].time_s, s->at[i].lag_s);
    return centred(&sum);
}

/* Correlation of each batch's distance from the line with the next one's. A line through few points
 * makes it look smaller than it is, by about 1 / batches (found by trial: tests/task/test_clock.c). */
static double correlation(const line *batches, size_t count, const line *about)
{
    double slope = about->xy / about->xx, squares = 0.0, products = 0.0, before = 0.0;
    for (size_t i = 0; i < count; i++) {
        double off = batches[i].y - about->y - slope * (batches[i].x - about->x);
        squares += off * off;
        products += off * before;
        before = off;
    }
    return squares > 0.0 ? products / squares + 1.0 / (double)count : 0.0;
}

static void fit(const stretch *s, double rate_hz, es_clock_figures *out)
{
    size_t count = s->count < BATCHES ? s->count : BATCHES;
    double length_s = s->at[s->count - 1].time_s - s->at[0].time_s;
    line batches[BATCHES], sums = {0};
    for (size_t i = 0; i < count; i++) {
        batches[i] = batch_of(s, i, count);
        add(&sums, batches[i].weight, batches[i].x, batches[i].y);
    }
    line about = centred(&sums);
    double slope = about.xy / about.xx;
    double squares = fmax(0.0, about.yy - slope * about.xy);
    double kept = fmin(fmax(correlation(batches, count, &about), 0.0), CORRELATION_MOST);
    double fewer = (1.0 - kept) / (1.0 + kept); /* as many batches are worth */
    out->dof = fmax(1.0, ((double)count - 2.0) * fewer);
    out->error_ppm = -1e6 * slope;
    out->u_ppm = 1e6 * sqrt(squares / ((double)count - 2.0) / fewer / about.xx);
    out->resolution_ppm = 1e6 / (rate_hz * length_s);
    out->used_s = length_s;
}

static es_clock_figures figures_of_stretch(const es_clock *c, int64_t *jumps)
{
    es_clock_figures out = nothing();
    stretch s = {0};
    for (size_t i = 0; i < SLOTS; i++)
        if (!isnan(c->slots[i].lag_s))
            s.at[s.count++] = c->slots[i];
    cut_at_jumps(&s);
    *jumps = s.jumps;
    if (s.count < SLOTS_LEAST || s.at[s.count - 1].time_s - s.at[0].time_s < ES_CLOCK_LEAST_S)
        return out;
    fit(&s, c->rate_hz, &out);
    line about = centred(&c->all);
    double squares = fmax(0.0, about.yy - about.xy * about.xy / about.xx);
    out.jitter_s = sqrt(squares / about.weight);
    return out;
}

/* --- interruptions ---------------------------------------------------------------------------- */

void es_clock_lost(es_clock *c, int64_t certain)
{
    if (isnan(c->begin_s))
        return;
    int64_t jumps;
    for (size_t i = 0; i < SLOTS; i++)
        if (c->slots[i].frames > certain)
            c->slots[i].lag_s = (double)NAN;
    es_clock_figures ended = figures_of_stretch(c, &jumps);
    if (ended.used_s > c->best.used_s)
        c->best = ended;
    c->interruptions += jumps + 1;
    begin_stretch(c);
}

es_clock_figures es_clock_figures_of(const es_clock *c)
{
    int64_t jumps;
    es_clock_figures now = figures_of_stretch(c, &jumps);
    if (!(now.used_s > c->best.used_s))
        now = c->best;
    now.blocks = c->blocks;
    now.interruptions = c->interruptions + jumps;
    return now;
}

double es_clock_u95_ppm(const es_clock_figures *f, double limit_ppm)
{
    if (isnan(f->u_ppm))
        return (double)NAN;
    /* few degrees of freedom widen the normal part as Student's t does (JCGM 100 G.3) */
    double normal = f->u_ppm * es_coverage_factor(ES_LEVEL_95, f->dof) /
                    es_coverage_factor(ES_LEVEL_95, (double)INFINITY);
    double limits[2] = {f->resolution_ppm, limit_ppm};
    return es_expanded_by_shape(ES_LEVEL_95, normal, limits, limit_ppm > 0.0 ? 2 : 1);
}
