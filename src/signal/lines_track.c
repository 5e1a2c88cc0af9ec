#include "signal/lines_track.h"

#include <math.h>
#include <string.h>

#define GATE 1.5        /* turns per span that a rate may lie beside what was foretold */
#define GATE_MISS 0.5   /* and more for each window missed                             */
#define GATE_SLIDE 0.25 /* weight of a slide that does not fit                         */
#define GATE_PART 0.003 /* of the rate, for a restless line          */
#define STRONG 30.0     /* heights, which chance does not reach      */
#define ALIKE 6.0       /* ratio of heights                          */
#define MISSES_MOST 6
#define FIRST_FREEDOM 1.8 /* ln of the choices there were for the first peak of a track */
#define LINK_FREEDOM 2.5  /* and for each that was linked                               */
#define MISS_COST 0.5
#define SLOPE_GAIN 0.4
#define KEPT_SCORE 8.0 /* a track at rest below that makes room */

void es_lines_tracks_reset(es_lines_tracks *t)
{
    memset(t, 0, sizeof *t);
}

/* --- linking -------------------------------------------------------------------------- */

/* Two strong peaks of about the same height may be one restless line. */
static int are_alike(double a, double b)
{
    return fmin(a, b) > STRONG && fmax(a, b) < ALIKE * fmin(a, b);
}

/* Distance in gates, above 1: can't be the same line. */
static double distance(const es_lines_track *t, const es_lines_peak *p, double time_s,
                       double span_s)
{
    double foretold = t->last_hz + t->slope_hz_s * (time_s - t->last_s);
    double beside = fabs(p->rate_hz - foretold) * span_s;
    double gate = GATE + GATE_MISS * (double)t->misses;
    if (are_alike(t->last_height, p->height))
        gate += GATE_PART * p->rate_hz * span_s;
    if (t->state != 1 || beside > gate)
        return HUGE_VAL;
    if (t->hits > 2 && p->slides)
        beside += GATE_SLIDE * fmin(4.0, fabs(p->slide_hz_s - t->slope_hz_s) * span_s * span_s);
    return beside / gate;
}

static void add_mark(es_lines_track *t, es_lines_mark m)
{
    if (t->marks == ES_LINES_MARKS) {
        for (size_t i = 0; i < ES_LINES_MARKS / 2; i++) {
            es_lines_mark a = t->mark[2 * i], b = t->mark[2 * i + 1];
            t->mark[i] = (es_lines_mark){(a.time_s + b.time_s) / 2.0, (a.rate_hz + b.rate_hz) / 2.0,
                                         hypot(a.rate_u_hz, b.rate_u_hz) / 2.0,
                                         (a.slide_hz_s + b.slide_hz_s) / 2.0,
                                         hypot(a.slide_u, b.slide_u) / 2.0};
        }
        t->marks /= 2;
    }
    t->mark[t->marks++] = m;
}

static void follow(es_lines_track *t, const es_lines_peak *p, double time_s, double fresh)
{
    double elapsed = time_s - t->last_s;
    if (t->hits == 0) {
        t->slope_hz_s = p->slides ? p->slide_hz_s : 0.0;
        t->low_hz = t->high_hz = p->rate_hz;
    } else if (elapsed > 0.0) {
        double off = p->rate_hz - (t->last_hz + t->slope_hz_s * elapsed);
        t->slope_hz_s += fresh * SLOPE_GAIN * off / elapsed;
    }
    /* what overlaps for the most part says the same again: less than its share */
    t->score += fresh * fresh * (p->surprise - (t->hits ? LINK_FREEDOM : FIRST_FREEDOM));
    t->peak_squared += fresh * p->peak_squared;
    t->height += fresh * p->height;
    t->seen += fresh;
    t->hits++;
    t->misses = 0;
    t->last_s = time_s;
    t->last_hz = p->rate_hz;
    t->last_height = p->height;
    t->low_hz = fmin(t->low_hz, p->rate_hz);
    t->high_hz = fmax(t->high_hz, p->rate_hz);
    add_mark(t, (es_lines_mark){time_s, p->rate_hz, p->rate_u_hz, p->slide_hz_s, p->slide_u});
}

static void miss(es_lines_track *t, double fresh)
{
    t->misses++;
    t->score -= fresh * MISS_COST;
    if (t->misses > MISSES_MOST)
        t->state = t->score < KEPT_SCORE ? 0 : 2;
}

