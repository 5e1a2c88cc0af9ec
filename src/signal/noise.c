#include "evenspool/signal/noise.h"

#include "evenspool/base/units.h"
#include "signal/quasi_468.h"
#include "signal/twin.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define FRAME_S 1.1 /* fine enough for the steep foot of the A curve at 10 Hz */
#define LOW_HZ 20.0
#define HIGH_HZ 20000.0
#define SETTLE_S 2.0 /* until the quasi-peak needle has come up                */
#define MULTIPLES 8
#define MAINS_SHARE 0.01 /* mains, and the speed of a tape that carries hum        */
#define LINE_BINS 2      /* to either side of a peak that belong to it             */
#define FLOOR_BINS 16    /* to either side from which the floor is taken           */
#define STANDS_OUT 3.0   /* of the floor, with many frames ...                     */
#define CHANCE 9.0       /* ... and this over the root of their number more        */

enum { UNWEIGHTED, WEIGHTED_A, WEIGHTED_468, CURVES };

struct es_noise {
    double rate_hz, bin_hz;
    es_twin twin;
    float *curve[CURVES];                /* power gain of each bin, the window's smear taken back */
    double *power[2];                    /* sum over frames                                       */
    double frames, total[2], squares[2]; /* of the frames' unweighted powers      */
    es_quasi_468 meter[2];
    uint64_t metered, settled;
    double needle[2]; /* sum of readings */
};

/* --- life ---------------------------------------------------------------------------------- */

static double wanted_gain(int curve, double hz)
{
    if (curve == UNWEIGHTED)
        return hz >= LOW_HZ && hz <= HIGH_HZ ? 1.0 : 0.0;
    if (hz <= 0.0)
        return 0.0;
    double db = curve == WEIGHTED_A ? es_weight_a_db(hz) : es_weight_468_db(hz);
    return pow(10.0, db / 10.0);
}

/* A Hann window spreads a line over its neighbours with a variance of a third of a bin squared; where the
 * curve bends, that is taken off again: w - w'' / 6. */
static void fill_curves(es_noise *n)
{
    for (int c = 0; c < CURVES; c++) {
        double before, here = wanted_gain(c, 0.0), after = wanted_gain(c, n->bin_hz);
        for (size_t i = 1; i + 1 < n->twin.bins; i++) {
            before = here;
            here = after;
            after = wanted_gain(c, (double)(i + 1) * n->bin_hz);
            double bend = before + after - 2.0 * here;
            n->curve[c][i] = (float)(c == UNWEIGHTED ? here : here - bend / 6.0);
        }
    }
}

es_status es_noise_create(double rate_hz, es_noise **out)
{
    *out = NULL;
    if (!(rate_hz >= 8000.0 && rate_hz <= 384000.0))
        return ES_ERR_ARG;
    es_noise *n = calloc(1, sizeof *n);
    if (!n)
        return ES_ERR_NOMEM;
    size_t frame = 1024;
    while ((double)frame < FRAME_S * rate_hz)
        frame *= 2;
    n->rate_hz = rate_hz;
    n->bin_hz = rate_hz / (double)frame;
    n->settled = (uint64_t)(SETTLE_S * rate_hz);
    int good = es_twin_start(&n->twin, frame, frame / 2, ES_TWIN_HANN) == ES_OK;
    for (int c = 0; c < CURVES; c++)
        good = (n->curve[c] = calloc(frame / 2 + 1, sizeof *n->curve[c])) != NULL && good;
    for (int c = 0; c < 2; c++)
        good = (n->power[c] = calloc(frame / 2 + 1, sizeof *n->power[c])) != NULL && good;
    if (!good) {
        es_noise_destroy(n);
        return ES_ERR_NOMEM;
    }
    fill_curves(n);
    es_quasi_468_start(&n->meter[0], rate_hz);
    n->meter[1] = n->meter[0];
    *out = n;
    return ES_OK;
}

void es_noise_destroy(es_noise *n)
{
    if (!n)
        return;
    es_twin_stop(&n->twin);
    for (int c = 0; c < CURVES; c++)
        free(n->curve[c]);
    for (int c = 0; c < 2; c++)
        free(n->power[c]);
    free(n);
}

void es_noise_reset(es_noise *n)
{
    es_twin_reset(&n->twin);
    n->frames = 0.0;
    n->metered = 0;
    for (int c = 0; c < 2; c++) {
        memset(n->power[c], 0, n->twin.bins * sizeof *n->power[c]);
        es_quasi_468_reset(&n->meter[c]);
        n->total[c] = n->squares[c] = n->needle[c] = 0.0;
    }
}

/* --- listening -------------------------------------------------------------------------------- */

static void add_frame(es_noise *n)
{
    double sum[2] = {0.0, 0.0};
    es_twin_transform(&n->twin);
    for (size_t i = 1; i + 1 < n->twin.bins; i++) {
        es_twin_bin bin = es_twin_look(&n->twin, i);
        double left = n->twin.power_scale * bin.left, right = n->twin.power_scale * bin.right;
        n->power[0][i] += left;
        n->power[1][i] += right;
        sum[0] += left * (double)n->curve[UNWEIGHTED][i];
        sum[1] += right * (double)n->curve[UNWEIGHTED][i];
    }
    for (int c = 0; c < 2; c++) {
        n->total[c] += sum[c];
        n->squares[c] += sum[c] * sum[c];
    }
    n->frames += 1.0;
}

