#include "task/tape_dropouts.h"

#include <math.h>
#include <string.h>

#define LOOK_S 0.002
#define SLOW_S 0.5
#define SETTLE_S 0.1   /* of a new stretch, before anything counts */
#define UNDER 0.251189 /* power: 6 dB                              */
#define GONE_S 0.5

es_tape_dropouts_meter es_tape_dropouts_start(double rate_hz, size_t channels)
{
    es_tape_dropouts_meter m = {
        .rate_hz = rate_hz, .channels = channels, .look = (size_t)(LOOK_S * rate_hz)};
    for (size_t c = 0; c < ES_TAPE_DROPOUTS_CHANNELS; c++)
        m.tally[c].deepest = 1.0;
    return m;
}

static void begin_anew(es_tape_dropouts_tally *t)
{
    t->slow = t->under_s = t->settled_s = 0.0;
    t->under_deepest = 1.0;
}

void es_tape_dropouts_break(es_tape_dropouts_meter *m)
{
    m->filled = 0;
    memset(m->sum, 0, sizeof m->sum);
    for (size_t c = 0; c < m->channels; c++)
        begin_anew(&m->tally[c]);
}

/* The tone is back. */
static void close_dropout(es_tape_dropouts_tally *t)
{
    t->count++;
    t->longest_s = fmax(t->longest_s, t->under_s);
    t->deepest = fmin(t->deepest, t->under_deepest);
    t->under_s = 0.0;
    t->under_deepest = 1.0;
}

static void take_look(es_tape_dropouts_tally *t, double power, double look_s)
{
    if (t->settled_s < SETTLE_S) { /* a plain mean first */
        t->settled_s += look_s;
        t->slow += (power - t->slow) * look_s / t->settled_s;
        return;
    }
    t->seconds += look_s;
    if (power < UNDER * t->slow) {
        t->under_s += look_s;
        t->under_deepest = fmin(t->under_deepest, power / t->slow);
        if (t->under_s > GONE_S) {
            t->seconds -= t->under_s;
            begin_anew(t);
        }
        return;
    }
    if (t->under_s > 0.0)
        close_dropout(t);
    t->slow += (power - t->slow) * look_s / SLOW_S;
}

/* Four sums a channel by place in the look, so that they neither wait for each other nor hang on block
 * sizes. Two channels lie side by side, in sums as in frames. */
static inline __attribute__((always_inline)) void
add_squares(float *sum, size_t sums, size_t filled, const float *at, size_t samples)
{
    size_t i = 0;
    for (; i < samples && (filled + i) % sums; i++)
        sum[(filled + i) % sums] += at[i] * at[i];
    for (; i + sums <= samples; i += sums)
        for (size_t k = 0; k < sums; k++)
            sum[k] += at[i + k] * at[i + k];
    for (; i < samples; i++)
        sum[(filled + i) % sums] += at[i] * at[i];
}

static void add_up(es_tape_dropouts_meter *m, const float *frames, size_t count)
{
    float sum[4 * ES_TAPE_DROPOUTS_CHANNELS]; /* of its own, to stay in registers */
    memcpy(sum, m->sum, sizeof sum);
    if (m->channels == 2)
        add_squares(sum, 8, 2 * m->filled, frames, 2 * count);
    else
        add_squares(sum, 4, m->filled, frames, count);
    memcpy(m->sum, sum, sizeof sum);
    m->filled += count;
}

static void close_look(es_tape_dropouts_meter *m)
{
    size_t n = m->channels;
    double look_s = (double)m->look / m->rate_hz;
    for (size_t c = 0; c < n; c++) {
        const float *sum = m->sum + c;
        double power = (double)((sum[0] + sum[n]) + (sum[2 * n] + sum[3 * n]));
        take_look(&m->tally[c], power / (double)m->look, look_s);
    }
    memset(m->sum, 0, sizeof m->sum);
    m->filled = 0;
}

void es_tape_dropouts_push(es_tape_dropouts_meter *m, const float *frames, size_t count)
{
    while (count > 0) {
        size_t room = m->look - m->filled, take = count < room ? count : room;
        add_up(m, frames, take);
        frames += take * m->channels;
        count -= take;
        if (m->filled == m->look)
            close_look(m);
    }
}

es_tape_dropouts es_tape_dropouts_of(const es_tape_dropouts_meter *m, size_t channel)
{
    const es_tape_dropouts_tally *t = &m->tally[channel];
    double unknown = (double)NAN;
    if (t->seconds <= 0.0)
        return (es_tape_dropouts){0.0, unknown, unknown, unknown};
    return (es_tape_dropouts){.seconds = t->seconds,
                              .count = (double)t->count,
                              .deepest_db =
                                  t->count ? -10.0 * log10(fmax(t->deepest, 1e-12)) : unknown,
                              .longest_ms = t->count ? 1000.0 * t->longest_s : unknown};
}