/* A free place, or that of the least certain track if it is less certain than the new one. */
static es_lines_track *place_for(es_lines_tracks *t, double surprise)
{
    es_lines_track *least = &t->track[0];
    for (size_t i = 0; i < ES_LINES_TRACKS; i++) {
        if (!t->track[i].state)
            return &t->track[i];
        if (t->track[i].score < least->score)
            least = &t->track[i];
    }
    return least->score < surprise - FIRST_FREEDOM ? least : NULL;
}

typedef struct links {
    size_t of_track[ES_LINES_TRACKS], of_peak[ES_LINES_PEAKS]; /* nearest, plus 1; 0: none */
} links;

static void find_links(links *l, const es_lines_tracks *t, double time_s, double span_s,
                       const es_lines_peak *peaks, size_t count)
{
    double track_near[ES_LINES_TRACKS], peak_near[ES_LINES_PEAKS];
    *l = (links){0};
    for (size_t i = 0; i < ES_LINES_TRACKS; i++)
        track_near[i] = 1.0;
    for (size_t k = 0; k < count; k++) {
        peak_near[k] = 1.0;
        for (size_t i = 0; i < ES_LINES_TRACKS; i++) {
            double d = distance(&t->track[i], &peaks[k], time_s, span_s);
            if (d < track_near[i])
                track_near[i] = d, l->of_track[i] = k + 1;
            if (d < peak_near[k])
                peak_near[k] = d, l->of_peak[k] = i + 1;
        }
    }
}

void es_lines_tracks_add(es_lines_tracks *t, double time_s, double span_s, double fresh,
                         const es_lines_peak *peaks, size_t count)
{
    links l;
    int linked[ES_LINES_PEAKS] = {0};
    find_links(&l, t, time_s, span_s, peaks, count);
    t->windows += fresh;
    for (size_t i = 0; i < ES_LINES_TRACKS; i++) {
        es_lines_track *one = &t->track[i];
        size_t k = l.of_track[i];
        if (one->state != 1)
            continue;
        one->asked += fresh;
        if (k && l.of_peak[k - 1] == i + 1) {
            follow(one, &peaks[k - 1], time_s, fresh);
            linked[k - 1] = 1;
        } else {
            miss(one, fresh);
        }
    }
    for (size_t k = 0; k < count; k++) {
        es_lines_track *place = linked[k] ? NULL : place_for(t, peaks[k].surprise);
        if (!place)
            continue;
        *place = (es_lines_track){.state = 1, .asked = fresh};
        follow(place, &peaks[k], time_s, fresh);
    }
}

/* --- joining --------------------------------------------------------------------------- */

static int goes_on(const es_lines_track *a, const es_lines_track *b, double span_s)
{
    const es_lines_mark *first = &b->mark[0];
    double gap = first->time_s - a->last_s, far = gap / span_s;
    if (!(gap > 0.0) || !are_alike(a->height / a->seen, b->height / b->seen))
        return 0;
    double beside = fabs(first->rate_hz - a->last_hz - a->slope_hz_s * gap) * span_s;
    return beside <= GATE * (1.0 + far) + GATE_PART * first->rate_hz * span_s;
}

static void append(es_lines_track *a, es_lines_track *b)
{
    a->asked = a->seen + b->asked; /* those between them are not counted: little depends on it */
    a->seen += b->seen;
    a->score += b->score;
    a->peak_squared += b->peak_squared;
    a->height += b->height;
    a->hits += b->hits;
    a->low_hz = fmin(a->low_hz, b->low_hz);
    a->high_hz = fmax(a->high_hz, b->high_hz);
    for (size_t i = 0; i < b->marks; i++)
        add_mark(a, b->mark[i]);
    a->last_s = b->last_s;
    a->last_hz = b->last_hz;
    a->last_height = b->last_height;
    a->slope_hz_s = b->slope_hz_s;
    b->state = 0;
}

void es_lines_tracks_join(es_lines_tracks *t, double span_s)
{
    for (size_t i = 0; i < ES_LINES_TRACKS; i++)
        for (size_t k = 0; k < ES_LINES_TRACKS; k++) {
            es_lines_track *a = &t->track[i], *b = &t->track[k];
            if (i == k || !a->state || !b->state || !goes_on(a, b, span_s))
                continue;
            append(a, b);
            k = 0; /* it may go on again */
        }
}