/* One channel's meter; `from`: of those frames the first that counts. */
static void read_meter(es_noise *n, int c, const float *in, size_t stride, size_t frames,
                       uint64_t from)
{
    double shown[ES_QUASI_468_RUN];
    for (size_t i = 0; i < frames; i += ES_QUASI_468_RUN) {
        size_t count = frames - i < ES_QUASI_468_RUN ? frames - i : ES_QUASI_468_RUN;
        es_quasi_468_read(&n->meter[c], in + i * stride, stride, count, shown);
        for (size_t k = from > i ? (size_t)(from - i) : 0; k < count; k++)
            n->needle[c] += shown[k];
    }
}

static void read_meters(es_noise *n, const float *left, const float *right, size_t stride,
                        size_t frames)
{
    uint64_t from = n->metered < n->settled ? n->settled - n->metered : 0;
    read_meter(n, 0, left, stride, frames, from);
    if (right)
        read_meter(n, 1, right, stride, frames, from);
    n->metered += frames;
}

void es_noise_push(es_noise *n, const float *left, const float *right, size_t stride, size_t frames)
{
    while (frames > 0) {
        size_t used = es_twin_push(&n->twin, left, right, stride, frames);
        if (es_twin_is_full(&n->twin))
            add_frame(n);
        read_meters(n, left, right, stride, used);
        left += used * stride;
        if (right)
            right += used * stride;
        frames -= used;
    }
}

/* --- lines of the mains ------------------------------------------------------------------------- */

/* Median of the bins on both sides of a peak, its own left out. */
static double floor_round(const double *power, size_t bins, size_t peak)
{
    double sorted[2 * FLOOR_BINS];
    size_t count = 0;
    for (size_t i = peak > FLOOR_BINS ? peak - FLOOR_BINS : 1; i <= peak + FLOOR_BINS && i < bins;
         i++) {
        if (i + LINE_BINS >= peak && i <= peak + LINE_BINS)
            continue;
        size_t k = count++;
        for (; k > 0 && sorted[k - 1] > power[i]; k--)
            sorted[k] = sorted[k - 1];
        sorted[k] = power[i];
    }
    return count ? sorted[count / 2] : 0.0;
}

/* Power of the line near hz over all frames, 0: none; *at is where it stands. */
static double line_near(const es_noise *n, int channel, double hz, double *at)
{
    const double *power = n->power[channel];
    double reach = MAINS_SHARE * hz / n->bin_hz + 1.0, middle = hz / n->bin_hz;
    size_t peak = (size_t)(middle + 0.5), to = (size_t)(middle + reach);
    for (size_t i = (size_t)ceil(middle - reach); i <= to; i++)
        if (power[i] > power[peak])
            peak = i;
    double rest = floor_round(power, n->twin.bins, peak), sum = 0.0, moment = 0.0;
    if (!(power[peak] > (STANDS_OUT + CHANCE / sqrt(n->frames)) * rest))
        return 0.0;
    for (size_t i = peak - LINE_BINS; i <= peak + LINE_BINS; i++) {
        double over = fmax(power[i] - rest, 0.0);
        sum += over;
        moment += over * (double)i;
    }
    *at = sum > 0.0 ? moment / sum * n->bin_hz : hz;
    return sum;
}

/* Lines at multiples of one mains frequency, but not those that belong to the other one as well. */
static double family_power(const es_noise *n, int channel, double mains_hz)
{
    double at, sum = 0.0;
    for (int k = 1; k <= 4; k++)
        sum += line_near(n, channel, k * mains_hz, &at);
    return sum;
}

static void find_lines(const es_noise *n, int channel, es_noise_figures *f)
{
    double by_50 = family_power(n, channel, 50.0), by_60 = family_power(n, channel, 60.0);
    double mains_hz = by_50 >= by_60 ? 50.0 : 60.0;
    for (int k = 1; k <= MULTIPLES && f->line_count < ES_NOISE_LINES_MOST; k++) {
        es_noise_line line = {.mains_hz = mains_hz, .multiple = k};
        double power = line_near(n, channel, k * mains_hz, &line.hz);
        if (!(power > 0.0))
            continue;
        line.rms_fs = sqrt(power / n->frames);
        f->line[f->line_count++] = line;
    }
}

/* --- figures -------------------------------------------------------------------------------------- */

static double weighted_rms(const es_noise *n, int channel, int curve)
{
    double sum = 0.0;
    for (size_t i = 1; i + 1 < n->twin.bins; i++)
        sum += n->power[channel][i] * (double)n->curve[curve][i];
    return sqrt(fmax(sum, 0.0) / n->frames);
}

/* Of the mean power, from the scatter of frames that overlap by half; one frame tells nothing of it. */
static double spread_db(const es_noise *n, int channel)
{
    double mean = n->total[channel] / n->frames;
    double scatter = n->squares[channel] / n->frames - mean * mean;
    if (n->frames < 3.0 || !(mean > 0.0))
        return (double)NAN;
    double looks = 0.5 * (n->frames + 1.0);
    return 10.0 / log(10.0) * sqrt(fmax(scatter, 0.0) / looks) / mean;
}

es_noise_figures es_noise_figures_of(const es_noise *n, int channel)
{
    double none = (double)NAN;
    es_noise_figures f = {.seconds = (double)n->metered / n->rate_hz,
                          .unweighted_fs = none,
                          .a_fs = none,
                          .itu468_fs = none,
                          .itu468_peak_fs = none,
                          .u_db = none};
    int c = channel != 0;
    if (n->frames < 1.0)
        return f;
    f.known = 1;
    f.unweighted_fs = weighted_rms(n, c, UNWEIGHTED);
    f.a_fs = weighted_rms(n, c, WEIGHTED_A);
    f.itu468_fs = weighted_rms(n, c, WEIGHTED_468);
    f.u_db = spread_db(n, c);
    if (n->metered > 2 * n->settled)
        f.itu468_peak_fs = n->needle[c] / (double)(n->metered - n->settled) / sqrt(2.0);
    find_lines(n, c, &f);
    return f;
}
