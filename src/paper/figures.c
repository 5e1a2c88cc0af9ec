/* The block of figures: five short tables side by side. */
#include "paper/page.h"

#include "evenspool/base/text.h"
#include "paper/words.h"

#include <math.h>

#define COLUMNS 5
#define GUTTER 18.0
#define HEAD 14.0
#define ROW 11.4
#define CENTS_PER_FRACTION 1731.234 /* 1200 / ln 2: cents per fraction of speed, small errors */

typedef struct {
    es_pen *pen;
    es_box box; /* of the column; top moves down row by row */
} table;

static void head(table *t, const char *text)
{
    es_pen_write(t->pen, (es_style){8.0, 1, ES_INK_DARK, 0.0, t->box.right - t->box.left, 1},
                 t->box.left, t->box.top, text);
    t->box.top += HEAD;
    es_pen_line(t->pen, ES_INK_QUIET, 0.6, (es_point){t->box.left, t->box.top - 2.0},
                (es_point){t->box.right, t->box.top - 2.0});
}

/* Name at the left, figure at the right; a long name gives way, the figure never. */
static void row(table *t, const char *name, const char *figure)
{
    es_style style = {7.5, 0, ES_INK_DARK, 1.0, 0.0, 0};
    double taken = es_pen_write(t->pen, style, t->box.right, t->box.top, figure).width;
    es_style quiet = {7.5, 0, ES_INK_QUIET, 0.0, t->box.right - t->box.left - taken - 5.0, 1};
    if (quiet.width > 8.0)
        es_pen_write(t->pen, quiet, t->box.left, t->box.top, name);
    t->box.top += ROW;
}

static void row_of(table *t, const char *name, double value, int decimals, int sign,
                   const char *unit)
{
    char figure[48];
    es_text text = es_text_over(figure, sizeof figure);
    es_word_number(&text, value, decimals, sign);
    if (isfinite(value))
        es_text_add(&text, " %s", unit);
    row(t, name, figure);
}

static void flutter_row(table *t, const char *name, double percent)
{
    char figure[48];
    es_text text = es_text_over(figure, sizeof figure);
    es_word_flutter(&text, percent);
    row(t, name, figure);
}

/* --- tables --------------------------------------------------------------------------------- */

static void cents_row(table *t, const es_speed_facts *s)
{
    char figure[48];
    es_text text = es_text_over(figure, sizeof figure);
    es_word_number(&text, s->cents, 1, 1);
    if (isfinite(s->cents)) {
        double u = s->u95_percent / (100.0 + s->error_percent) * CENTS_PER_FRACTION;
        es_text_add(&text, " ");
        es_word_plus_minus(&text, u, 1);
        es_text_add(&text, " cent");
    }
    row(t, "pitch", figure);
}

static void speed_table(table *t, const es_speed_facts *s)
{
    char figure[64];
    es_text text = es_text_over(figure, sizeof figure);
    int decimals = (int)fmin(3.0, fmax(2.0, es_word_decimals(s->u95_percent)));
    es_word_percent(&text, s->error_percent, s->u95_percent, 4);
    head(t, "Speed");
    row(t, "error", figure);
    cents_row(t, s);
    row_of(t, "drift", s->drift_percent_per_min, 3, 1, "%/min");
    row_of(t, "at the start", s->start_percent, decimals, 1, "%");
    row_of(t, "at the end", s->end_percent, decimals, 1, "%");
    row_of(t, "as heard", s->heard_percent, decimals, 1, "%");
    row_of(t, "tape's own error", s->tape_error_percent, decimals, 1, "%");
    row_of(t, "clock's error", s->clock_ppm, 1, 1, "ppm");
}

