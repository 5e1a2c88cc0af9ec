#include "evenspool/signal/lines.h"

#include "signal/lines_found.h"
#include "signal/lines_thin.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define LOW_HZ 0.1
#define WINDOW_S 61.0 /* wanted at least, so that a minute is one window */
#define WINDOW_MOST 65536
#define TURNS_LEAST 3.0 /* of a line within a window                        */
#define DRIFT_BINS 2.0  /* independent bins that what is left of a drift may fill */
#define STRETCH_LEAST_S 2.5
#define ABSURD 1e6f   /* no speed deviates so far; also keeps the powers finite */
#define TAIL_LEAST 16 /* a last window must bring at least 1/16 of its length anew */

struct es_lines {
    es_lines_config config;
    double thin_hz; /* rate of the thinned samples */
    es_lines_thin thin;
    es_lines_window window;
    es_lines_zoom zoom;
    float *stretch; /* room for one and a half windows                         */
    double *sum;    /* of the windows' powers, weighted                        */
    es_lines_tracks *tracks;

    /* state cleared by reset */
    size_t count;                 /* samples in stretch                                      */
    size_t covered;               /* of them, how many from the first were in a window       */
    int64_t before;               /* samples before stretch[0]                               */
    size_t longest;               /* window so far                                           */
    double weight, weight_length; /* sums of the weights, and of weight x length */
    es_lines_floor floor;         /* of the last window                          */
};

/* --- settings -------------------------------------------------------------------- */

static int config_is_sound(const es_lines_config *c)
{
    return c->rate_hz >= 500.0 && c->rate_hz <= 4000.0 && c->high_hz >= 20.0 &&
           c->high_hz <= c->rate_hz / 4.0;
}

/* Smallest length of small factors that holds WINDOW_S. */
static size_t window_for(double rate_hz)
{
    static const size_t odd[] = {8, 9, 10, 12, 15};
    double want = fmin(WINDOW_MOST, rate_hz * WINDOW_S);
    for (size_t scale = 1;; scale *= 2)
        for (size_t i = 0; i < sizeof odd / sizeof *odd; i++)
            if ((double)(odd[i] * scale) >= want)
                return odd[i] * scale;
}

/* --- life ------------------------------------------------------------------------ */

static int take_memory(es_lines *l)
{
    int thin = es_lines_thin_init(&l->thin, l->config.rate_hz, l->config.high_hz);
    l->thin_hz = l->config.rate_hz / (double)l->thin.factor;
    size_t most = window_for(l->thin_hz);
    int window = es_lines_window_init(&l->window, l->thin_hz, l->config.high_hz, most);
    l->stretch = calloc(most + most / 2, sizeof *l->stretch);
    l->sum = calloc(l->window.bins, sizeof *l->sum);
    l->tracks = calloc(1, sizeof *l->tracks);
    return thin && window && l->stretch && l->sum && l->tracks;
}

es_status es_lines_create(const es_lines_config *config, es_lines **out)
{
    *out = NULL;
    if (!config_is_sound(config))
        return ES_ERR_ARG;
    es_lines *l = calloc(1, sizeof *l);
    if (!l)
        return ES_ERR_NOMEM;
    l->config = *config;
    if (!take_memory(l)) {
        es_lines_destroy(l);
        return ES_ERR_NOMEM;
    }
    es_lines_zoom_init(&l->zoom);
    es_lines_reset(l);
    *out = l;
    return ES_OK;
}

void es_lines_destroy(es_lines *l)
{
    if (!l)
        return;
    es_lines_thin_free(&l->thin);
    es_lines_window_free(&l->window);
    free(l->stretch);
    free(l->sum);
    free(l->tracks);
    free(l);
}

static void forget_windows(es_lines *l)
{
    memset(l->sum, 0, l->window.bins * sizeof *l->sum);
    l->weight = l->weight_length = 0.0;
    l->floor.knots = 0;
    es_lines_tracks_reset(l->tracks);
}

