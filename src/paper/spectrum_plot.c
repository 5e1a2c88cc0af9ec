/* Flutter spectrum: peak against turning rate, noise floor, components with their suspects. */
#include "paper/page.h"

#include "evenspool/base/text.h"
#include "paper/axes.h"
#include "paper/words.h"

#include <math.h>

#define RATE_LOW 0.1
#define RATE_HIGH 200.0
#define WOW_END 10.0      /* wow below, flutter above (IEC 60386) [Hz] */
#define TICKS_ROOM 28.0   /* numbers, and the bracket below them       */
#define DECADES_LEAST 1.5 /* of the peak axis                          */
#define DECADES_MOST 4.0
#define NUMBER_HEIGHT 9.0 /* between numbers of the peak axis, at least [pt] */
#define FLAG_ROW 10.0     /* height of a row of flags [pt]                 */
#define ABOVE_PEAK 14.0   /* kept above the largest peak besides them [pt] */
#define ABOVE_MOST 0.80   /* of the frame                                  */
#define MAST_GAP 3.5      /* between mast and flag [pt]                    */
#define WORD_GAP 4.0      /* between rate and part [pt]                 */

typedef struct {
    es_box frame;
    es_scale x, y;
    size_t outside; /* components beyond the rate axis */
    size_t count;   /* components that show            */
    size_t rows;    /* of their flags                  */
    double most;    /* largest peak [%]                */
    double sky;     /* y above which only flags stand  */
    const es_component *shown[ES_COMPONENTS_MOST];
    es_flag flags[ES_COMPONENTS_MOST];
} plot;

/* --- scale ---------------------------------------------------------------------------------- */

static int is_drawable(double rate, double peak)
{
    return rate >= RATE_LOW && rate <= RATE_HIGH && isfinite(peak) && peak > 0.0;
}

static int component_shows(const es_component *c)
{
    return is_drawable(c->rate_hz, c->peak_percent);
}

static void range_of(const es_check_result *result, double *least, double *most)
{
    const es_flutter_spectrum *s = &result->spectrum;
    *least = HUGE_VAL;
    *most = 0.0;
    for (size_t i = 0; i < s->count; i++) {
        double rate = (double)s->rate_hz[i], peak = (double)s->peak_percent[i];
        if (!is_drawable(rate, peak))
            continue;
        double low = (double)s->floor_percent[i];
        *least = fmin(*least, isfinite(low) && low > 0.0 && low < peak ? low : peak);
        *most = fmax(*most, peak);
    }
    for (size_t i = 0; i < result->component_count; i++)
        if (component_shows(&result->components[i]))
            *most = fmax(*most, result->components[i].peak_percent);
    *least = fmin(*least, *most);
}

/* The flags' rows are kept free above the largest peak. */
static es_scale peak_scale(double least, double most, size_t rows, es_box frame)
{
    double height = frame.bottom - frame.top;
    double above = rows ? ABOVE_PEAK + FLAG_ROW * (double)rows : ABOVE_PEAK;
    double share = fmin(above / height, ABOVE_MOST);
    double decades = fmax(DECADES_LEAST, fmin(log10(most / least) + 0.1, DECADES_MOST));
    return (es_scale){.low = most * pow(10.0, -decades),
                      .high = most * pow(10.0, decades * share / (1.0 - share)),
                      .from = frame.bottom,
                      .to = frame.top,
                      .logarithmic = 1};
}

/* --- grid ---------------------------------------------------------------------------------------
 */

static void draw_rate_axis(es_pen *pen, const plot *p)
{
    es_ticks ticks = es_ticks_logarithmic(RATE_LOW, RATE_HIGH, 1);
    es_style style = {7.5, 0, ES_INK_QUIET, 0.5, 0.0, 0};
    double y = p->frame.bottom;
    for (size_t i = 0; i < ticks.count; i++) {
        double x = es_scale_at(&p->x, ticks.at[i]);
        es_pen_line(pen, ES_INK_HAIR, 0.4, (es_point){x, p->sky}, (es_point){x, y});
        es_pen_line(pen, ES_INK_QUIET, 0.7, (es_point){x, y}, (es_point){x, y + 3.0});
        es_pen_write(pen, style, x, y + 4.0, ticks.text[i]);
    }
    style.align = 1.0;
    es_pen_write(pen, style, p->frame.right + ES_PLOT_RIGHT, y + 4.0, "rate, Hz");
}

