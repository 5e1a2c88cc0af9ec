#include "task/check_inside.h"

#include "evenspool/base/text.h"
#include "evenspool/base/units.h"
#include "evenspool/signal/tone_fit.h"
#include "evenspool/trust/uncertainty.h"

#include <math.h>
#include <string.h>

#define CLOCK_LIMIT_PPM 100.0 /* unmeasured sound cards; common practice, no source      */
#define CLOCK_LEFT_PPM 5.0    /* what warmth leaves of a measured one; common practice   */
#define COUNTED_LEAST_S 1.0
#define PRESENT_LEAST 0.4 /* of the time that is not silent: less is programme, not a tone */
#define BEATING 0.33      /* rms swing of the level: equal tones give 0.48, a bad tape 0.1 */
#define BAD_FRAMES_MOST 0.01
#define COMPONENT_LEAST_PERCENT 0.002 /* smaller swings are of no use at a bench                 */
#define RELIABLE_S 5.0                /* AES6: at least 5 s for the two-sigma figure              */

static double span_s(const es_check *c)
{
    uint64_t end = c->frames < c->end ? c->frames : c->end;
    uint64_t kept = c->begin + c->skipped;
    return end > kept ? (double)(end - kept) / c->config.rate_hz : 0.0;
}

/* --- refusing ------------------------------------------------------------------------------- */

static int beats(const es_check *c)
{
    const es_check_tone *t = &c->tone;
    return t->levels >= 2400 && t->beat_square > BEATING * BEATING * (double)t->levels;
}

/* Share of the time in which anything sounds that a steady tone takes. */
static double share_of_sound(const es_check *c, double counted_s)
{
    es_ear_tally tally = es_ear_tally_of(c->ear);
    double silent_s = (double)tally.silent * es_ear_frame_s(c->ear);
    return counted_s / fmax(span_s(c) - silent_s, counted_s);
}

int es_check_is_sound(es_check *c)
{
    es_trend_figures f = es_trend_figures_of(c->trend);
    if (f.counted_s < COUNTED_LEAST_S || share_of_sound(c, f.counted_s) < PRESENT_LEAST)
        return 0;
    return !beats(c) && (double)c->bad_frames < BAD_FRAMES_MOST * (double)c->watched_samples;
}

es_status es_check_refuse(const es_check *c, es_error *error)
{
    es_ear_tally t = es_ear_tally_of(c->ear);
    double seconds = span_s(c);
    if (c->frames == 0)
        return es_fail(error, ES_ERR_INPUT, "empty", "There are no samples in it; record again.");
    if (seconds == 0.0)
        return es_fail(error, ES_ERR_INPUT, "empty",
                       "The part asked for lies beyond its end; choose an earlier --start.");
    if ((double)c->bad_frames >= BAD_FRAMES_MOST * (double)c->watched_samples)
        return es_fail(error, ES_ERR_INPUT, "not-finite",
                       "%.1f %% of its samples are not numbers; export it again.",
                       100.0 * (double)c->bad_frames / (double)c->watched_samples);
    if (5 * t.tones > 2 * t.frames || (c->channel && beats(c)))
        return es_fail(error, ES_ERR_INPUT, "two-tones",
                       "More than one tone sounds at once; play a tape with a single test tone.");
    if (t.frames > 0 && t.silent == t.frames && !c->channel)
        return es_fail(
            error, ES_ERR_INPUT, "silence",
            "It is silent; check the cable, the input and its level, then record again.");
    if (2 * t.astray > t.frames && c->config.nominal_hz > 0.0)
        return es_fail(
            error, ES_ERR_INPUT, "wrong-tone",
            "A steady tone of %.0f Hz is heard, not one near %.0f Hz; name the tone that "
            "was recorded with --tone.",
            t.astray_hz, c->config.nominal_hz);
    if (seconds < 3.0)
        return es_fail(error, ES_ERR_INPUT, "too-short",
                       "It lasts only %.1f s; 3 s of steady tone are needed, 30 s are better.",
                       seconds);
    if (c->channel)
        return es_fail(
            error, ES_ERR_INPUT, "no-tone",
            "A steady test tone sounds for too little of it; choose the part with the tone "
            "by --start and --end.");
    return es_fail(error, ES_ERR_INPUT, "no-tone",
                   "No steady test tone is in it (music, speech or noise?); play a test tone and "
                   "record again.");
}

/* --- figures ----------------------------------------------------------------------------------- */

static void report_capture(const es_check *c, es_check_result *r)
{
    es_capture_facts *f = &r->capture;
    f->samplerate_hz = (int)c->config.rate_hz;
    f->channels = c->config.channels;
    f->duration_s = (double)c->frames / c->config.rate_hz;
    f->bits = c->config.bits;
    f->channel_used = c->channel;
    memcpy(f->channel_why, c->channel_why, sizeof f->channel_why);
    f->clipped_percent = c->watched_samples
                             ? 100.0 * (double)c->full_scale / (double)c->watched_samples
                             : (double)NAN;
}

