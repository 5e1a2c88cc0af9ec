#include "signal/marker_ear.h"

#include "signal/fir.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LEAST_RATE_HZ 10000.0
#define FRAME_S 0.0427 /* a little less than a symbol */
#define ROW_S 0.0141
#define BLOCK 1024
#define BAND_LOW_HZ 650.0
#define BAND_HIGH_HZ 3900.0
#define STOP_DB 60.0
#define CELL_SHARE 0.018 /* half width of a cell: flutter and the steps' coarseness ... */
#define CELL_BINS 1.8    /* ... or most of the window's lobe                           */
#define QUIET_POWER 1e-9 /* -90 dBFS: nothing to listen to                             */
#define CALM_S 0.56      /* of one tone: no symbol lasts that long                     */
#define CALM_REST 0.02   /* power that one tone leaves unexplained: 17 dB              */
#define CALM_TURN 0.01f  /* neighbouring symbols' 2 cos differ by three times that     */
#define NO_TURN 3.0f     /* silence                                                    */
#define SUMS 4           /* added up side by side: no sum waits for another            */

/* --- life --------------------------------------------------------------------------- */

static size_t frame_for(double rate_hz)
{
    size_t best = 32;
    for (size_t frame = 32; frame <= 2048; frame += 32)
        if (es_fourier_suits(frame) &&
            fabs((double)frame - FRAME_S * rate_hz) < fabs((double)best - FRAME_S * rate_hz))
            best = frame;
    return best;
}

static es_marker_edge edge_at(double bin)
{
    double whole = floor(bin);
    return (es_marker_edge){.bin = (size_t)whole, .share = (float)(bin - whole)};
}

static void lay_cells(es_marker_ear *e)
{
    double bin_hz = e->rate_hz / (double)e->every / (double)e->twin.frame;
    double top = (double)e->twin.bins - 2.0;
    for (int i = 0; i < ES_MARKER_CELLS; i++) {
        double bin = es_marker_hz(i - ES_MARKER_DOWN) / bin_hz;
        double half = fmax(CELL_BINS, CELL_SHARE * bin);
        e->low[i] = edge_at(fmin(bin - half + 0.5, top));
        e->high[i] = edge_at(fmin(bin + half + 0.5, top));
    }
    e->band_low = edge_at(BAND_LOW_HZ / bin_hz + 0.5);
    e->band_high = edge_at(fmin(BAND_HIGH_HZ / bin_hz + 0.5, top));
}

static es_status make_filter(es_marker_ear *e)
{
    double slow_hz = e->rate_hz / (double)e->every;
    double transition =
        (slow_hz - 2.0 * BAND_HIGH_HZ) / e->rate_hz; /* aliases end above the band */
    e->taps = es_kaiser_taps(STOP_DB, transition);
    double *taps = calloc(e->taps, sizeof *taps);
    e->tap = calloc(e->taps, sizeof *e->tap);
    if (taps && e->tap) {
        es_fir_lowpass(taps, e->taps, 0.5 / (double)e->every, STOP_DB);
        for (size_t i = 0; i < e->taps; i++)
            e->tap[i] = (float)taps[i];
    }
    int good = taps && e->tap;
    free(taps);
    for (int c = 0; c < 2; c++) {
        e->past[c] = calloc(e->taps + BLOCK, sizeof *e->past[c]);
        good = good && e->past[c];
    }
    return good ? ES_OK : ES_ERR_NOMEM;
}

es_status es_marker_ear_start(es_marker_ear *e, double rate_hz)
{
    *e = (es_marker_ear){.rate_hz = rate_hz, .every = (size_t)fmax(1.0, rate_hz / LEAST_RATE_HZ)};
    double slow_hz = rate_hz / (double)e->every;
    es_status status =
        es_twin_start(&e->twin, frame_for(slow_hz), (size_t)(ROW_S * slow_hz + 0.5), ES_TWIN_HANN);
    if (status == ES_OK && e->every > 1)
        status = make_filter(e);
    for (int c = 0; c < 2; c++) {
        e->sum[c] = calloc(e->twin.bins + 1, sizeof *e->sum[c]);
        if (!e->sum[c])
            status = ES_ERR_NOMEM;
    }
    if (status == ES_OK)
        lay_cells(e);
    return status;
}

void es_marker_ear_stop(es_marker_ear *e)
{
    es_twin_stop(&e->twin);
    free(e->tap);
    for (int c = 0; c < 2; c++) {
        free(e->past[c]);
        free(e->sum[c]);
    }
}

void es_marker_ear_reset(es_marker_ear *e)
{
    es_twin_reset(&e->twin);
    e->at = 0;
    e->calm = 0;
    e->turn[0] = e->turn[1] = 0.0f;
    for (int c = 0; c < 2 && e->taps; c++)
        memset(e->past[c], 0, e->taps * sizeof *e->past[c]);
}

double es_marker_ear_first_s(const es_marker_ear *e)
{
    double newest = (double)((e->twin.frame / 2 + 1) * e->every) - 1.0;
    double delay = e->taps ? (double)(e->taps - 1) / 2.0 : 0.0;
    return (newest - delay) / e->rate_hz;
}

double es_marker_ear_row_s(const es_marker_ear *e)
{
    return (double)(e->twin.hop * e->every) / e->rate_hz;
}

