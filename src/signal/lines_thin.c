#include "signal/lines_thin.h"

#include "signal/fir.h"

#include <stdlib.h>
#include <string.h>

#define STOP_DB 80.0
#define ROOM_PER_BAND 2.75 /* thinned rate over high_hz: what the filter's slope needs */

static int design(es_lines_thin *t, double rate_hz, double high_hz)
{
    double slope = 1.0 / (double)t->factor - 2.0 * high_hz / rate_hz;
    t->taps = es_kaiser_taps(STOP_DB, slope);
    double *taps = calloc(t->taps, sizeof *taps);
    t->filter = calloc(t->taps, sizeof *t->filter);
    t->line = calloc(t->taps + ES_LINES_BLOCK, sizeof *t->line);
    if (taps && t->filter) {
        es_fir_lowpass(taps, t->taps, 0.5 / (double)t->factor, STOP_DB);
        for (size_t i = 0; i < t->taps; i++)
            t->filter[i] = (float)taps[i];
    }
    int done = taps && t->filter && t->line;
    free(taps);
    return done;
}

int es_lines_thin_init(es_lines_thin *t, double rate_hz, double high_hz)
{
    *t = (es_lines_thin){.factor = 1, .taps = 1};
    while (rate_hz / (double)(2 * t->factor) >= ROOM_PER_BAND * high_hz)
        t->factor *= 2;
    return t->factor == 1 || design(t, rate_hz, high_hz);
}

void es_lines_thin_free(es_lines_thin *t)
{
    free(t->filter);
    free(t->line);
}

void es_lines_thin_reset(es_lines_thin *t)
{
    t->fill = t->next = 0;
}

static size_t copy_through(const double *in, size_t count, float *out)
{
    for (size_t i = 0; i < count; i++)
        out[i] = (float)in[i];
    return count;
}

size_t es_lines_thin_push(es_lines_thin *t, const double *in, size_t count, float *out)
{
    if (t->factor == 1)
        return copy_through(in, count, out);
    if (t->fill + count > t->taps + ES_LINES_BLOCK) {
        memmove(t->line, t->line + t->next, (t->fill - t->next) * sizeof *t->line);
        t->fill -= t->next;
        t->next = 0;
    }
    t->fill += copy_through(in, count, t->line + t->fill);
    size_t made = 0;
    for (; t->next + t->taps <= t->fill; t->next += t->factor)
        out[made++] = es_fir_dot(t->filter, t->line + t->next, t->taps);
    return made;
}
