#include "evenspool/signal/finder.h"

#include "evenspool/base/units.h"
#include "signal/fourier.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FRAME_S 0.08
#define LOWEST_TONE_HZ 290.0
#define HIGHEST_TONE 0.41 /* of the rate                                          */
#define LOBE_BINS 5.0     /* a line of the window and its skirt                   */
#define LOBE_SHARE 0.012  /* and what flutter does to it, of its frequency        */
#define HARMONICS_MOST 40
#define CLEAR 4.0 /* power of a harmonic over its surroundings                */
#define SILENCE_FS 1e-4
#define TONE_OVER_REST 1.6    /* power: one tone                                       */
#define SECOND_OVER_FIRST 0.1 /* power: a second tone of like strength                 */
#define SECOND_OVER_REST 3.0  /* power of both tones over what is left                 */

struct es_finder {
    double rate_hz, bin_hz;
    size_t frame, bins;
    float *window;
    es_fourier_real fourier; /* of the windowed frame */
    double *power; /* per bin: power of a sine there reads A^2 / 2 when summed over its lobe */
    double *spare; /* power with the first tone and its harmonics cut out                   */
    double window_power;
};

/* Four terms, side lobes 92 dB down (Harris 1978, Proc. IEEE 66; from memory). */
static double blackman_harris(double x)
{
    return 0.35875 - 0.48829 * cos(x) + 0.14128 * cos(2.0 * x) - 0.01168 * cos(3.0 * x);
}

static size_t frame_for(double rate_hz)
{
    size_t frame = 256;
    while ((double)frame < FRAME_S * rate_hz)
        frame *= 2;
    return frame;
}

es_status es_finder_create(double rate_hz, es_finder **out)
{
    *out = NULL;
    if (!(rate_hz >= 8000.0 && rate_hz <= 384000.0))
        return ES_ERR_ARG;
    es_finder *f = calloc(1, sizeof *f);
    if (!f)
        return ES_ERR_NOMEM;
    f->rate_hz = rate_hz;
    f->frame = frame_for(rate_hz);
    f->bins = f->frame / 2 + 1;
    f->bin_hz = rate_hz / (double)f->frame;
    f->window = calloc(f->frame, sizeof *f->window);
    f->power = calloc(f->bins, sizeof *f->power);
    f->spare = calloc(f->bins, sizeof *f->spare);
    es_status status = es_fourier_real_start(&f->fourier, f->frame);
    if (!f->window || !f->power || !f->spare || status != ES_OK) {
        es_finder_destroy(f);
        return ES_ERR_NOMEM;
    }
    for (size_t i = 0; i < f->frame; i++) {
        double w = blackman_harris(ES_TWO_PI * (double)i / (double)f->frame);
        f->window[i] = (float)w;
        f->window_power += w * w;
    }
    *out = f;
    return ES_OK;
}

void es_finder_destroy(es_finder *f)
{
    if (!f)
        return;
    free(f->window);
    free(f->power);
    free(f->spare);
    es_fourier_real_stop(&f->fourier);
    free(f);
}

size_t es_finder_frame(const es_finder *f)
{
    return f->frame;
}

/* --- spectrum ------------------------------------------------------------------- */

static void fill_power(es_finder *f, const float *in, size_t stride)
{
    double mean = 0.0;
    for (size_t i = 0; i < f->frame; i++)
        mean += (double)in[i * stride];
    float offset = (float)(mean / (double)f->frame);
    for (size_t i = 0; i < f->frame; i++)
        f->fourier.samples[i] = (in[i * stride] - offset) * f->window[i];
    es_fourier_real_run(&f->fourier);
    double scale = 2.0 / ((double)f->frame * f->window_power);
    for (size_t i = 0; i < f->bins; i++) {
        double re = (double)f->fourier.bin[i].re, im = (double)f->fourier.bin[i].im;
        f->power[i] = (re * re + im * im) * scale;
    }
    for (size_t i = 0; i < 4; i++)
        f->power[i] = 0.0; /* DC and its skirt */
}

static size_t bin_at(const es_finder *f, double hz)
{
    double bin = floor(hz / f->bin_hz + 0.5);
    return bin < 0.0 ? 0 : bin >= (double)f->bins ? f->bins - 1 : (size_t)bin;
}

/* Bins on either side that belong to a tone at hz. */
static size_t lobe(const es_finder *f, double hz)
{
    return (size_t)(LOBE_BINS + LOBE_SHARE * hz / f->bin_hz);
}

static double total(const double *power, size_t from, size_t to)
{
    double sum = 0.0;
    for (size_t i = from; i <= to; i++)
        sum += power[i];
    return sum;
}

typedef struct span {
    size_t from, to;
} span;

static span lobe_at(const es_finder *f, double hz)
{
    size_t middle = bin_at(f, hz), half = lobe(f, hz);
    span s = {middle > half ? middle - half : 0, middle + half};
    if (s.to >= f->bins)
        s.to = f->bins - 1;
    return s;
}

/* Power in the lobe, and what the noise beside it (the quieter side) would put there. */
static double lobe_power(const es_finder *f, const double *power, double hz, double *noise)
{
    span s = lobe_at(f, hz);
    size_t width = s.to - s.from + 1;
    double left = HUGE_VAL, right = HUGE_VAL;
    if (s.from >= width + 4)
        left = total(power, s.from - width, s.from - 1);
    if (s.to + width < f->bins)
        right = total(power, s.to + 1, s.to + width);
    *noise = fmin(left, right);
    if (*noise == HUGE_VAL)
        *noise = 0.0;
    return total(power, s.from, s.to);
}