static void report_tone(const es_check *c, const es_trend_figures *t, es_check_result *r)
{
    es_tone_facts *f = &r->tone;
    f->nominal_hz = c->nominal_hz;
    f->nominal_source = c->config.nominal_hz > 0.0 ? c->config.nominal_source : ES_NOMINAL_NEAREST;
    f->measured_hz = t->mean;
    f->snr_db = c->tone.signal_power > 0.0
                    ? 10.0 * log10(c->tone.signal_power / fmax(c->tone.noise_power, 1e-30))
                    : (double)NAN;
    f->present_percent = 100.0 * t->counted_s / span_s(c);
    f->dropouts = (int)es_stretch_gaps(c->stretch);
}

static void add_line(es_speed_facts *s, const char *source, double u)
{
    es_budget_line *line = &s->budget[s->budget_count++];
    es_text text = es_text_over(line->source, sizeof line->source);
    es_text_add(&text, "%s", source);
    line->u_percent = 100.0 * u;
}

/* Standard uncertainty of the mean from noise alone, by the bound for the whole window. */
static double noise_u(const es_check *c, const es_trend_figures *t, const es_tone_facts *tone)
{
    double snr = pow(10.0, tone->snr_db / 10.0);
    return es_frequency_bound_hz(c->config.rate_hz, t->counted_s, snr) / t->mean;
}

static void report_uncertainty(const es_check *c, const es_trend_figures *t, es_check_result *r)
{
    es_speed_facts *s = &r->speed;
    int clock_known = !isnan(c->config.clock_ppm), tape_known = !isnan(c->config.tape_error);
    double clock_limit = 1e-6 * (clock_known ? CLOCK_LEFT_PPM : CLOCK_LIMIT_PPM);
    double noise = noise_u(c, t, &r->tone);
    double flutter = t->mean_u / t->mean;
    double tape = tape_known ? c->config.tape_u : (double)NAN;
    add_line(s, "flutter over a limited time", flutter);
    add_line(s, "noise", noise);
    add_line(s, clock_known ? "sound clock, after correction" : "sound clock, not measured",
             es_u_from_limit(ES_SHAPE_RECTANGULAR, clock_limit));
    add_line(s, tape_known ? "tape, as certified" : "tape, not known", tape);
    double widened = flutter * es_coverage_factor(ES_LEVEL_95, t->mean_dof) / 1.959964;
    double normal = sqrt(widened * widened + noise * noise + (isnan(tape) ? 0.0 : tape * tape));
    s->u95_percent = 100.0 * es_expanded_by_shape(ES_LEVEL_95, normal, &clock_limit, 1);
    if (isnan(tape))
        es_notes_add(&r->warnings, "tape-not-known",
                     tape_known
                         ? "The tape's own error was taken off, but not how sure it is: the "
                           "uncertainty leaves the tape out (--tape-u95)."
                         : "The tape is taken as recorded at true speed; its own error is not in "
                           "the uncertainty (--tape-error, --tape-u95).");
}

static void report_speed(const es_check *c, const es_trend_figures *t, es_check_result *r)
{
    es_speed_facts *s = &r->speed;
    double tape = isnan(c->config.tape_error) ? 0.0 : c->config.tape_error;
    double clock = isnan(c->config.clock_ppm) ? 0.0 : 1e-6 * c->config.clock_ppm;
    double nominal = c->nominal_hz;
    double error = es_true_error(t->mean / nominal - 1.0, tape, clock);
    s->heard_percent = 100.0 * (t->mean / nominal - 1.0);
    s->error_percent = 100.0 * error;
    s->cents = es_cents(error);
    s->drift_percent_per_min = 100.0 * 60.0 * t->slope_per_s / nominal;
    s->start_percent = 100.0 * es_true_error(t->start / nominal - 1.0, tape, clock);
    s->end_percent = 100.0 * es_true_error(t->end / nominal - 1.0, tape, clock);
    s->tape_error_percent = 100.0 * c->config.tape_error;
    s->clock_ppm = c->config.clock_ppm;
    report_uncertainty(c, t, r);
}