static void flutter_table(table *t, const es_flutter_facts *f)
{
    head(t, f->reliable ? "Wow and flutter" : "Wow and flutter: not reliable");
    flutter_row(t, "weighted, quasi-peak", f->weighted_quasi_peak_percent);
    flutter_row(t, "weighted, two-sigma", f->weighted_two_sigma_percent);
    flutter_row(t, "weighted, rms", f->weighted_rms_percent);
    flutter_row(t, "unweighted, peak", f->unweighted_peak_percent);
    flutter_row(t, "unweighted, rms", f->unweighted_rms_percent);
    flutter_row(t, "wow, to 10 Hz, rms", f->wow_rms_percent);
    flutter_row(t, "flutter, above, rms", f->flutter_rms_percent);
    char figure[48];
    es_text text = es_text_over(figure, sizeof figure);
    es_word_number(&text, f->band_hz[0], 1, 0);
    es_text_add(&text, " to ");
    es_word_number(&text, f->band_hz[1], f->band_hz[1] < 10.0 ? 1 : 0, 0);
    es_text_add(&text, " Hz");
    row(t, "unweighted band", isfinite(f->band_hz[0] + f->band_hz[1]) ? figure : "\u2013");
}

static void tone_table(table *t, const es_check_result *r)
{
    int known = isfinite(r->tone.measured_hz);
    char figure[32];
    es_text text = es_text_over(figure, sizeof figure);
    es_text_add(&text, known ? "%d" : "\u2013", r->tone.dropouts);
    head(t, "Test tone");
    row_of(t, "nominal", r->tone.nominal_hz,
           r->tone.nominal_hz == floor(r->tone.nominal_hz) ? 0 : 1, 0, "Hz");
    row_of(t, "measured", r->tone.measured_hz, 2, 0, "Hz");
    row_of(t, "over the noise", r->tone.snr_db, 1, 0, "dB");
    row_of(t, "good part", r->tone.present_percent, 1, 0, "%");
    row(t, "dropouts", figure);
    row_of(t, "clipped", r->capture.clipped_percent, 2, 0, "%");
}

static void stereo_table(table *t, const es_stereo_facts *s)
{
    double nothing = (double)NAN;
    int periodic = s->known && isfinite(s->delay_period_us);
    head(t, "Left and right");
    row_of(t, "right is later by", s->known ? s->delay_us : nothing, 2, 1, "µs");
    row_of(t, "or that ± n times", periodic ? s->delay_period_us : nothing, 1, 0, "µs");
    row_of(t, "right is louder by", s->known ? s->level_difference_db : nothing, 2, 1, "dB");
    row(t, "polarity", !s->known ? "\u2013" : s->opposed ? "opposed" : "same");
    if (!s->known)
        es_pen_write(t->pen, (es_style){7.0, 0, ES_INK_QUIET, 0.0, t->box.right - t->box.left, 2},
                     t->box.left, t->box.top + 3.0, "Only one channel with the tone.");
}

/* Standard uncertainties, as the budget lists them; what had no room is said. */
static void budget_table(table *t, const es_speed_facts *s)
{
    head(t, "Uncertainty of the speed, u");
    for (size_t i = 0; i < s->budget_count; i++) {
        const es_budget_line *line = &s->budget[i];
        row_of(t, line->source, line->u_percent, 4, 0, "%");
    }
    char figure[48];
    es_text text = es_text_over(figure, sizeof figure);
    es_word_number(&text, s->u95_percent, (int)fmax(2.0, es_word_decimals(s->u95_percent)), 0);
    if (isfinite(s->u95_percent))
        es_text_add(&text, " %%");
    row(t, "together, 95 %", figure);
}

void es_figures_paint(es_pen *pen, const es_check_result *result, es_box area)
{
    static const double share[COLUMNS] = {1.12, 1.06, 0.84, 0.94, 1.04};
    double left = area.left, unit = (area.right - area.left - GUTTER * (COLUMNS - 1)) / 5.0;
    table t[COLUMNS];
    for (int i = 0; i < COLUMNS; i++) {
        t[i] = (table){pen, {left, area.top, left + unit * share[i], area.bottom}};
        left = t[i].box.right + GUTTER;
    }
    speed_table(&t[0], &result->speed);
    flutter_table(&t[1], &result->flutter);
    tone_table(&t[2], result);
    stereo_table(&t[3], &result->stereo);
    budget_table(&t[4], &result->speed);
}
