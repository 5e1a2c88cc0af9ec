#include "task/tape_dropouts.h"

#include <math.h>
#include <string.h>

#define LOOK_S 0.002
#define SLOW_S 0.5
#define SETTLE_S 0.1   /* of a new stretch, before anything counts */
#define UNDER 0.251189 /* power: 6 dB                              */
#define GONE_S 0.5

es_tape_dropouts_meter es_tape_dropouts_start(double rate_hz)
{
    return (es_tape_dropouts_meter){
        .rate_hz = rate_hz, .look = (size_t)(LOOK_S * rate_hz), .deepest = 1.0};
}

void es_tape_dropouts_break(es_tape_dropouts_meter *m)
{
    m->filled = 0;
    memset(m->sum, 0, sizeof m->sum);
    m->slow = m->under_s = m->settled_s = 0.0;
    m->under_deepest = 1.0;
}

/* The tone is back. */
static void close_dropout(es_tape_dropouts_meter *m)
{
    m->count++;
    m->longest_s = fmax(m->longest_s, m->under_s);
    m->deepest = fmin(m->deepest, m->under_deepest);
    m->under_s = 0.0;
    m->under_deepest = 1.0;
}

static void take_look(es_tape_dropouts_meter *m, double power)
{
    double look_s = (double)m->look / m->rate_hz;
    if (m->settled_s < SETTLE_S) { /* a plain mean first */
        m->settled_s += look_s;
        m->slow += (power - m->slow) * look_s / m->settled_s;
        return;
    }
    m->seconds += look_s;
    if (power < UNDER * m->slow) {
        m->under_s += look_s;
        m->under_deepest = fmin(m->under_deepest, power / m->slow);
        if (m->under_s > GONE_S) {
            m->seconds -= m->under_s;
            es_tape_dropouts_break(m);
        }
        return;
    }
    if (m->under_s > 0.0)
        close_dropout(m);
    m->slow += (power - m->slow) * look_s / SLOW_S;
}

/* Four sums by place in the look, so that they neither wait for each other nor hang on block sizes. */
static void add_up(es_tape_dropouts_meter *m, const float *in, size_t stride, size_t frames)
{
    size_t i = 0;
    for (; i < frames && (m->filled + i) % 4; i++)
        m->sum[(m->filled + i) % 4] += in[i * stride] * in[i * stride];
    float a = m->sum[0], b = m->sum[1], c = m->sum[2], d = m->sum[3];
    for (; i + 4 <= frames; i += 4) {
        const float *at = in + i * stride;
        a += at[0] * at[0];
        b += at[stride] * at[stride];
        c += at[2 * stride] * at[2 * stride];
        d += at[3 * stride] * at[3 * stride];
    }
    m->sum[0] = a;
    m->sum[1] = b;
    m->sum[2] = c;
    m->sum[3] = d;
    for (; i < frames; i++)
        m->sum[(m->filled + i) % 4] += in[i * stride] * in[i * stride];
    m->filled += frames;
}

void es_tape_dropouts_push(es_tape_dropouts_meter *m, const float *in, size_t stride, size_t frames)
{
    while (frames > 0) {
        size_t room = m->look - m->filled, take = frames < room ? frames : room;
        add_up(m, in, stride, take);
        in += take * stride;
        frames -= take;
        if (m->filled == m->look) {
            double sum = (double)((m->sum[0] + m->sum[1]) + (m->sum[2] + m->sum[3]));
            take_look(m, sum / (double)m->look);
            memset(m->sum, 0, sizeof m->sum);
            m->filled = 0;
        }
    }
}

es_tape_dropouts es_tape_dropouts_of(const es_tape_dropouts_meter *m)
{
    double unknown = (double)NAN;
    if (m->seconds <= 0.0)
        return (es_tape_dropouts){0.0, unknown, unknown, unknown};
    return (es_tape_dropouts){.seconds = m->seconds,
                              .count = (double)m->count,
                              .deepest_db =
                                  m->count ? -10.0 * log10(fmax(m->deepest, 1e-12)) : unknown,
                              .longest_ms = m->count ? 1000.0 * m->longest_s : unknown};
}
