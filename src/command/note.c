#include "command/note.h"

#include "command/figure.h"
#include "command/say.h"
#include "evenspool/base/text.h"

#include <math.h>
#include <string.h>

#define NAME_WIDE 20
#define FIGURE_WIDE 19
#define UNSURE_TONE "nominal-ambiguous" /* the warning that another tone may have been recorded */

static const char *direction(double error_percent)
{
    return error_percent < 0.0 ? "slow" : "fast";
}

static void heading(const es_paint *paint, const char *text)
{
    fputc('\n', paint->out);
    es_paint_text(paint, ES_STRONG, text);
    fputc('\n', paint->out);
}

/* "  name            figure   remark", the remark in as many lines as it needs. */
static void row(FILE *out, const char *name, const char *figure, const char *remark)
{
    char first[NAME_WIDE + FIGURE_WIDE + 16], rest[sizeof first];
    es_text start = es_text_over(first, sizeof first);
    es_text_add(&start, "  %-*s %-*s", NAME_WIDE, name, remark[0] ? FIGURE_WIDE : 0, figure);
    if (!remark[0]) {
        fprintf(out, "%s\n", first);
        return;
    }
    es_text_add(&start, " ");
    es_text blank = es_text_over(rest, sizeof rest);
    es_text_add(&blank, "%*s", (int)start.length, "");
    es_wrap(out, first, rest, remark);
}

/* A figure with its decimals, sign and unit; a dash and the reason when it can't be known. */
typedef struct format {
    int decimals, sign;
    const char *unit, *why_not;
} format;

static void figure_row(FILE *out, const char *name, double value, const format *as,
                       const char *remark)
{
    char room[48];
    es_text figure = es_text_over(room, sizeof room);
    if (isnan(value)) {
        es_text_add(&figure, "%8s", "-");
    } else {
        es_figure_add(&figure, value, as->decimals, as->sign);
        es_text_add(&figure, " %s", as->unit);
    }
    row(out, name, room, isnan(value) ? as->why_not : remark);
}

/* --- verdict ------------------------------------------------------------------------ */

static void verdict_words(es_text *text, const es_check_result *r)
{
    double error = r->speed.error_percent;
    switch (r->gate.verdict) {
    case ES_VERDICT_ADJUST:
        es_text_add(text, "the deck is %.2f %% %s; it needs to run %s.", fabs(error),
                    direction(error), error < 0.0 ? "faster" : "slower");
        break;
    case ES_VERDICT_LEAVE:
        es_text_add(text, "the deck is %.2f %% %s, which is near enough.", fabs(error),
                    direction(error));
        break;
    case ES_VERDICT_LOOK_FIRST:
        es_text_add(text, "do not touch the trimmer until this is settled.");
        break;
    }
}

static void print_verdict(const es_paint *paint, const es_check_result *r)
{
    static const struct {
        const char *word;
        es_emphasis how;
    } verdicts[] = {[ES_VERDICT_ADJUST] = {"Adjust:", ES_CAREFUL},
                    [ES_VERDICT_LOOK_FIRST] = {"Look first:", ES_WRONG},
                    [ES_VERDICT_LEAVE] = {"Leave it:", ES_GOOD}};
    char room[160];
    es_text words = es_text_over(room, sizeof room);
    verdict_words(&words, r);
    es_paint_text(paint, verdicts[r->gate.verdict].how, verdicts[r->gate.verdict].word);
    es_wrap(paint->out, " ", "  ", room);
    if (r->gate.reasons.count)
        fputc('\n', paint->out);
    for (size_t i = 0; i < r->gate.reasons.count; i++)
        es_wrap(paint->out, "  * ", "    ", r->gate.reasons.at[i].text);
    const es_note *which = es_notes_find(&r->warnings, UNSURE_TONE);
    if (which && r->gate.verdict == ES_VERDICT_ADJUST) /* it decides which way to turn */
        es_wrap(paint->out, "  * ", "    ", which->text);
}

static void print_caution(const es_paint *paint, es_verdict verdict)
{
    if (verdict != ES_VERDICT_ADJUST)
        return;
    heading(paint, "Before you open the deck");
    es_wrap(paint->out, "  ", "  ",
            "Mains voltage may be a finger's breadth from the trimmer. Use a tool that does not "
            "conduct, keep one hand away, and make small turns. The rules where you live come "
            "first: where they ask for a licensed person, or where you are unsure, let such a "
            "person do it.");
}

/* --- speed -------------------------------------------------------------------------- */