static void draw_bracket(es_pen *pen, const plot *p, double low, double high, const char *word)
{
    es_style style = {7.5, 0, ES_INK_QUIET, 0.5, 0.0, 0};
    double left = es_scale_at(&p->x, low) + 1.5, right = es_scale_at(&p->x, high) - 1.5;
    double y = p->frame.bottom + 20.5, middle = (left + right) / 2.0;
    double half = es_pen_measure(pen, style, word).width / 2.0 + 4.0;
    es_pen_line(pen, ES_INK_QUIET, 0.6, (es_point){left, y}, (es_point){middle - half, y});
    es_pen_line(pen, ES_INK_QUIET, 0.6, (es_point){middle + half, y}, (es_point){right, y});
    es_pen_line(pen, ES_INK_QUIET, 0.6, (es_point){left, y - 3.0}, (es_point){left, y});
    es_pen_line(pen, ES_INK_QUIET, 0.6, (es_point){right, y - 3.0}, (es_point){right, y});
    es_pen_write(pen, style, middle, y - 4.8, word);
}

static int is_decade(double value)
{
    return fabs(log10(value) - round(log10(value))) < 1e-6;
}

static void draw_peak_axis(es_pen *pen, const plot *p)
{
    double decade = es_scale_at(&p->y, p->y.low) - es_scale_at(&p->y, 10.0 * p->y.low);
    es_ticks ticks = es_ticks_logarithmic(p->y.low, fmin(p->y.high, 2.0 * p->most),
                                          0.301 * decade >= NUMBER_HEIGHT);
    es_style style = {7.5, 0, ES_INK_QUIET, 1.0, 0.0, 0};
    for (size_t i = 0; i < ticks.count; i++) {
        double y = es_scale_at(&p->y, ticks.at[i]);
        if (y < p->sky - 1.0)
            break;
        if (is_decade(ticks.at[i]))
            es_pen_line(pen, ES_INK_HAIR, 0.5, (es_point){p->frame.left, y},
                        (es_point){p->frame.right, y});
        es_pen_line(pen, ES_INK_QUIET, 0.5, (es_point){p->frame.left - 2.5, y},
                    (es_point){p->frame.left, y});
        if (ticks.text[i][0])
            es_pen_write(pen, style, p->frame.left - 4.0, y - 4.6, ticks.text[i]);
    }
    style.align = 0.5;
    es_pen_write_up(pen, style, p->frame.left - ES_PLOT_LEFT + 5.0,
                    (p->frame.top + p->frame.bottom) / 2.0, "peak, %");
}

/* What this tone can't tell is hatched rather than left looking calm. */
static void hatch_unknown(es_pen *pen, const plot *p, const es_flutter_spectrum *s)
{
    double first = HUGE_VAL, last = 0.0;
    for (size_t i = 0; i < s->count; i++) {
        double rate = (double)s->rate_hz[i];
        if (!is_drawable(rate, (double)s->peak_percent[i]))
            continue;
        first = fmin(first, rate);
        last = fmax(last, rate);
    }
    es_box left = p->frame, right = p->frame;
    left.right = es_scale_held(&p->x, first);
    right.left = es_scale_held(&p->x, last);
    if (left.right - left.left > 6.0)
        es_pen_hatch(pen, ES_INK_HAIR, left);
    if (right.right - right.left > 6.0)
        es_pen_hatch(pen, ES_INK_HAIR, right);
}

/* --- curves ----------------------------------------------------------------------------------- */

/* Goes along the drawable points of a curve; returns how many, the ends of the way in *ends. */
static size_t follow(es_pen *pen, const plot *p, const es_flutter_spectrum *s, const float *values,
                     double ends[2])
{
    size_t count = 0;
    cairo_new_path(pen->cr);
    for (size_t i = 0; i < s->count; i++) {
        if (!is_drawable((double)s->rate_hz[i], (double)values[i]))
            continue;
        double x = es_scale_at(&p->x, (double)s->rate_hz[i]);
        cairo_line_to(pen->cr, x, es_scale_held(&p->y, (double)values[i]));
        if (count++ == 0)
            ends[0] = x;
        ends[1] = x;
    }
    return count;
}