static void report_flutter(const es_check *c, const es_trend_figures *t, es_check_result *r)
{
    es_flutter_figures f = es_flutter_figures_of(c->flutter);
    double percent = 100.0 * c->reference_hz / t->mean; /* of the mean heard, exactly */
    r->flutter = (es_flutter_facts){
        .weighted_quasi_peak_percent = percent * f.weighted_quasi_peak,
        .weighted_two_sigma_percent = percent * f.weighted_two_sigma,
        .weighted_rms_percent = percent * f.weighted_rms,
        .unweighted_peak_percent = percent * f.unweighted_peak,
        .unweighted_rms_percent = percent * f.unweighted_rms,
        .wow_rms_percent = percent * f.wow_rms,
        .flutter_rms_percent = percent * f.flutter_rms,
        .band_hz = {0.1, es_tone_tracker_band_hz(c->tracker)},
    };
    r->flutter.reliable = f.counted_s >= RELIABLE_S && r->tone.snr_db >= 10.0;
    if (f.counted_s < RELIABLE_S)
        es_notes_add(
            &r->warnings, "short-for-flutter",
            "Only %.1f s of steady tone: wow and flutter want at least 5 s, 30 s are better.",
            f.counted_s);
    if (r->flutter.band_hz[1] < 200.0)
        es_notes_add(
            &r->warnings, "narrow-band",
            "So low a tone carries flutter only up to %.0f Hz; the figures leave out what is "
            "faster.",
            r->flutter.band_hz[1]);
}

static void report_components(es_check *c, es_check_result *r)
{
    double error = r->speed.error_percent / 100.0, speed = isnan(error) ? 1.0 : 1.0 + error;
    size_t found = es_lines_finish(c->lines, r->components, ES_COMPONENTS_MOST, &r->spectrum);
    while (found > 0 && r->components[found - 1].peak_percent < COMPONENT_LEAST_PERCENT)
        found--; /* largest come first */
    r->component_count = found;
    for (size_t i = 0; i < r->component_count; i++) {
        es_component *part = &r->components[i];
        /* the geometry knows the rates at nominal speed */
        double at_nominal_hz = part->rate_hz / speed;
        es_part suspect =
            es_suspect_of(&c->config.geometry, at_nominal_hz, part->rate_slope_hz_per_min);
        es_text name = es_text_over(part->suspect, sizeof part->suspect);
        es_text_add(&name, "%s", es_part_name(suspect));
    }
}

static void report_stereo(const es_check *c, const es_trend_figures *t, es_check_result *r)
{
    es_stereo_figures f = es_stereo_figures_of(&c->stereo, t->mean);
    r->stereo = (es_stereo_facts){
        .known = c->mate_channel && f.known,
        .delay_us = 1e6 * f.delay_s,
        .delay_period_us = f.known ? 1e6 / t->mean : (double)NAN,
        .level_difference_db = es_db(f.level_ratio),
        .opposed = f.opposed,
    };
    if (c->mate_channel && !f.known)
        es_notes_add(&r->warnings, "one-channel",
                     "The %s channel does not carry the tone: azimuth and balance can't be seen.",
                     c->mate_channel % 2 ? "left" : "right");
}

static void report_trace(const es_check *c, es_check_result *r)
{
    es_speed_trace *trace = &r->trace;
    const es_trend_block *block = es_trend_blocks(c->trend, &trace->count, &trace->step_s);
    double tape = isnan(c->config.tape_error) ? 0.0 : c->config.tape_error;
    double clock = isnan(c->config.clock_ppm) ? 0.0 : 1e-6 * c->config.clock_ppm;
    for (size_t i = 0; i < trace->count; i++) {
        const es_trend_block *b = &block[i];
        double hz[3] = {b->count ? b->sum / (double)b->count : (double)NAN,
                        b->count ? b->low : (double)NAN, b->count ? b->high : (double)NAN};
        float *to[3] = {&trace->mean[i], &trace->low[i], &trace->high[i]};
        for (int k = 0; k < 3; k++)
            *to[k] = (float)(100.0 * es_true_error(hz[k] / c->nominal_hz - 1.0, tape, clock));
    }
}

static void report_level(const es_check *c, es_check_result *r)
{
    if (r->capture.clipped_percent > 0.1)
        es_notes_add(&r->warnings, "clipped",
                     "%.1f %% of the samples are at full scale: turn the input down.",
                     r->capture.clipped_percent);
    double level = c->tone.levels ? c->tone.level_sum / (double)c->tone.levels : 0.0;
    if (c->tone.levels && level < 0.01)
        es_notes_add(&r->warnings, "quiet",
                     "The tone is only %.0f dB below full scale: turn the "
                     "input up.",
                     -es_db(level));
    if (c->bad_frames)
        es_notes_add(&r->warnings, "not-finite", "%llu frames are not numbers; they were left out.",
                     (unsigned long long)c->bad_frames);
}

void es_check_report(es_check *c, es_check_result *r)
{
    es_trend_figures t = es_trend_figures_of(c->trend);
    r->warnings = c->warnings;
    report_capture(c, r);
    report_tone(c, &t, r);
    report_speed(c, &t, r);
    report_flutter(c, &t, r);
    report_components(c, r);
    report_stereo(c, &t, r);
    report_trace(c, r);
    report_level(c, r);
    es_gate_judge(&c->config.limits, t.counted_s, r);
}
