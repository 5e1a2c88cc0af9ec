#include "evenspool/signal/stretch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define COUNT_OF(seconds) ((size_t)((seconds)*ES_READINGS_HZ))
#define HOLD_S 4.0     /* looked at before a stretch may begin                        */
#define LEAD_S 4.0     /* mirrored lead-in at most                                    */
#define GAP_S 0.25     /* a longer gap ends the stretch                               */
#define TAIL_S 0.75    /* held back inside a stretch: a gap and the run-away before it */
#define BLOCK_S 0.25   /* speed is judged by means over this                          */
#define SETTLED 0.0025 /* blocks this near to the later ones are settled ...          */
#define SPREADS 4.0    /* ... or within so many of their own standard deviations      */
#define RUNAWAY 0.005
#define BEFORE_S 0.3 /* before a run-away is seen it has begun */
#define MEAN_S 1.0   /* of the running mean that a run-away is told by */
#define SHORTEST_S 0.5
#define PATIENCE_S 10.0 /* a speed that never settles counts after all                 */
#define BLOCKS_MOST 16
#define CAPACITY (8 * COUNT_OF(HOLD_S)) /* moved to the front once in so many readings */

struct es_stretch {
    es_steady_sink *sink;
    void *who;
    es_tone_reading *store; /* CAPACITY                        */
    es_tone_reading *held;  /* inside store, oldest first      */
    size_t count;
    int inside, had_one;
    double waited_s; /* in this stretch's beginning */
    double mean_hz, spread_hz;
    size_t gap;                /* readings at the end of held that are not good */
    size_t gaps, gaps_waiting; /* the latter: in what is held before a stretch */
};

es_status es_stretch_create(es_steady_sink *sink, void *who, es_stretch **out)
{
    *out = NULL;
    es_stretch *s = calloc(1, sizeof *s);
    es_tone_reading *store = s ? calloc(CAPACITY, sizeof *store) : NULL;
    if (!store) {
        free(s);
        return ES_ERR_NOMEM;
    }
    s->sink = sink;
    s->who = who;
    s->store = s->held = store;
    *out = s;
    return ES_OK;
}

void es_stretch_destroy(es_stretch *s)
{
    if (!s)
        return;
    free(s->store);
    free(s);
}

void es_stretch_reset(es_stretch *s)
{
    s->count = s->gap = s->gaps = s->gaps_waiting = 0;
    s->inside = s->had_one = 0;
    s->held = s->store;
    s->waited_s = 0.0;
}

size_t es_stretch_gaps(const es_stretch *s)
{
    return s->gaps;
}

/* --- handing out ------------------------------------------------------------------- */

static void hand(const es_stretch *s, es_steady_role role, double time_s, double hz)
{
    es_steady steady = {.role = role, .time_s = time_s, .hz = hz};
    s->sink(s->who, &steady);
}

static void forget(es_stretch *s, size_t count)
{
    s->held += count;
    s->count -= count;
    if (s->gap > s->count)
        s->gap = s->count;
}

static void hand_outside(es_stretch *s, size_t count)
{
    for (size_t i = 0; i < count; i++)
        hand(s, ES_ROLE_OUTSIDE, s->held[i].time_s, (double)NAN);
    forget(s, count);
}

static void hand_inside(es_stretch *s, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const es_tone_reading *r = &s->held[i];
        s->mean_hz += (r->hz - s->mean_hz) / (MEAN_S * ES_READINGS_HZ);
        hand(s, r->good ? ES_ROLE_COUNTS : ES_ROLE_BRIDGED, r->time_s, r->hz);
    }
    forget(s, count);
}

/* --- judging ------------------------------------------------------------------------- */

/* Mean over the good readings of held[from .. to); NaN when they are too few. */
static double mean_of(const es_stretch *s, size_t from, size_t to)
{
    double sum = 0.0;
    size_t good = 0;
    for (size_t i = from; i < to; i++)
        if (s->held[i].good) {
            sum += s->held[i].hz;
            good++;
        }
    return 2 * good >= to - from && good ? sum / (double)good : (double)NAN;
}

typedef struct blocks {
    double mean[BLOCKS_MOST];
    size_t count, size;
} blocks;

static blocks blocks_of(const es_stretch *s)
{
    blocks b = {.count = s->count / COUNT_OF(BLOCK_S)};
    if (b.count > BLOCKS_MOST)
        b.count = BLOCKS_MOST;
    b.size = b.count ? s->count / b.count : 0;
    for (size_t i = 0; i < b.count; i++)
        b.mean[i] = mean_of(s, i * b.size, (i + 1) * b.size);
    return b;
}

/* Mean and standard deviation of the later half of the blocks. */
static void later_half(const blocks *b, double *mean, double *spread)
{
    double sum = 0.0, square = 0.0;
    size_t n = 0;
    for (size_t i = b->count / 2; i < b->count; i++)
        if (!isnan(b->mean[i])) {
            sum += b->mean[i];
            n++;
        }
    *mean = sum / (double)n;
    for (size_t i = b->count / 2; i < b->count; i++)
        if (!isnan(b->mean[i]))
            square += (b->mean[i] - *mean) * (b->mean[i] - *mean);
    *spread = n > 1 ? sqrt(square / (double)(n - 1)) : 0.0;
}