static void fill_below(es_pen *pen, const plot *p, const es_flutter_spectrum *s,
                       const float *values, es_ink ink)
{
    double ends[2];
    if (follow(pen, p, s, values, ends) > 0) {
        cairo_line_to(pen->cr, ends[1], p->frame.bottom);
        cairo_line_to(pen->cr, ends[0], p->frame.bottom);
        cairo_close_path(pen->cr);
    }
    es_pen_ink(pen, ink);
    cairo_fill(pen->cr);
}

static void draw_curves(es_pen *pen, const plot *p, const es_flutter_spectrum *s)
{
    double ends[2];
    fill_below(pen, p, s, s->peak_percent, ES_INK_HILLS);
    fill_below(pen, p, s, s->floor_percent, ES_INK_FLOOR);
    cairo_set_line_join(pen->cr, CAIRO_LINE_JOIN_ROUND);
    follow(pen, p, s, s->peak_percent, ends);
    es_pen_ink(pen, ES_INK_CURVE);
    cairo_set_line_width(pen->cr, 0.9);
    cairo_stroke(pen->cr);
    if (follow(pen, p, s, s->floor_percent, ends) > 0) {
        static const double dash[] = {3.0, 2.0};
        es_pen_ink(pen, ES_INK_QUIET);
        cairo_set_line_width(pen->cr, 0.8);
        cairo_set_dash(pen->cr, dash, 2, 0.0);
        cairo_stroke(pen->cr);
        cairo_set_dash(pen->cr, NULL, 0, 0.0);
    }
}

/* --- components ------------------------------------------------------------------------------- */

static const es_style rate_style = {7.5, 1, ES_INK_DARK, 0.0, 0.0, 0};
static const es_style part_style = {7.5, 0, ES_INK_DARK, 0.0, 0.0, 0};

static void rate_of(const es_component *c, char *out, size_t room)
{
    es_text text = es_text_over(out, room);
    es_word_rate(&text, c->rate_hz);
}

static const char *part_of(const es_component *c)
{
    return c->suspect[0] ? c->suspect : "unknown part";
}

static void plan_flags(es_pen *pen, plot *p, const es_check_result *result)
{
    for (size_t i = 0; i < result->component_count; i++) {
        const es_component *c = &result->components[i];
        if (!component_shows(c)) {
            p->outside++;
            continue;
        }
        char rate[48];
        rate_of(c, rate, sizeof rate);
        double width = es_pen_measure(pen, rate_style, rate).width +
                       es_pen_measure(pen, part_style, part_of(c)).width;
        p->shown[p->count] = c;
        p->flags[p->count++] =
            (es_flag){.mast = es_scale_at(&p->x, c->rate_hz), .width = width + WORD_GAP + MAST_GAP};
    }
    p->rows = es_flags_arrange(p->flags, p->count, p->frame.left + 3.0, p->frame.right - 3.0);
}

static void draw_diamond(es_pen *pen, es_point at)
{
    const double r = 3.4;
    cairo_move_to(pen->cr, at.x, at.y - r);
    cairo_line_to(pen->cr, at.x + r, at.y);
    cairo_line_to(pen->cr, at.x, at.y + r);
    cairo_line_to(pen->cr, at.x - r, at.y);
    cairo_close_path(pen->cr);
    es_pen_ink(pen, ES_INK_MARK);
    cairo_fill_preserve(pen->cr);
    es_pen_ink(pen, ES_INK_WHITE);
    cairo_set_line_width(pen->cr, 0.8);
    cairo_stroke(pen->cr);
}

/* Top of a row of flags: row 0 hangs just above the largest peak. */
static double top_of_row(const plot *p, size_t row)
{
    double pitch = fmin(FLAG_ROW, (p->sky - p->frame.top - 2.0) / (double)p->rows);
    return p->sky - pitch * (double)(row + 1);
}

static void draw_flag(es_pen *pen, const es_component *c, const es_flag *flag, double top)
{
    char rate[48];
    rate_of(c, rate, sizeof rate);
    double width = flag->width - MAST_GAP;
    double left = flag->leftward ? flag->mast - flag->width : flag->mast + MAST_GAP;
    double taken = es_pen_write(pen, rate_style, left, top, rate).width + WORD_GAP;
    es_style part = part_style;
    part.width = width - taken + 0.5; /* what it measured, and a hair against rounding */
    part.lines = 1;
    if (part.width > 8.0)
        es_pen_write(pen, part, left + taken, top, part_of(c));
}

