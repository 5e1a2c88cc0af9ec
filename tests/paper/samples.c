#include "samples.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

static double noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u; /* from memory: a well-known congruential generator */
    return (double)(*seed >> 8) / 16777216.0 * 2.0 - 1.0;
}

static void fill_nan(double *first, size_t bytes)
{
    for (size_t i = 0; i < bytes / sizeof *first; i++)
        first[i] = (double)NAN;
}

static void make_unknown(es_check_result *r)
{
    memset(r, 0, sizeof *r);
    r->capture.duration_s = r->capture.clipped_percent = (double)NAN;
    r->capture.samplerate_hz = 44100;
    r->capture.channels = 1;
    r->tone.nominal_hz = r->tone.measured_hz = r->tone.snr_db = r->tone.present_percent =
        (double)NAN;
    fill_nan(&r->speed.error_percent, 9 * sizeof(double));
    fill_nan(&r->flutter.weighted_quasi_peak_percent, 9 * sizeof(double));
    r->stereo.delay_us = r->stereo.delay_period_us = r->stereo.level_difference_db = (double)NAN;
    r->speed.budget_count = 2;
    snprintf(r->speed.budget[0].source, sizeof r->speed.budget[0].source, "tape");
    snprintf(r->speed.budget[1].source, sizeof r->speed.budget[1].source, "clock");
    r->speed.budget[0].u_percent = r->speed.budget[1].u_percent = (double)NAN;
    r->trace.step_s = (double)NAN;
    es_notes_add(&r->gate.reasons, "no-speed", "No steady tone was found in this capture.");
}

/* A trace of `count` steps round the mean with a slow wave, drift and random width. */
static void make_trace(es_check_result *r, size_t count, double wave, double drift)
{
    uint32_t seed = 7;
    r->trace.count = count;
    r->trace.step_s = r->capture.duration_s / (double)count;
    for (size_t i = 0; i < count; i++) {
        double share = (double)i / (double)count - 0.5;
        double mean = r->speed.error_percent + drift * share + wave * sin((double)i * 0.21) +
                      0.3 * wave * noise(&seed);
        r->trace.mean[i] = (float)mean;
        r->trace.low[i] = (float)(mean - wave * (2.0 + noise(&seed)));
        r->trace.high[i] = (float)(mean + wave * (2.0 + noise(&seed)));
    }
}

static void make_spectrum(es_check_result *r, double level, double high_hz)
{
    uint32_t seed = 99;
    r->spectrum.count = 0;
    for (size_t i = 0; i < ES_SPECTRUM_POINTS; i++) {
        double rate = 0.1 * pow(2000.0, (double)i / (ES_SPECTRUM_POINTS - 1));
        if (rate > high_hz)
            break;
        double ground = level * (0.4 + 0.6 / sqrt(rate)) * 0.2;
        double peak = ground * (1.3 + 0.7 * noise(&seed));
        for (size_t k = 0; k < r->component_count; k++) {
            double away = log(rate / r->components[k].rate_hz) / 0.015;
            peak = fmax(peak, r->components[k].peak_percent * exp(-away * away));
        }
        r->spectrum.rate_hz[i] = (float)rate;
        r->spectrum.peak_percent[i] = (float)peak;
        r->spectrum.floor_percent[i] = (float)ground;
        r->spectrum.count++;
    }
}

static void add_component(es_check_result *r, double rate_hz, double peak, const char *suspect)
{
    es_component *c = &r->components[r->component_count++];
    *c = (es_component){.rate_hz = rate_hz,
                        .peak_percent = peak,
                        .rate_slope_hz_per_min = -0.02 * peak,
                        .share_percent = 60.0 * peak,
                        .significance_db = 20.0};
    snprintf(c->suspect, sizeof c->suspect, "%s", suspect);
}