static void error_row(FILE *out, const es_speed_facts *s)
{
    char room[48], remark[96];
    es_text figure = es_text_over(room, sizeof room), more = es_text_over(remark, sizeof remark);
    if (isnan(s->error_percent)) {
        row(out, "error", "       -", "not known: no usual test tone was heard (--tone)");
        return;
    }
    es_figure_add(&figure, s->error_percent, 3, 1);
    es_text_add(&figure, " %%");
    if (isnan(s->u95_percent))
        es_text_add(&figure, " +- ?");
    else
        es_text_add(&figure, s->u95_percent < 0.0005 ? " +- < 0.001" : " +- %.3f", s->u95_percent);
    es_text_add(&more, "%s, %+.1f cents", direction(s->error_percent), s->cents);
    row(out, "error", room, remark);
}

static void print_speed(const es_paint *paint, const es_check_result *r)
{
    const es_speed_facts *s = &r->speed;
    const char *unknown =
        isnan(s->error_percent) ? "not known, like the error" : "not known: too little steady tone";
    format percent = {3, 1, "%", unknown}, drift = {3, 1, "%/min", unknown};
    format tape = {3, 1, "%", "not given (--tape-error)"};
    format clock = {1, 1, "ppm", "not given (--clock-ppm)"};
    heading(paint, "Speed");
    error_row(paint->out, s);
    figure_row(paint->out, "drift", s->drift_percent_per_min, &drift, "");
    figure_row(paint->out, "at the start", s->start_percent, &percent, "");
    figure_row(paint->out, "at the end", s->end_percent, &percent, "");
    figure_row(paint->out, "as heard", s->heard_percent, &percent, "tape and clock still in it");
    figure_row(paint->out, "tape's own error", s->tape_error_percent, &tape, "taken off");
    figure_row(paint->out, "clock's error", s->clock_ppm, &clock, "taken off");
}

static void print_budget(const es_paint *paint, const es_speed_facts *s)
{
    if (s->budget_count == 0)
        return;
    heading(paint, "What the uncertainty is made of (standard uncertainties)");
    for (size_t i = 0; i < s->budget_count; i++) {
        char room[48];
        es_text figure = es_text_over(room, sizeof room);
        double u = s->budget[i].u_percent;
        if (isnan(u))
            es_text_add(&figure, "%9s   not known, so left out", "-");
        else if (u < 0.00005)
            es_text_add(&figure, "< %7.4f %%", 0.0001);
        else
            es_text_add(&figure, "%9.4f %%", u);
        fprintf(paint->out, "  %-32s %s\n", s->budget[i].source, room);
    }
}

/* --- flutter ------------------------------------------------------------------------ */

static void print_flutter(const es_paint *paint, const es_flutter_facts *f)
{
    format percent = {3, 0, "%", "not known: too little steady tone"};
    char band[64];
    es_text text = es_text_over(band, sizeof band);
    if (!isnan(f->band_hz[1]))
        es_text_add(&text, "%g to %g Hz", f->band_hz[0], f->band_hz[1]);
    heading(paint, f->reliable ? "Wow and flutter (of the mean speed heard)"
                               : "Wow and flutter (not reliable: too short or too noisy)");
    FILE *out = paint->out;
    figure_row(out, "weighted, two-sigma", f->weighted_two_sigma_percent, &percent,
               "exceeded 5 % of the time");
    figure_row(out, "weighted, quasi-peak", f->weighted_quasi_peak_percent, &percent,
               "largest reading of the needle");
    figure_row(out, "weighted, rms", f->weighted_rms_percent, &percent, "");
    figure_row(out, "unweighted, peak", f->unweighted_peak_percent, &percent, band);
    figure_row(out, "unweighted, rms", f->unweighted_rms_percent, &percent, band);
    figure_row(out, "wow", f->wow_rms_percent, &percent, "rms, up to 10 Hz");
    figure_row(out, "flutter", f->flutter_rms_percent, &percent, "rms, above 10 Hz");
}

static void component_words(es_text *text, const es_component *c)
{
    es_text_add(text, "%s", c->suspect[0] ? c->suspect : "no part is known for it");
    if (c->harmonics)
        es_text_add(text, ", %d multiple%s", c->harmonics, c->harmonics > 1 ? "s" : "");
    if (fabs(c->rate_slope_hz_per_min) >= 0.0005)
        es_text_add(text, ", slides %+.3f Hz/min", c->rate_slope_hz_per_min);
}

