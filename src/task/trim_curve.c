#include "task/trim_curve.h"

#include "evenspool/signal/tone_fit.h"

#include <math.h>
#include <stdlib.h>

static es_tick *tick_at(const es_curve *c, int64_t number)
{
    return &c->tick[number % ES_CURVE_TICKS];
}

es_status es_curve_create(es_curve *c)
{
    *c = (es_curve){.tick = calloc(ES_CURVE_TICKS, sizeof *c->tick)};
    return c->tick ? ES_OK : ES_ERR_NOMEM;
}

void es_curve_destroy(es_curve *c)
{
    free(c->tick);
    c->tick = NULL;
}

void es_curve_break(es_curve *c)
{
    c->part = c->part_good = 0;
    c->part_sum = 0.0;
    c->spoiled = 0;
    c->swings.count = 0;
}

/* The edge of a dropout bends the frequency before the level tells: its neighbours don't count. */
static void spoil_neighbours(es_curve *c)
{
    es_tick *before = c->end > 0 ? tick_at(c, c->end - 1) : NULL;
    if (before && !isnan(before->value)) {
        before->value = before->heard = (double)NAN;
        c->sum = before->sum;
        c->good = before->good;
    }
    c->spoiled = 2;
}

/* The sums before a tick, and its value into those after it. */
static void sum_up(es_curve *c, es_tick *t)
{
    t->sum = c->sum;
    t->good = c->good;
    t->value = t->heard;
    if (isnan(t->heard))
        return;
    t->value -= es_swings_value(&c->swings, t->way);
    c->sum += t->value;
    c->good++;
}

void es_curve_push_tick(es_curve *c, double heard, int good, double time_s)
{
    if (!good)
        spoil_neighbours(c);
    c->way += (1.0 + heard) / ES_TICKS_HZ;
    es_tick *t = tick_at(c, c->end);
    *t = (es_tick){.heard = c->spoiled > 0 ? (double)NAN : heard, .way = c->way, .time_s = time_s};
    c->spoiled -= c->spoiled > 0;
    sum_up(c, t);
    c->end++;
    c->part = c->part_good = 0;
    c->part_sum = 0.0;
}

int es_curve_push(es_curve *c, double deviation, int good, double time_s)
{
    c->part_sum += deviation;
    c->part_good += good;
    if (++c->part < ES_TICK_READINGS)
        return 0;
    es_curve_push_tick(c, c->part_sum / ES_TICK_READINGS, c->part_good == ES_TICK_READINGS, time_s);
    return 1;
}

static int is_kept(const es_curve *c, int64_t from, int64_t to)
{
    return from >= 0 && from > c->end - ES_CURVE_TICKS && to <= c->end && from < to;
}

double es_curve_mean(const es_curve *c, int64_t from, int64_t to)
{
    if (!is_kept(c, from, to))
        return (double)NAN;
    const es_tick *first = tick_at(c, from);
    double sum = c->sum;
    int64_t good = c->good;
    if (to < c->end) {
        sum = tick_at(c, to)->sum;
        good = tick_at(c, to)->good;
    }
    good -= first->good;
    return 2 * good >= to - from ? (sum - first->sum) / (double)good : (double)NAN;
}

double es_curve_fit(const es_curve *c, int64_t from, int64_t to)
{
    double level = es_curve_mean(c, from, to); /* deviations from it keep their digits */
    if (isnan(level))
        return level;
    double sum = 0.0, weights = 0.0;
    for (int64_t i = from; i < to; i++) {
        double value = tick_at(c, i)->value;
        if (isnan(value))
            continue;
        double weight = es_tone_fit_weight((size_t)(i - from), (size_t)(to - from));
        sum += weight * (value - level);
        weights += weight;
    }
    return level + sum / weights;
}

double es_curve_heard(const es_curve *c, int64_t from, int64_t to)
{
    double sum = 0.0;
    int64_t good = 0;
    for (int64_t i = from; i < to; i++) {
        const es_tick *t = es_curve_tick(c, i);
        if (t && !isnan(t->heard)) {
            sum += t->heard;
            good++;
        }
    }
    return good > 0 && 2 * good >= to - from ? sum / (double)good : (double)NAN;
}

void es_curve_set_swings(es_curve *c, const es_swings *swings, int64_t from)
{
    c->swings = *swings;
    if (!is_kept(c, from, c->end))
        return;
    c->sum = tick_at(c, from)->sum;
    c->good = tick_at(c, from)->good;
    for (int64_t i = from; i < c->end; i++)
        sum_up(c, tick_at(c, i));
}

const es_tick *es_curve_tick(const es_curve *c, int64_t number)
{
    return is_kept(c, number, number + 1) ? tick_at(c, number) : NULL;
}