static void make_slow(es_check_result *r)
{
    static const es_budget_line budget[] = {{"flutter, finite time", 0.0031},
                                            {"noise", 0.0002},
                                            {"tape", 0.05},
                                            {"clock", (double)NAN}};
    make_unknown(r);
    r->capture = (es_capture_facts){48000, 2, 61.4, 24, 0.0, 1, "the louder of the two"};
    r->tone = (es_tone_facts){3150.0, ES_NOMINAL_NEAREST, 3110.94, 51.3, 99.8, 0};
    r->speed.error_percent = -1.2384;
    r->speed.u95_percent = 0.1003;
    r->speed.cents = -21.57;
    r->speed.heard_percent = -1.2400;
    r->speed.drift_percent_per_min = 0.004;
    r->speed.start_percent = -1.2411;
    r->speed.end_percent = -1.2369;
    r->speed.tape_error_percent = 0.40;
    r->speed.budget_count = 4;
    memcpy(r->speed.budget, budget, sizeof budget);
    r->flutter =
        (es_flutter_facts){0.0912, 0.0853, 0.0441, 0.2103, 0.0712, 0.0431, 0.0567, {0.1, 200.0}, 1};
    r->stereo = (es_stereo_facts){1, 3.27, 317.46, -0.42, 0};
    add_component(r, 9.97, 0.061, "capstan");
    add_component(r, 1.26, 0.043, "pinch roller");
    add_component(r, 0.47, 0.031, "take-up reel");
    add_component(r, 43.8, 0.012, "");
    make_trace(r, 1024, 0.04, 0.01);
    make_spectrum(r, 0.01, 200.0);
    r->gate.verdict = ES_VERDICT_ADJUST;
    r->gate.reasons.count = r->warnings.count = 0;
    es_notes_add(&r->gate.reasons, "steady",
                 "The speed is off by 1.24 %% and steady: drift, flutter and every component stay "
                 "inside their limits.");
    es_notes_add(
        &r->warnings, "clock-unknown",
        "The sound card's clock error is not known; it is usually below 0.01 %%, and it is "
        "not part of the uncertainty.");
}

static void make_fault(es_check_result *r)
{
    make_slow(r);
    r->speed.error_percent = 0.87;
    r->speed.u95_percent = 0.12;
    r->speed.cents = 15.0;
    r->speed.heard_percent = 0.47;
    r->speed.drift_percent_per_min = -0.31;
    r->tone.dropouts = 7;
    r->tone.present_percent = 88.2;
    r->component_count = 0;
    add_component(r, 1.31, 0.74, "pinch roller");
    add_component(r, 2.62, 0.20, "pinch roller");
    add_component(r, 9.9, 0.11, "capstan or belt");
    add_component(r, 24.6, 0.08, "motor");
    add_component(r, 100.0, 0.03, "");
    make_trace(r, 614, 0.25, -0.4);
    for (size_t i = 120; i < 160; i++)
        r->trace.mean[i] = r->trace.low[i] = r->trace.high[i] = NAN;
    for (size_t i = 400; i < 431; i++)
        if (i != 415)
            r->trace.mean[i] = r->trace.low[i] = r->trace.high[i] = NAN;
    make_spectrum(r, 0.02, 200.0);
    r->gate.verdict = ES_VERDICT_LOOK_FIRST;
    r->gate.reasons.count = 0;
    es_notes_add(
        &r->gate.reasons, "component",
        "A component at 1.31 Hz swings the speed by 0.74 %%: the pinch roller turns at that "
        "rate. Look for a flat, a hardened or a dirty roller first.");
    es_notes_add(&r->gate.reasons, "drift",
                 "The speed falls by 0.31 %% a minute: a trimmer can't cure what moves on.");
    es_notes_add(&r->gate.reasons, "dropouts",
                 "The tone broke off 7 times a minute: clean the heads and the path.");
    es_notes_add(
        &r->warnings, "nominal-ambiguous",
        "3150 Hz was taken as the nearest test tone; were it a 3000 Hz tape, the deck would "
        "be 5.9 %% fast.");
}