static size_t strongest(const es_finder *f, const double *power, double low_hz, double high_hz)
{
    size_t from = bin_at(f, fmax(low_hz, LOWEST_TONE_HZ));
    size_t to = bin_at(f, fmin(high_hz, HIGHEST_TONE * f->rate_hz));
    size_t best = from;
    for (size_t i = from; i <= to; i++)
        if (power[i] > power[best])
            best = i;
    return best;
}

/* Centre of gravity of the lobe round a peak, narrow first so that a neighbour does not pull. */
static double peak_hz(const es_finder *f, const double *power, size_t peak)
{
    size_t from = peak > 2 ? peak - 2 : 0, to = peak + 2 < f->bins ? peak + 2 : f->bins - 1;
    double sum = 0.0, moment = 0.0;
    for (size_t i = from; i <= to; i++) {
        sum += power[i];
        moment += power[i] * (double)i;
    }
    return sum > 0.0 ? moment / sum * f->bin_hz : (double)peak * f->bin_hz;
}

/* --- tone and harmonics ------------------------------------------------------------ */

/* Where harmonic k of hz is found: a tone that was clipped after sampling folds at half the rate. */
static double harmonic_hz(const es_finder *f, double hz, int k)
{
    double at = fmod(k * hz, f->rate_hz);
    return at > f->rate_hz / 2.0 ? f->rate_hz - at : at;
}

static double harmonics_power(const es_finder *f, const double *power, double hz)
{
    double sum = 0.0;
    for (int k = 2; k <= HARMONICS_MOST; k++) {
        double at = harmonic_hz(f, hz, k);
        if (fabs(at - hz) < 0.02 * hz) /* folded onto the tone itself */
            continue;
        double noise, got = lobe_power(f, power, at, &noise);
        sum += fmax(0.0, got - noise);
    }
    return sum;
}

/* A tone rich in harmonics may have a weak fundamental: take it when it explains the rest. */
static double fundamental_hz(const es_finder *f, double hz, double low_hz)
{
    double noise, own = lobe_power(f, f->power, hz, &noise);
    for (int k = 5; k >= 2; k--) {
        double lower = hz / k;
        if (lower < fmax(low_hz, LOWEST_TONE_HZ))
            continue;
        double under, got = lobe_power(f, f->power, lower, &under);
        double there = peak_hz(f, f->power, strongest(f, f->power, lower * 0.98, lower * 1.02));
        if (got - under > 0.01 * own && got > 20.0 * under && fabs(there - lower) < 0.5 * f->bin_hz)
            return there;
    }
    return hz;
}

/* Puts the level of the neighbourhood where a tone and its harmonics stand. */
static void cut_out(const es_finder *f, double *power, double hz)
{
    for (int k = 1; k <= HARMONICS_MOST; k++) {
        double noise, at = harmonic_hz(f, hz, k), got = lobe_power(f, power, at, &noise);
        if (k > 1 && got < CLEAR * noise)
            continue; /* nothing but noise there: it stays noise */
        span s = lobe_at(f, at);
        for (size_t i = s.from; i <= s.to; i++)
            power[i] = noise / (double)(s.to - s.from + 1);
    }
}

/* A second tone, unrelated to the first, of like strength and clear of what is left. */
static int second_tone(es_finder *f, double first_power, double low_hz, double high_hz)
{
    size_t peak = strongest(f, f->spare, low_hz, high_hz);
    double noise, got = lobe_power(f, f->spare, peak_hz(f, f->spare, peak), &noise);
    double rest = total(f->spare, bin_at(f, LOWEST_TONE_HZ), f->bins - 1) - got;
    return got > SECOND_OVER_FIRST * first_power && got > 20.0 * noise &&
           first_power + got > SECOND_OVER_REST * rest;
}

es_finding es_finder_look(es_finder *f, const float *in, size_t stride, double low_hz,
                          double high_hz)
{
    es_finding found = {.hz = (double)NAN, .snr_db = (double)NAN, .amplitude_fs = 0.0};
    fill_power(f, in, stride);
    double all = total(f->power, 0, f->bins - 1);
    found.rms_fs = sqrt(all);
    if (found.rms_fs < SILENCE_FS)
        return found;
    double hz = peak_hz(f, f->power, strongest(f, f->power, low_hz, high_hz));
    hz = fundamental_hz(f, hz, low_hz);
    double under, tone = lobe_power(f, f->power, hz, &under);
    tone = fmax(tone - under, 1e-30);
    double harmonics = harmonics_power(f, f->power, hz);
    memcpy(f->spare, f->power, f->bins * sizeof *f->power);
    cut_out(f, f->spare, hz);
    double noise = total(f->spare, bin_at(f, 20.0), f->bins - 1);
    found.hz = hz;
    found.amplitude_fs = sqrt(2.0 * tone);
    found.snr_db = 10.0 * log10(tone / fmax(noise, 1e-30));
    double rest = total(f->spare, bin_at(f, LOWEST_TONE_HZ), f->bins - 1);
    if (second_tone(f, tone, 0.0, HUGE_VAL))
        found.sound = ES_SOUND_TONES;
    else if (tone + harmonics > TONE_OVER_REST * rest && tone > 20.0 * under)
        found.sound = ES_SOUND_TONE;
    else
        found.sound = ES_SOUND_OTHER;
    return found;
}