void es_lines_reset(es_lines *l)
{
    es_lines_thin_reset(&l->thin);
    l->count = l->covered = l->longest = 0;
    l->before = 0;
    forget_windows(l);
}

/* --- windows ---------------------------------------------------------------------- */

/* Bins for lines when turns is TURNS_LEAST, for the floor when it is DRIFT_BINS and from_hz 0. */
static es_lines_band band_of(const es_lines *l, double length, double turns, double from_hz)
{
    double apart = (double)l->window.most / length;
    double bin_hz = l->thin_hz / (double)l->window.most;
    return (es_lines_band){.low = (size_t)ceil(fmax(from_hz / bin_hz, turns * apart)),
                           .high = (size_t)floor(l->config.high_hz / bin_hz + 1e-9),
                           .apart = apart,
                           .averages = 1.0};
}

static void look_for_peaks(es_lines *l, size_t first, size_t length, double fresh)
{
    es_lines_peak peaks[ES_LINES_PEAKS];
    es_lines_band floor_band = band_of(l, (double)length, DRIFT_BINS, 0.0);
    es_lines_band band = band_of(l, (double)length, TURNS_LEAST, LOW_HZ);
    es_lines_floor_fit(&l->floor, l->window.power, floor_band);
    size_t count = 0;
    if (l->floor.knots)
        count = es_lines_peaks_of(&l->window, &l->floor, &l->zoom, band, peaks);
    double middle = ((double)l->before + (double)first + (double)length / 2.0) / l->thin_hz;
    es_lines_tracks_add(l->tracks, middle, (double)length / l->thin_hz, fresh, peaks, count);
}

/* Windows of very unequal length tell no common tale: the longer ones stay. */
static int fits_the_others(es_lines *l, size_t length)
{
    if (2 * length < l->longest)
        return 0;
    if (length > 2 * l->longest)
        forget_windows(l);
    if (length > l->longest)
        l->longest = length;
    return 1;
}

static void take_window(es_lines *l, size_t first, size_t length)
{
    double anew = (double)(first + length - l->covered) / (double)length;
    double fresh = l->covered > first ? fmin(1.0, 2.0 * anew) : 1.0;
    l->covered = first + length;
    if (!fits_the_others(l, length))
        return;
    es_lines_window_take(&l->window, l->stretch + first, length);
    double weight = fresh * (double)length;
    for (size_t k = 0; k < l->window.bins; k++)
        l->sum[k] += weight * (double)l->window.power[k];
    l->weight += weight;
    l->weight_length += weight * (double)length;
    look_for_peaks(l, first, length, fresh);
}

/* --- samples ---------------------------------------------------------------------- */

static void put(es_lines *l, float sample)
{
    size_t most = l->window.most, half = most / 2;
    if (!(fabsf(sample) < ABSURD)) {
        es_lines_break(l);
        return;
    }
    l->stretch[l->count++] = sample;
    if (l->count == most + half) {
        memmove(l->stretch, l->stretch + half, most * sizeof *l->stretch);
        l->before += (int64_t)half;
        l->count = most;
        l->covered -= half;
    }
    if (l->count == most)
        take_window(l, 0, most);
}

void es_lines_push(es_lines *l, const double *deviation, size_t count)
{
    float thinned[ES_LINES_BLOCK];
    while (count > 0) {
        size_t part = count < ES_LINES_BLOCK ? count : ES_LINES_BLOCK;
        size_t made = es_lines_thin_push(&l->thin, deviation, part, thinned);
        for (size_t i = 0; i < made; i++)
            put(l, thinned[i]);
        deviation += part;
        count -= part;
    }
}

