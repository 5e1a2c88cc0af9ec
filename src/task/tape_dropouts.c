#include "task/tape_dropouts.h"

#include <math.h>

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
    m->sum = m->slow = m->under_s = m->settled_s = 0.0;
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

void es_tape_dropouts_push(es_tape_dropouts_meter *m, const float *in, size_t stride, size_t frames)
{
    while (frames > 0) {
        size_t room = m->look - m->filled, take = frames < room ? frames : room;
        double sum = m->sum;
        for (size_t i = 0; i < take; i++)
            sum += (double)in[i * stride] * (double)in[i * stride];
        m->sum = sum;
        m->filled += take;
        in += take * stride;
        frames -= take;
        if (m->filled == m->look) {
            take_look(m, m->sum / (double)m->look);
            m->sum = 0.0;
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
