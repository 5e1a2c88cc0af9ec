#include "signal/lines_found.h"

#include "evenspool/base/units.h"

#include <math.h>

#define FALSE_PER_OCTAVE 0.002  /* false lines allowed in an octave of rates of a capture ...   */
#define FALSE_AMONG_REELS 0.005 /* ... and below REELS_HZ, where the floor is less well known  */
#define REELS_HZ 2.0
#define FREEDOM 1.0      /* ln of the places within a bin                                */
#define SEEN_LEAST 0.3   /* part of the windows that must show a track                   */
#define HEIGHT_LEAST 3.2 /* 5 dB: below that, bumps of the noise look like lines         */
#define NARROW 2.5       /* a line stands so far over its surroundings ...               */
#define SIDE_FROM 3.0    /* ... between so many ...                                      */
#define SIDE_TO 9.0      /* ... independent bins beside it                               */
#define SURE 30.0        /* height from which the tracks' own peaks are free of selection */

/* --- reading between the bins ------------------------------------------------------------ */

/* Amplitude of a Hann window's transform x independent bins beside its middle. */
static double hann_at(double x)
{
    if (fabs(x) < 1e-6)
        return 1.0;
    if (fabs(fabs(x) - 1.0) < 1e-6)
        return 0.5;
    return sin(ES_PI * x) / (ES_PI * x) / (1.0 - x * x);
}

double es_lines_top(const es_lines_mean *m, size_t bin, double *place)
{
    double left = (double)m->power[bin - 1], here = (double)m->power[bin];
    double right = (double)m->power[bin + 1], wide = 1.0 / m->band.apart;
    double side = fmax(left, right), want = sqrt(side / fmax(here, 1e-300));
    double low = 0.0, high = wide / 2.0;
    for (int i = 0; i < 30; i++) { /* the ratio of the two rises with the distance */
        double middle = (low + high) / 2.0;
        if (hann_at(wide - middle) / hann_at(middle) < want)
            low = middle;
        else
            high = middle;
    }
    double gain = hann_at(low);
    *place = (double)bin + (right > left ? low : -low) * m->band.apart;
    return here / (gain * gain);
}

/* --- from the tracks ----------------------------------------------------------------------- */

/* Surprise that a line at that rate needs: the independent places in its octave over the false lines
 * allowed there. */
static double surprise_needed(const es_lines_mean *m, double rate_hz, double choices)
{
    double places = fmax(1.0, 0.7 * rate_hz * m->span_s);
    return log(places * choices / (rate_hz < REELS_HZ ? FALSE_AMONG_REELS : FALSE_PER_OCTAVE));
}

/* Height in the mean spectrum near a rate; 0 when there is no local maximum. */
static double mean_top_near(const es_lines_mean *m, double rate_hz)
{
    size_t middle = (size_t)lrint(rate_hz / m->bin_hz), reach = (size_t)lrint(m->band.apart);
    double best = 0.0, place;
    for (size_t k = middle > reach ? middle - reach : 1; k <= middle + reach; k++)
        if (k <= m->band.high && m->power[k] > m->power[k - 1] && m->power[k] >= m->power[k + 1])
            best = fmax(best, es_lines_top(m, k, &place));
    return best;
}

/* Where a weak line was missed now and then, the windows that show it speak too well of it. */
static double honest_peak_squared(const es_lines_track *t, const es_lines_mean *m,
                                  es_lines_course c)
{
    double own = t->peak_squared / t->seen;
    int steady = !(fabs(c.slope_hz_s) > 4.0 * c.slope_u) ||
                 fabs(c.slope_hz_s) * m->capture_s * m->span_s < 1.0;
    if (!steady || t->asked < 1.5 || t->height / t->seen > SURE)
        return own;
    double over = mean_top_near(m, c.rate_hz) - es_lines_floor_at(m->floor, c.rate_hz / m->bin_hz);
    return over > 0.0 ? es_lines_peak_squared(over, m->length) : own;
}

static int convinces(const es_lines_track *t, const es_lines_tracks *all, const es_lines_mean *m)
{
    double need = surprise_needed(m, t->last_hz, fmax(1.0, all->windows));
    return t->state && t->score > need && t->seen >= SEEN_LEAST * all->windows;
}