void es_lines_break(es_lines *l)
{
    size_t most = l->window.most, left = l->count - l->covered;
    if (l->covered > 0 && left * TAIL_LEAST >= most)
        take_window(l, l->count - most, most);
    else if (l->covered == 0 && (double)l->count >= STRETCH_LEAST_S * l->thin_hz)
        take_window(l, 0, l->count);
    l->before += (int64_t)l->count;
    l->count = l->covered = 0;
    es_lines_thin_reset(&l->thin);
}

/* --- result ------------------------------------------------------------------------ */

/* Mean square of the deviation in the band. */
static double modulation_power(const es_lines *l, const es_lines_mean *m)
{
    double sum = 0.0;
    for (size_t k = m->band.low; k <= m->band.high; k++)
        sum += (double)m->power[k];
    return 2.0 * sum / (double)l->window.most;
}

/* 0 when there was too little. */
static int close_mean(es_lines *l, es_lines_floor *floor, es_lines_mean *m)
{
    if (!(l->weight > 0.0))
        return 0;
    for (size_t k = 0; k < l->window.bins; k++)
        l->window.power[k] = (float)(l->sum[k] / l->weight);
    double length = l->weight_length / l->weight;
    *m = (es_lines_mean){.power = l->window.power,
                         .floor = floor,
                         .band = band_of(l, length, TURNS_LEAST, LOW_HZ),
                         .bin_hz = l->thin_hz / (double)l->window.most,
                         .span_s = length / l->thin_hz,
                         .length = length,
                         .capture_s = (double)l->before / l->thin_hz};
    m->band.averages = fmax(1.0, l->tracks->windows);
    es_lines_band floor_band = band_of(l, length, DRIFT_BINS, 0.0);
    floor_band.averages = m->band.averages;
    *floor = (es_lines_floor){0};
    es_lines_floor_fit(floor, l->window.power, floor_band);
    return floor->knots > 0;
}

/* Slope as reported [Hz/min]: what stands out, 0 where it is known to be small, else not known. */
static double slope_to_tell(const es_lines_line *line)
{
    const double sigmas = 4.0, small_part = 0.01, small_hz = 0.003; /* a minute; 1 % and 3 mHz */
    double slope = 60.0 * line->slope_hz_s, u = 60.0 * line->slope_u;
    if (!isfinite(slope) || !isfinite(u))
        return (double)NAN;
    if (fabs(slope) > sigmas * u)
        return slope;
    return 3.0 * u <= fmax(small_hz, small_part * line->rate_hz) ? 0.0 : (double)NAN;
}

static es_component component_of(const es_lines_line *lines, size_t count, size_t at, double total)
{
    es_component c = {.rate_hz = lines[at].rate_hz,
                      .peak_percent = 100.0 * sqrt(lines[at].peak_squared),
                      .rate_slope_hz_per_min = slope_to_tell(&lines[at]),
                      .harmonics = lines[at].harmonics,
                      .significance_db = 10.0 * log10(lines[at].height)};
    double power = lines[at].peak_squared / 2.0;
    for (size_t i = 0; i < count; i++)
        if (lines[i].parent == at + 1)
            power += lines[i].peak_squared / 2.0;
    c.share_percent = fmin(100.0, 100.0 * power / total);
    return c;
}

size_t es_lines_finish(es_lines *l, es_component *out, size_t room, es_flutter_spectrum *spectrum)
{
    es_lines_line lines[ES_LINES_FOUND];
    es_lines_floor floor;
    es_lines_mean mean;
    if (spectrum)
        spectrum->count = 0;
    es_lines_break(l);
    if (!close_mean(l, &floor, &mean))
        return 0;
    size_t found = es_lines_find(l->tracks, &mean, lines), count = 0;
    es_lines_group(lines, found, mean.span_s);
    double total = modulation_power(l, &mean);
    for (size_t i = 0; i < found && count < room; i++)
        if (!lines[i].parent)
            out[count++] = component_of(lines, found, i, total);
    if (spectrum)
        es_lines_draw(&mean, spectrum);
    return count;
}
