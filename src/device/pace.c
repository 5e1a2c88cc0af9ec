#include "device/pace.h"

#include <math.h>

#define WINDOW_NS 500000000

void es_pace_begin(es_pace *p, double rate_hz)
{
    *p = (es_pace){.rate_hz = rate_hz};
}

static void begin_window(es_pace *p, int64_t now_ns)
{
    p->last = p->least;
    p->least = (double)INFINITY;
    p->window_ns = now_ns;
    p->windows++;
}

/* At the end of a window: frames lost, or 0. */
static int64_t judge(es_pace *p, double seconds)
{
    double least = fmin(p->least, p->last);
    if (p->windows < 2) { /* still learning: a stream often begins unevenly */
        p->floor = p->least;
        return 0;
    }
    double above = least - p->floor;
    if (above >= ES_PACE_LEAST_S * p->rate_hz) {
        p->floor = least;
        return llround(above);
    }
    p->floor = fmin(p->least, p->floor + ES_PACE_DRIFT * seconds * p->rate_hz);
    return 0;
}

int64_t es_pace_block(es_pace *p, int64_t frames, int64_t now_ns, int64_t *back)
{
    *back = 0;
    if (!p->begun) {
        p->begun = 1;
        p->begin_ns = p->window_ns = now_ns;
        p->least = p->last = (double)INFINITY;
        return 0;
    }
    p->frames += frames;
    double lag = (double)(now_ns - p->begin_ns) * 1e-9 * p->rate_hz - (double)p->frames;
    p->least = fmin(p->least, lag);
    int64_t good = p->good;
    if (p->windows < 2 || lag < p->floor + ES_PACE_LEAST_S * p->rate_hz)
        p->good = p->frames;
    if (now_ns - p->window_ns < WINDOW_NS)
        return 0;
    int64_t lost = judge(p, (double)(now_ns - p->window_ns) * 1e-9);
    begin_window(p, now_ns);
    if (lost > 0) {
        *back = p->frames - good;
        p->good = p->frames;
    }
    return lost;
}