static void print_components(const es_paint *paint, const es_check_result *r)
{
    if (r->component_count == 0)
        return;
    heading(paint, "What swings");
    fprintf(paint->out, "       rate        peak    share   likely part\n");
    for (size_t i = 0; i < r->component_count; i++) {
        const es_component *c = &r->components[i];
        char first[64], words[128];
        es_text start = es_text_over(first, sizeof first);
        es_text more = es_text_over(words, sizeof words);
        es_text_add(&start, "%8.3f Hz  %8.3f %%  %5.0f %%   ", c->rate_hz, c->peak_percent,
                    c->share_percent);
        component_words(&more, c);
        es_wrap(paint->out, first, "                                  ", words);
    }
}

/* --- the rest ------------------------------------------------------------------------ */

static void print_stereo(const es_paint *paint, const es_check_result *r)
{
    const es_stereo_facts *s = &r->stereo;
    if (r->capture.channels < 2)
        return;
    heading(paint, "Left and right");
    if (!s->known) {
        fprintf(paint->out, "  Not known: only one channel carries the tone.\n");
        return;
    }
    format delay = {1, 1, "us", "not known"}, level = {2, 1, "dB", "not known"};
    char modulo[64] = "";
    es_text text = es_text_over(modulo, sizeof modulo);
    if (!isnan(s->delay_period_us))
        es_text_add(&text, "or that +- n times %.1f us", s->delay_period_us);
    figure_row(paint->out, "right is later by", s->delay_us, &delay, modulo);
    figure_row(paint->out, "right is louder by", s->level_difference_db, &level, "");
    row(paint->out, "polarity", s->opposed ? " opposed" : "    same",
        s->opposed ? "one channel is upside down" : "");
}

static const char *nominal_words(const es_tone_facts *tone)
{
    switch (tone->nominal_source) {
    case ES_NOMINAL_GIVEN:
        return "as given";
    case ES_NOMINAL_TAPE:
        return "by the tape's record";
    default:
        return "the test tone nearest to it";
    }
}

static void print_tone(const es_paint *paint, const es_check_result *r)
{
    const es_tone_facts *t = &r->tone;
    char gaps[64];
    es_text text = es_text_over(gaps, sizeof gaps);
    es_text_add(&text, "%d dropout%s", t->dropouts, t->dropouts == 1 ? "" : "s");
    format hz = {2, 0, "Hz", "not known: no usual test tone was heard"},
           db = {1, 0, "dB", "not known"};
    format percent = {1, 0, "%", "not known"};
    heading(paint, "Tone");
    figure_row(paint->out, "nominal", t->nominal_hz, &hz, nominal_words(t));
    figure_row(paint->out, "heard", t->measured_hz, &hz, "");
    figure_row(paint->out, "over the noise", t->snr_db, &db, "");
    figure_row(paint->out, "good part", t->present_percent, &percent, gaps);
}

static void print_capture(const es_paint *paint, const es_capture_facts *c)
{
    char room[320];
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "%.1f s, %d Hz, %d channel%s", c->duration_s, c->samplerate_hz, c->channels,
                c->channels == 1 ? "" : "s");
    if (c->bits)
        es_text_add(&text, ", %d bit", c->bits);
    if (c->channel_used && c->channels > 1)
        es_text_add(&text, "; measured on channel %d%s%s%s", c->channel_used,
                    c->channel_used == 1   ? " (left)"
                    : c->channel_used == 2 ? " (right)"
                                           : "",
                    c->channel_why[0] ? ": " : "", c->channel_why);
    if (c->clipped_percent > 0.0)
        es_text_add(&text, "; %.2g %% of it at full scale", c->clipped_percent);
    heading(paint, "Capture");
    es_wrap(paint->out, "  ", "  ", room);
}

static void print_warnings(const es_paint *paint, const es_notes *warnings, es_verdict verdict)
{
    int said = verdict == ES_VERDICT_ADJUST; /* of the tone, with the verdict */
    size_t shown = 0;
    for (size_t i = 0; i < warnings->count; i++) {
        if (said && strcmp(warnings->at[i].code, UNSURE_TONE) == 0)
            continue;
        if (shown++ == 0)
            heading(paint, "Mind");
        es_wrap(paint->out, "  * ", "    ", warnings->at[i].text);
    }
}

void es_note_print(const es_paint *paint, const char *file, const es_check_result *result)
{
    char shown[1024];
    es_paint_text(paint, ES_STRONG, es_shown(es_input_name(file), shown, sizeof shown));
    fputs("\n\n", paint->out);
    print_verdict(paint, result);
    print_caution(paint, result->gate.verdict);
    print_speed(paint, result);
    print_flutter(paint, &result->flutter);
    print_components(paint, result);
    print_stereo(paint, result);
    print_tone(paint, result);
    print_capture(paint, &result->capture);
    print_budget(paint, &result->speed);
    print_warnings(paint, &result->warnings, result->gate.verdict);
}