/* Index of the first reading after the last block that has not settled. */
static size_t settled_from(es_stretch *s)
{
    blocks b = blocks_of(s);
    later_half(&b, &s->mean_hz, &s->spread_hz);
    double near_hz = fmax(SETTLED * s->mean_hz, SPREADS * s->spread_hz);
    for (size_t i = b.count / 2; i-- > 0;)
        if (!(fabs(b.mean[i] - s->mean_hz) <= near_hz))
            return (i + 2) * b.size; /* and one block more, for the last of the approach */
    return 0;
}

/* Readings of held that are left when a deck that runs away at the end is cut off. */
static size_t steady_until(const es_stretch *s)
{
    size_t block = COUNT_OF(BLOCK_S) / 4, end = s->count;
    double near_hz = fmax(RUNAWAY * s->mean_hz, SPREADS * s->spread_hz);
    while (end > 0) {
        size_t from = end > block ? end - block : 0;
        if (fabs(mean_of(s, from, end) - s->mean_hz) <= near_hz)
            break;
        end = from;
    }
    if (end == s->count)
        return end;
    return end > COUNT_OF(BEFORE_S) ? end - COUNT_OF(BEFORE_S) : 0;
}

/* --- life of a stretch ----------------------------------------------------------------- */

static void begin(es_stretch *s, size_t first)
{
    hand_outside(s, first);
    s->inside = 1;
    s->gaps += s->gaps_waiting + (size_t)s->had_one; /* had one: the tone was lost and came back */
    s->gaps_waiting = 0;
    s->had_one = 1;
    s->waited_s = 0.0;
    hand(s, ES_ROLE_BREAK, s->held[0].time_s, s->mean_hz);
    size_t lead = s->count < COUNT_OF(LEAD_S) ? s->count : COUNT_OF(LEAD_S);
    for (size_t i = lead; i-- > 1;)
        hand(s, ES_ROLE_LEAD, s->held[i].time_s, s->held[i].hz);
}

/* Enough is held to judge whether a stretch begins here. */
static void try_to_begin(es_stretch *s)
{
    size_t first = settled_from(s);
    if (s->waited_s > PATIENCE_S)
        first = 0;
    if (s->count - first >= COUNT_OF(SHORTEST_S) && first < s->count / 2) {
        begin(s, first);
        return;
    }
    size_t drop = first ? first : s->count;
    s->waited_s += (double)drop / ES_READINGS_HZ;
    hand_outside(s, drop);
}

/* The gap at the end of held is too long, or the capture is over. */
static void end_stretch(es_stretch *s)
{
    size_t last = s->count - s->gap;
    if (!s->inside && last >= COUNT_OF(SHORTEST_S) && last >= 2 * COUNT_OF(BLOCK_S)) {
        size_t gap = s->gap;
        s->count = last; /* judge without the gap */
        size_t first = settled_from(s);
        if (last - first >= COUNT_OF(SHORTEST_S))
            begin(s, first);
        s->gap = gap;
        last = s->count;
        s->count += gap;
    }
    if (s->inside) {
        size_t all = s->count;
        s->count = last;
        size_t until = steady_until(s);
        s->count = all;
        hand_inside(s, until);
    }
    hand_outside(s, s->count);
    s->gaps_waiting = 0;
    s->inside = 0;
    s->waited_s = 0.0;
}

/* A gap that is over is bridged by a straight line between its shores. */
static void bridge(es_stretch *s)
{
    size_t far = s->count - 1, near = far - s->gap; /* first reading of the gap */
    if (near > 0) {
        double from = s->held[near - 1].hz, step = (s->held[far].hz - from) / (double)(s->gap + 1);
        for (size_t i = 0; i < s->gap; i++)
            s->held[near + i].hz = from + step * (double)(i + 1);
    }
    s->gap = 0;
    if (s->inside)
        s->gaps++;
    else
        s->gaps_waiting++;
}

static void hold(es_stretch *s, const es_tone_reading *r)
{
    if (s->held + s->count == s->store + CAPACITY) {
        memmove(s->store, s->held, s->count * sizeof *s->held);
        s->held = s->store;
    }
    s->held[s->count++] = *r;
}

void es_stretch_push(es_stretch *s, const es_tone_reading *r)
{
    if (!r->good && !s->inside && s->count == 0) { /* nothing yet */
        hand(s, ES_ROLE_OUTSIDE, r->time_s, (double)NAN);
        return;
    }
    hold(s, r);
    if (!r->good)
        s->gap++;
    else if (s->gap)
        bridge(s);
    if (s->gap > COUNT_OF(GAP_S))
        end_stretch(s);
    else if (s->inside && s->count > COUNT_OF(TAIL_S))
        hand_inside(s, s->count - COUNT_OF(TAIL_S));
    else if (!s->inside && s->count >= COUNT_OF(HOLD_S))
        try_to_begin(s);
}

void es_stretch_part(es_stretch *s)
{
    if (s->count)
        end_stretch(s);
    s->had_one = 0;
}

void es_stretch_end(es_stretch *s)
{
    if (s->count)
        end_stretch(s);
}