static es_lines_line line_of(const es_lines_track *t, const es_lines_mean *m)
{
    es_lines_course c = es_lines_track_course(t, m->capture_s / 2.0, m->capture_s);
    return (es_lines_line){.rate_hz = c.rate_hz,
                           .rate_u_hz = c.rate_u_hz,
                           .slope_hz_s = c.slope_hz_s,
                           .slope_u = c.slope_u,
                           .peak_squared = honest_peak_squared(t, m, c),
                           .height = t->height / t->seen,
                           .low_hz = t->low_hz,
                           .high_hz = t->high_hz};
}

/* --- from the mean spectrum ------------------------------------------------------------------ */

static int belongs_to_known(const es_lines_line *lines, size_t count, const es_lines_mean *m,
                            double rate_hz, double power)
{
    for (size_t i = 0; i < count; i++) {
        double beside = fmax(lines[i].low_hz - rate_hz, rate_hz - lines[i].high_hz) * m->span_s;
        double strength = lines[i].peak_squared / es_lines_peak_squared(1.0, m->length);
        if (beside < 2.0 || power < strength * es_lines_skirt(lines[i].rate_hz * m->span_s, beside))
            return 1;
    }
    return 0;
}

/* Mean power beside a place, on the stronger side. */
static double surroundings(const es_lines_mean *m, size_t bin)
{
    double sum[2] = {0.0, 0.0}, count[2] = {0.0, 0.0};
    size_t from = (size_t)(SIDE_FROM * m->band.apart), to = (size_t)(SIDE_TO * m->band.apart);
    for (size_t d = from; d <= to; d++) {
        if (bin > d)
            sum[0] += (double)m->power[bin - d], count[0] += 1.0;
        if (bin + d <= m->band.high)
            sum[1] += (double)m->power[bin + d], count[1] += 1.0;
    }
    return fmax(sum[0] / fmax(1.0, count[0]), sum[1] / fmax(1.0, count[1]));
}

/* 1 and *line filled when a steady line stands at that local maximum. */
static int steady_line_at(const es_lines_mean *m, size_t bin, es_lines_line *line)
{
    double place, floor = es_lines_floor_at(m->floor, (double)bin);
    if ((double)m->power[bin] < HEIGHT_LEAST * floor)
        return 0;
    double top = es_lines_top(m, bin, &place), height = (double)m->power[bin] / floor;
    double worth = es_lines_floor_worth(m->floor, (double)bin), rate = place * m->bin_hz;
    double surprise = es_lines_surprise(height, m->band.averages, worth);
    if (surprise < surprise_needed(m, rate, 1.0) + FREEDOM || top < NARROW * surroundings(m, bin))
        return 0;
    double u = 0.5 / m->span_s;
    *line = (es_lines_line){.rate_hz = rate,
                            .rate_u_hz = u / 2.0,
                            .slope_hz_s = 0.0, /* else its power would not pile up in one place */
                            .slope_u = u / m->capture_s,
                            .peak_squared = es_lines_peak_squared(top - floor, m->length),
                            .height = top / floor,
                            .low_hz = rate,
                            .high_hz = rate};
    return 1;
}

static size_t add_steady(const es_lines_mean *m, es_lines_line *out, size_t count)
{
    es_lines_line line;
    for (size_t k = m->band.low; k <= m->band.high && count < ES_LINES_FOUND; k++) {
        if (!(m->power[k] > m->power[k - 1] && m->power[k] >= m->power[k + 1]))
            continue;
        if (steady_line_at(m, k, &line) &&
            !belongs_to_known(out, count, m, line.rate_hz, (double)m->power[k]))
            out[count++] = line;
    }
    return count;
}

/* --- all ------------------------------------------------------------------------------------- */

static void sort_by_peak(es_lines_line *lines, size_t count)
{
    for (size_t i = 1; i < count; i++) {
        es_lines_line one = lines[i];
        size_t at = i;
        for (; at > 0 && lines[at - 1].peak_squared < one.peak_squared; at--)
            lines[at] = lines[at - 1];
        lines[at] = one;
    }
}

size_t es_lines_find(es_lines_tracks *tracks, const es_lines_mean *m, es_lines_line *out)
{
    size_t count = 0;
    es_lines_tracks_join(tracks, m->span_s);
    for (size_t i = 0; i < ES_LINES_TRACKS; i++)
        if (convinces(&tracks->track[i], tracks, m))
            out[count++] = line_of(&tracks->track[i], m);
    if (m->band.averages >= 1.5)
        count = add_steady(m, out, count);
    sort_by_peak(out, count);
    return count;
}