/* Flags first, then masts, then marks: a mark is never hidden. */
static void draw_components(es_pen *pen, const plot *p)
{
    for (size_t i = 0; i < p->count; i++)
        draw_flag(pen, p->shown[i], &p->flags[i], top_of_row(p, p->flags[i].row));
    for (size_t i = 0; i < p->count; i++) {
        double x = p->flags[i].mast, foot = es_scale_held(&p->y, p->shown[i]->peak_percent);
        double top = top_of_row(p, p->flags[i].row) + 1.5;
        es_pen_line(pen, ES_INK_MARK, 0.7, (es_point){x, foot}, (es_point){x, top});
    }
    for (size_t i = 0; i < p->count; i++)
        draw_diamond(pen,
                     (es_point){p->flags[i].mast, es_scale_held(&p->y, p->shown[i]->peak_percent)});
}

/* --- the whole -------------------------------------------------------------------------------- */

static void name_curves(es_pen *pen, const plot *p, const es_flutter_spectrum *s)
{
    double peak = (double)NAN, low = (double)NAN;
    for (size_t i = 0; i < s->count; i++) {
        if (!is_drawable((double)s->rate_hz[i], (double)s->peak_percent[i]))
            continue;
        peak = (double)s->peak_percent[i];
        low = (double)s->floor_percent[i];
    }
    double centre[2] = {es_scale_held(&p->y, peak), es_scale_held(&p->y, low)};
    centre[0] = fmin(centre[0], centre[1] - 0.1); /* the name above stays the upper one */
    double height[2] = {12.0, 12.0};
    int floor_shows = isfinite(low) && low > 0.0;
    if (!isfinite(peak))
        return;
    es_labels_spread(centre, height, floor_shows ? 2 : 1, p->frame.top, p->frame.bottom);
    es_style style = {7.5, 1, ES_INK_CURVE, 0.0, 0.0, 0};
    es_pen_write(pen, style, p->frame.right + 5.0, centre[0] - 4.6, "measured");
    style.bold = 0;
    style.ink = ES_INK_QUIET;
    if (floor_shows)
        es_pen_write(pen, style, p->frame.right + 5.0, centre[1] - 4.6, "noise floor");
}

static void caption(es_text *text, const plot *p, const es_check_result *result)
{
    es_text_add(text, "percent of mean speed; %s",
                result->component_count ? "diamond: a steady component"
                                        : "no steady component found");
    if (p->outside)
        es_text_add(text, "; %zu outside this axis", p->outside);
}

void es_spectrum_plot_paint(es_pen *pen, const es_check_result *result, es_box area)
{
    static const char heading[] = "Flutter by turning rate";
    plot p = {.frame = {area.left + ES_PLOT_LEFT, area.top + ES_PLOT_HEAD,
                        area.right - ES_PLOT_RIGHT, area.bottom - TICKS_ROOM}};
    double least, most;
    range_of(result, &least, &most);
    if (!(most > 0.0)) {
        es_plot_heading(pen, p.frame, heading, "");
        es_plot_empty(pen, p.frame, "Too little steady tone for a spectrum.");
        return;
    }
    p.x = (es_scale){RATE_LOW, RATE_HIGH, p.frame.left, p.frame.right, 1};
    plan_flags(pen, &p, result);
    p.most = most;
    p.y = peak_scale(least, most, p.rows, p.frame);
    p.sky = p.rows ? es_scale_at(&p.y, most) - ABOVE_PEAK / 2.0 : p.frame.top;
    hatch_unknown(pen, &p, &result->spectrum);
    draw_rate_axis(pen, &p);
    draw_peak_axis(pen, &p);
    draw_curves(pen, &p, &result->spectrum);
    es_pen_frame(pen, ES_INK_QUIET, 0.7, p.frame);
    draw_bracket(pen, &p, RATE_LOW, WOW_END, "wow");
    draw_bracket(pen, &p, WOW_END, RATE_HIGH, "flutter");
    draw_components(pen, &p);
    name_curves(pen, &p, &result->spectrum);
    char note[160];
    es_text text = es_text_over(note, sizeof note);
    caption(&text, &p, result);
    es_plot_heading(pen, p.frame, heading, note);
}