static void make_good(es_check_result *r)
{
    make_slow(r);
    r->capture = (es_capture_facts){44100, 1, 118.0, 16, 0.0, 1, ""};
    r->tone.nominal_source = ES_NOMINAL_TAPE;
    r->speed.error_percent = 0.004;
    r->speed.u95_percent = 0.0061;
    r->speed.cents = 0.07;
    r->speed.start_percent = 0.003;
    r->speed.end_percent = 0.005;
    r->stereo.known = 0;
    r->component_count = 0;
    make_trace(r, 1000, 0.02, 0.0);
    make_spectrum(r, 0.01, 200.0);
    r->gate.verdict = ES_VERDICT_LEAVE;
    r->gate.reasons.count = r->warnings.count = 0;
    es_notes_add(&r->gate.reasons, "within-tolerance",
                 "The error and its uncertainty together are inside the tolerance of 0.3 %%.");
}

static void make_crowded(es_check_result *r)
{
    make_fault(r);
    r->component_count = 0;
    for (int i = 0; i < ES_COMPONENTS_MOST; i++)
        add_component(r, 4.0 + 0.9 * i, 0.5 / (1.0 + i % 5), i % 3 ? "capstan or belt" : "");
    make_spectrum(r, 0.02, 200.0);
}

static void fill_words(char *at, size_t room, const char *words)
{
    size_t length = strlen(words);
    for (size_t i = 0; i + 1 < room; i++)
        at[i] = words[i % length];
    at[room - 1] = '\0';
}

static void fill_notes(es_notes *notes)
{
    notes->count = ES_NOTES_MOST;
    for (size_t i = 0; i < ES_NOTES_MOST; i++) {
        snprintf(notes->at[i].code, sizeof notes->at[i].code, "code-%zu", i);
        fill_words(notes->at[i].text, sizeof notes->at[i].text,
                   "A sentence that goes on about the pinch roller, and on. ");
    }
}

static void make_wordy(es_check_result *r)
{
    make_crowded(r);
    fill_words(r->capture.channel_why, sizeof r->capture.channel_why, "because it was louder and ");
    for (size_t i = 0; i < r->component_count; i++)
        fill_words(r->components[i].suspect, sizeof r->components[i].suspect,
                   "supply reel, wobbly ");
    r->speed.budget_count = ES_BUDGET_MOST;
    for (size_t i = 0; i < ES_BUDGET_MOST; i++) {
        fill_words(r->speed.budget[i].source, sizeof r->speed.budget[i].source,
                   "tape's certificate ");
        r->speed.budget[i].u_percent = 0.0123;
    }
    r->speed.error_percent = -12.34567;
    r->speed.u95_percent = 0.00012;
    r->speed.heard_percent = -12.3;
    r->flutter.reliable = 0;
    r->stereo.opposed = 1;
    r->speed.clock_ppm = -12345.6;
    make_trace(r, 1, 0.1, 0.0);
    fill_notes(&r->gate.reasons);
    fill_notes(&r->warnings);
}

static void make_ramp(es_check_result *r)
{
    make_slow(r);
    r->capture.duration_s = 3.0 * 3600.0;
    r->tone.nominal_hz = 440.0;
    r->tone.measured_hz = 434.55;
    r->flutter.band_hz[1] = 60.0;
    make_trace(r, 1000, 0.03, 0.15);
    for (size_t i = 0; i < 6; i++)
        r->trace.low[i] = r->trace.mean[i] = (float)(-15.0 + 2.0 * (double)i);
    r->trace.high[500] = 6.0f;
    make_spectrum(r, 0.01, 60.0);
}

const char *sample_name(sample which)
{
    static const char *const name[SAMPLE_COUNT] = {"slow",    "fault", "good", "unknown",
                                                   "crowded", "wordy", "ramp"};
    return name[which];
}

void sample_fill(sample which, es_check_result *result)
{
    static void (*const make[SAMPLE_COUNT])(es_check_result *) = {
        make_slow, make_fault, make_good, make_unknown, make_crowded, make_wordy, make_ramp};
    make[which](result);
}
