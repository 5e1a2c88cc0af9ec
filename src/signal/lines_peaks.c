#include "signal/lines_peaks.h"

#include "evenspool/base/units.h"

#include <math.h>

#define RAW_LEAST 6.0    /* floors, before a slide is undone */
#define HEIGHT_LEAST 7.0 /* floors                           */
#define RAW_MOST 96      /* peaks looked at                  */
#define NEAR 8.0         /* a line's own restlessness shows within so many turns per span, */
#define NEAR_PART 0.04   /* or within that part of its rate, ...                           */
#define NEAR_LEAST 0.01  /* ... up to that part of its power                               */
#define FURTHER 2.5      /* and up to so many times as far away ...                        */
#define FURTHER_LEAST 1e-4
#define DEPTH 1e-9         /* single precision makes lines of its own further down           */
#define NEIGHBOURHOOD 12.0 /* lines so near disturb each other [turns per span] */
#define SLIDE_FREEDOM 2.0  /* ln of the slides that were tried */
#define RATE_REST 0.02     /* real lines are not known better than that [turns per span] */
#define SLIDE_REST 0.05    /* [turns per span^2]               */

typedef struct raw {
    size_t bin;
    double height, power;
} raw;

double es_lines_skirt(double rate, double distance)
{
    double x = fabs(distance);
    if (x < 1.5)
        return 1.0;
    double falls = 1.0 / (ES_PI * x * (x * x - 1.0)); /* the side lobes' envelope */
    double near = fmax(NEAR, NEAR_PART * rate);
    double restless = x < near ? NEAR_LEAST : x < FURTHER * near ? FURTHER_LEAST : 0.0;
    return fmax(fmax(4.0 * falls * falls, restless), DEPTH);
}

double es_lines_surprise(double height, double averages, double worth)
{
    if (averages < 1.5) /* one value of noise over the mean of `worth` others */
        return worth * log1p(height / worth);
    double over = fmax(1.0, height);
    double sharp = averages * worth / (1.0 + worth);
    return sharp * (over - 1.0 - log(over)); /* Chernoff's bound for chi-square */
}

/* Keeps the list sorted by height, largest first. */
static void insert(raw *list, size_t *count, raw one)
{
    size_t i = *count;
    if (i == RAW_MOST) {
        if (one.height <= list[RAW_MOST - 1].height)
            return;
        i--;
    } else {
        (*count)++;
    }
    for (; i > 0 && list[i - 1].height < one.height; i--)
        list[i] = list[i - 1];
    list[i] = one;
}

/* Peaks between two bins so near to each other that the floor is straight there. */
static size_t find_raw_between(const es_lines_window *w, const es_lines_floor *floor, size_t from,
                               size_t to, raw *list, size_t count)
{
    const float *p = w->power;
    double level = es_lines_floor_at(floor, (double)from);
    double rise = (es_lines_floor_at(floor, (double)to) - level) / (double)(to - from);
    for (size_t k = from; k < to; k++) {
        double local = level + rise * (double)(k - from);
        if ((double)p[k] > RAW_LEAST * local && p[k] > p[k - 1] && p[k] >= p[k + 1])
            insert(list, &count, (raw){k, (double)p[k] / local, (double)p[k]});
    }
    return count;
}

static size_t find_raw(const es_lines_window *w, const es_lines_floor *floor, es_lines_band b,
                       raw *list)
{
    size_t count = 0;
    for (size_t from = b.low; from <= b.high;) {
        size_t to = from + 1 + from / 16;
        if (to > b.high + 1)
            to = b.high + 1;
        count = find_raw_between(w, floor, from, to, list, count);
        from = to;
    }
    return count;
}

/* Half of the width that a line sweeps within the window. */
static double half_of(const es_lines_sight *s)
{
    return s->slides ? fabs(s->slide) / 2.0 : 0.0;
}

static int in_a_skirt(const es_lines_sight *lines, size_t count, const es_lines_sight *one)
{
    for (size_t i = 0; i < count; i++) {
        double apart = fabs(one->rate - lines[i].rate);
        double beside = fmax(0.0, apart - half_of(&lines[i]) - half_of(one));
        if (beside < 1.0 || one->power < lines[i].power * es_lines_skirt(lines[i].rate, beside))
            return 1;
    }
    return 0;
}

