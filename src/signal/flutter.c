#include "evenspool/signal/flutter.h"

#include "evenspool/signal/tone_tracker.h"
#include "signal/quasi_peak.h"
#include "signal/weighting.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define DRIFT_HZ 0.1
#define PARTING_HZ 10.0
#define LEAST_S 1.0

/* |deviation| is sorted into 256 steps an octave straight from its bits as a float. */
#define STEP_BITS 15
#define LOWEST_BITS 0x31000000u  /* 1.9e-9 */
#define HIGHEST_BITS 0x3F800000u /* 1 */
#define STEPS ((HIGHEST_BITS - LOWEST_BITS) >> STEP_BITS)

#define EARLY_S 6.0 /* of a stretch: filters may still remember its beginning */

typedef struct band {
    es_biquad section[3];
    size_t count;
} band;

typedef struct sums {
    uint64_t counted;
    double weighted, audible, wow, flutter; /* squares              */
    double quasi_peak, peak;                /* largest              */
    uint64_t *histogram;                    /* of |weighted|, STEPS + 1 */
} sums;

struct es_flutter {
    es_biquad weighting[ES_WEIGHTING_SECTIONS];
    es_quasi_peak detector;
    band audible; /* all but drift: the unweighted figures */
    band wow, flutter;
    uint64_t since_break;
    sums early, settled;
    uint64_t *histograms; /* both */
};

es_status es_flutter_create(es_flutter **out)
{
    *out = NULL;
    es_flutter *f = calloc(1, sizeof *f);
    uint64_t *histograms = f ? calloc(2 * (STEPS + 1), sizeof *histograms) : NULL;
    if (!histograms) {
        free(f);
        return ES_ERR_NOMEM;
    }
    f->histograms = histograms;
    es_weighting_fill(f->weighting);
    f->detector = es_quasi_peak_at(ES_READINGS_HZ);
    f->audible.count = es_butterworth_high(f->audible.section, 3, DRIFT_HZ, ES_READINGS_HZ);
    f->wow.count = es_butterworth_low(f->wow.section, 6, PARTING_HZ, ES_READINGS_HZ);
    f->flutter.count = es_butterworth_high(f->flutter.section, 6, PARTING_HZ, ES_READINGS_HZ);
    es_flutter_reset(f);
    *out = f;
    return ES_OK;
}

void es_flutter_destroy(es_flutter *f)
{
    if (!f)
        return;
    free(f->histograms);
    free(f);
}

void es_flutter_break(es_flutter *f)
{
    es_biquads_reset(f->weighting, ES_WEIGHTING_SECTIONS);
    es_biquads_reset(f->audible.section, f->audible.count);
    es_biquads_reset(f->wow.section, f->wow.count);
    es_biquads_reset(f->flutter.section, f->flutter.count);
    es_quasi_peak_reset(&f->detector);
    f->since_break = 0;
}

void es_flutter_reset(es_flutter *f)
{
    es_flutter_break(f);
    memset(f->histograms, 0, 2 * (STEPS + 1) * sizeof *f->histograms);
    f->early = (sums){.histogram = f->histograms};
    f->settled = (sums){.histogram = f->histograms + STEPS + 1};
}

static double through(band *b, double x)
{
    return es_biquads_step(b->section, b->count, x);
}

static uint32_t bits_of(double magnitude)
{
    float value = (float)magnitude;
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    return bits;
}

static double magnitude_of(uint32_t bits)
{
    float value;
    memcpy(&value, &bits, sizeof value);
    return (double)value;
}

static void sort_in(uint64_t *histogram, double magnitude)
{
    uint32_t bits = bits_of(magnitude);
    size_t step = bits <= LOWEST_BITS ? 0 : (bits - LOWEST_BITS) >> STEP_BITS;
    histogram[step < STEPS ? step : STEPS]++;
}

static double larger(double a, double b)
{
    return b > a ? b : a;
}

double es_flutter_push(es_flutter *f, double deviation, int counts)
{
    double weighted = es_biquads_step(f->weighting, ES_WEIGHTING_SECTIONS, deviation);
    double audible = through(&f->audible, deviation);
    double wow = through(&f->wow, audible), flutter = through(&f->flutter, audible);
    double reading = es_quasi_peak_step(&f->detector, weighted);
    if (counts) {
        double since_s = (double)f->since_break++ / ES_READINGS_HZ;
        sums *s = since_s < EARLY_S ? &f->early : &f->settled;
        s->counted++;
        s->weighted += weighted * weighted;
        s->audible += audible * audible;
        s->wow += wow * wow;
        s->flutter += flutter * flutter;
        s->quasi_peak = larger(s->quasi_peak, reading);
        s->peak = larger(s->peak, fabs(audible));
        sort_in(s->histogram, fabs(weighted));
    }
    return weighted;
}

double es_flutter_needle(const es_flutter *f)
{
    return es_quasi_peak_reading(&f->detector);
}

/* Count in step i of what is used: the settled part, and the early one if `both`. */
static double in_step(const es_flutter *f, int both, size_t i)
{
    return (double)(f->settled.histogram[i] + (both ? f->early.histogram[i] : 0));
}

/* The level exceeded for 5 % of the time, straight inside its step. */
static double two_sigma(const es_flutter *f, int both, double counted)
{
    double above = 0.0, wanted = 0.05 * counted;
    for (size_t i = STEPS + 1; i-- > 1;) {
        double here = in_step(f, both, i);
        if (above + here >= wanted) {
            double low = magnitude_of(LOWEST_BITS + ((uint32_t)i << STEP_BITS));
            double high = magnitude_of(LOWEST_BITS + ((uint32_t)(i + 1) << STEP_BITS));
            return high - (high - low) * (wanted - above) / here;
        }
        above += here;
    }
    return 0.0;
}

es_flutter_figures es_flutter_figures_of(const es_flutter *f)
{
    const sums *e = &f->early, *s = &f->settled;
    double none = (double)NAN;
    double counted_s = (double)(e->counted + s->counted) / ES_READINGS_HZ;
    if (counted_s < LEAST_S)
        return (es_flutter_figures){counted_s, none, none, none, none, none, none, none};
    int both = s->counted < e->counted;
    double k = both ? 1.0 : 0.0, n = (double)s->counted + k * (double)e->counted;
    return (es_flutter_figures){
        .counted_s = counted_s,
        .weighted_quasi_peak = fmax(s->quasi_peak, k * e->quasi_peak),
        .weighted_two_sigma = two_sigma(f, both, n),
        .weighted_rms = sqrt((s->weighted + k * e->weighted) / n),
        .unweighted_peak = fmax(s->peak, k * e->peak),
        .unweighted_rms = sqrt((s->audible + k * e->audible) / n),
        .wow_rms = sqrt((s->wow + k * e->wow) / n),
        .flutter_rms = sqrt((s->flutter + k * e->flutter) / n),
    };
}