/* --- rows --------------------------------------------------------------------------- */

static float between(const float *sum, es_marker_edge low, es_marker_edge high)
{
    float below = sum[low.bin] + low.share * (sum[low.bin + 1] - sum[low.bin]);
    float upto = sum[high.bin] + high.share * (sum[high.bin + 1] - sum[high.bin]);
    return upto - below;
}

static void fill_row(es_marker_ear *e, float row[ES_MARKER_CELLS])
{
    es_twin_transform(&e->twin);
    float scale = (float)e->twin.power_scale, left = 0.0f, right = 0.0f, per_total[2];
    size_t first = e->low[0].bin < e->band_low.bin ? e->low[0].bin : e->band_low.bin;
    for (size_t i = first; i < e->twin.bins; i++) {
        es_twin_bin bin = es_twin_look(&e->twin, i);
        e->sum[0][i] = left;
        e->sum[1][i] = right;
        left += scale * (float)bin.left;
        right += scale * (float)bin.right;
    }
    e->sum[0][e->twin.bins] = left;
    e->sum[1][e->twin.bins] = right;
    for (int c = 0; c < 2; c++) {
        float total = between(e->sum[c], e->band_low, e->band_high);
        per_total[c] = total > (float)QUIET_POWER ? 1.0f / total : 0.0f;
    }
    for (int i = 0; i < ES_MARKER_CELLS; i++) {
        float a = between(e->sum[0], e->low[i], e->high[i]) * per_total[0];
        float b = between(e->sum[1], e->low[i], e->high[i]) * per_total[1];
        float share = a > b ? a : b;
        row[i] = share < 1.0f ? share : 1.0f;
    }
}

typedef float sums
    __attribute__((vector_size(SUMS * sizeof(float)), aligned(sizeof(float)), may_alias));

#define SUMS_AT(place) (*(const sums *)(place))

static inline float total(sums s)
{
    return (s[0] + s[1]) + (s[2] + s[3]);
}

/* A sine of one frequency is x[n] + x[n-2] = 2 cos(w) x[n-1]: how well does the newest hop of a channel
 * follow one? Returns that factor, NO_TURN for silence, NAN when it follows none. */
static float turn_of(const float *at, size_t count)
{
    sums across = {0}, power = {0}, outer = {0};
    for (size_t i = 1; i + SUMS < count; i += SUMS) {
        sums middle = SUMS_AT(at + i), sides = SUMS_AT(at + i - 1) + SUMS_AT(at + i + 1);
        across += middle * sides;
        power += middle * middle;
        outer += sides * sides;
    }
    float within = total(power), shared = total(across), beside = total(outer);
    if (within < (float)QUIET_POWER * (float)count)
        return NO_TURN;
    float rest = beside - shared * shared / within;
    return rest < (float)CALM_REST * (beside + 2.0f * within) ? shared / within : (float)NAN;
}

/* The sound has been the same tone, or silence, for so long that it can be no part of a marker. */
static int is_calm(es_marker_ear *e)
{
    const es_twin *t = &e->twin;
    const float *channel[2] = {t->left, t->right};
    int same = 1;
    for (int c = 0; c < 2; c++) {
        float turn = turn_of(channel[c] + t->frame - t->hop, t->hop);
        same = same && fabsf(turn - e->turn[c]) < CALM_TURN; /* not with NAN */
        e->turn[c] = turn;
    }
    e->calm = same ? e->calm + 1 : 0;
    return (double)e->calm * es_marker_ear_row_s(e) > CALM_S;
}

/* Filters a block and hands the decimated samples to the twin until it is full. The twin is never
 * asked for more than it can take: the block is cut where it fills up. */
static size_t push_filtered(es_marker_ear *e, const float *left, const float *right, size_t stride,
                            size_t frames)
{
    size_t wanted = (e->twin.frame - e->twin.filled) * e->every - e->at;
    size_t count = frames < BLOCK ? frames : BLOCK, before = e->taps - 1;
    count = count < wanted ? count : wanted;
    size_t first = e->every - e->at - 1;
    size_t made = count > first ? (count - first - 1) / e->every + 1 : 0;
    es_twin_copy(e->past[0] + before, left, stride, count);
    es_twin_copy(e->past[1] + before, right, stride, count);
    es_fir_both(e->past[0] + first, e->past[1] + first, e->every, made, e->tap, e->taps,
                e->twin.left + e->twin.filled, e->twin.right + e->twin.filled);
    e->twin.filled += made;
    e->at = (e->at + count) % e->every;
    for (int c = 0; c < 2; c++)
        memmove(e->past[c], e->past[c] + count, before * sizeof *e->past[c]);
    return count;
}

size_t es_marker_ear_push(es_marker_ear *e, const float *left, const float *right, size_t stride,
                          size_t frames, float row[ES_MARKER_CELLS], int *due)
{
    size_t used = e->taps ? push_filtered(e, left, right, stride, frames)
                          : es_twin_push(&e->twin, left, right, stride, frames);
    *due = es_twin_is_full(&e->twin);
    if (*due && is_calm(e)) {
        es_twin_pass(&e->twin);
        memset(row, 0, ES_MARKER_CELLS * sizeof *row);
    } else if (*due) {
        fill_row(e, row);
    }
    return used;
}