static es_lines_peak peak_of(const es_lines_window *w, const es_lines_zoom *zoom, es_lines_sight s,
                             double floor, double worth)
{
    double span = (double)w->length / w->rate_hz;
    es_lines_peak p = {.rate_hz = s.rate / span, .slide_hz_s = s.slide / span / span};
    p.height = s.power / floor;
    double known = sqrt(1.0 / p.height);
    p.rate_u_hz = hypot(zoom->rate_spread * known, RATE_REST) / span;
    p.slide_u = hypot(zoom->slide_spread * known, SLIDE_REST) / span / span;
    p.slides = s.slides;
    p.peak_squared = es_lines_peak_squared(fmax(0.0, s.power - floor), (double)w->length);
    p.surprise = es_lines_surprise(p.height, 1.0, worth) - (s.slides ? SLIDE_FREEDOM : 0.0);
    return p;
}

typedef struct looked {
    const es_lines_window *window;
    const es_lines_zoom *zoom;
    es_lines_sight sight[ES_LINES_PEAKS]; /* strongest over its floor first */
    double floor[ES_LINES_PEAKS];
    size_t bin[ES_LINES_PEAKS], count;
} looked;

static es_lines_sight zoom_without_others(const looked *l, size_t self, size_t bin, double floor)
{
    return es_lines_zoom_on(l->zoom, l->window, bin, floor, l->sight, l->count, self);
}

/* Lines near a new one were seen before it was known. Returns whether there are any. */
static int look_again_around(looked *l, size_t self)
{
    int any = 0;
    for (size_t i = 0; i < l->count; i++) {
        if (i == self || fabs(l->sight[i].rate - l->sight[self].rate) > NEIGHBOURHOOD)
            continue;
        l->sight[i] = zoom_without_others(l, i, l->bin[i], l->floor[i]);
        any = 1;
    }
    return any;
}

static int passes(const looked *l, es_lines_band b, const es_lines_sight *s, size_t before,
                  double floor)
{
    double at = s->rate * b.apart;
    int inside = at >= (double)b.low - 1.0 && at <= (double)b.high + 1.0;
    return inside && s->power > HEIGHT_LEAST * floor && !in_a_skirt(l->sight, before, s);
}

static void look(looked *l, es_lines_band b, raw one)
{
    double floor = one.power / one.height;
    es_lines_sight s = {.rate = (double)one.bin / b.apart, .power = one.power};
    if (in_a_skirt(l->sight, l->count, &s))
        return;
    s = zoom_without_others(l, l->count, one.bin, floor);
    if (!passes(l, b, &s, l->count, floor))
        return;
    size_t self = l->count++;
    l->sight[self] = s;
    l->bin[self] = one.bin;
    l->floor[self] = floor;
    if (!look_again_around(l, self))
        return;
    l->sight[self] = zoom_without_others(l, self, one.bin, floor);
    if (!passes(l, b, &l->sight[self], self, floor)) {
        l->count--; /* what the stronger line had left over, when seen alone */
        s = l->sight[self];
        for (size_t i = 0; i < l->count; i++)
            if (fabs(l->sight[i].rate - s.rate) <= NEIGHBOURHOOD)
                l->sight[i] = zoom_without_others(l, i, l->bin[i], l->floor[i]);
    }
}

size_t es_lines_peaks_of(const es_lines_window *w, const es_lines_floor *floor,
                         const es_lines_zoom *zoom, es_lines_band b, es_lines_peak *out)
{
    raw list[RAW_MOST];
    looked l = {.window = w, .zoom = zoom};
    size_t found = find_raw(w, floor, b, list), count = 0;
    for (size_t i = 0; i < found && l.count < ES_LINES_PEAKS; i++)
        look(&l, b, list[i]);
    for (size_t i = 0; i < l.count; i++)
        if (passes(&l, b, &l.sight[i], i, l.floor[i]))
            out[count++] = peak_of(w, zoom, l.sight[i], l.floor[i],
                                   es_lines_floor_worth(floor, (double)l.bin[i]));
    return count;
}
