/* Speed against time: mean line, band from slowest to fastest, gaps left empty. */
#include "paper/page.h"

#include "evenspool/base/text.h"
#include "paper/axes.h"
#include "paper/words.h"

#include <math.h>
#include <stdlib.h>

#define TICKS_ROOM 16.0
#define OFF_SCALE 0.01 /* share of the steps that the scale may leave outside, at either end */
#define NAMES_MOST 2

typedef struct {
    es_box frame;
    es_scale x, y;
    int clipped; /* something lies outside the scale */
} plot;

/* --- scale ---------------------------------------------------------------------------------- */

static int ascending(const void *a, const void *b)
{
    float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

/* Value below which `share` of the finite ones lie; NaN when there are none. */
static double quantile(const float *values, size_t count, double share)
{
    float sorted[ES_TRACE_MOST];
    size_t n = 0;
    for (size_t i = 0; i < count; i++)
        if (isfinite(values[i]))
            sorted[n++] = values[i];
    if (n == 0)
        return (double)NAN;
    qsort(sorted, n, sizeof *sorted, ascending);
    return (double)sorted[(size_t)lround(share * (double)(n - 1))];
}

static void take_in(es_scale *y, double value)
{
    if (!isfinite(value))
        return;
    y->low = fmin(y->low, value);
    y->high = fmax(y->high, value);
}

/* True speed, tolerance and mean always show; a start-up ramp or glitch may be left outside. */
static es_scale value_scale(const es_picture *picture, es_box frame)
{
    const es_speed_trace *trace = &picture->result->trace;
    es_scale y = {.from = frame.bottom, .to = frame.top};
    take_in(&y, picture->tolerance_percent);
    take_in(&y, -picture->tolerance_percent);
    take_in(&y, picture->result->speed.error_percent);
    take_in(&y, quantile(trace->low, trace->count, OFF_SCALE));
    take_in(&y, quantile(trace->high, trace->count, 1.0 - OFF_SCALE));
    double margin = fmax(0.08 * (y.high - y.low), 0.005);
    y.low -= margin;
    y.high += margin;
    return y;
}

static double duration_of(const es_check_result *result)
{
    const es_speed_trace *trace = &result->trace;
    double traced = (double)trace->count * trace->step_s;
    double s = result->capture.duration_s;
    if (isfinite(traced) && traced > 0.0)
        return isfinite(s) && s > traced ? s : traced;
    return isfinite(s) && s > 0.0 ? s : 1.0;
}

/* --- grid ---------------------------------------------------------------------------------------
 */

static void draw_time_axis(es_pen *pen, const plot *p)
{
    const char *unit;
    es_ticks ticks = es_ticks_time(p->x.high, 7, &unit);
    es_style style = {7.5, 0, ES_INK_QUIET, 0.5, 0.0, 0};
    double y = p->frame.bottom;
    for (size_t i = 0; i < ticks.count; i++) {
        double x = es_scale_at(&p->x, ticks.at[i]);
        es_pen_line(pen, ES_INK_QUIET, 0.7, (es_point){x, y}, (es_point){x, y + 3.0});
        es_pen_write(pen, style, x, y + 4.0, ticks.text[i]);
    }
    char title[24];
    es_text text = es_text_over(title, sizeof title);
    es_text_add(&text, "time, %s", unit);
    style.align = 1.0;
    es_pen_write(pen, style, p->frame.right + ES_PLOT_RIGHT, y + 4.0, title);
}

static void draw_value_axis(es_pen *pen, const plot *p)
{
    es_ticks ticks = es_ticks_linear(p->y.low, p->y.high, 6, 1);
    es_style style = {7.5, 0, ES_INK_QUIET, 1.0, 0.0, 0};
    for (size_t i = 0; i < ticks.count; i++) {
        double y = es_scale_at(&p->y, ticks.at[i]);
        es_pen_line(pen, ES_INK_HAIR, 0.5, (es_point){p->frame.left, y},
                    (es_point){p->frame.right, y});
        es_pen_write(pen, style, p->frame.left - 4.0, y - 4.6, ticks.text[i]);
    }
    style.align = 0.5;
    es_pen_write_up(pen, style, p->frame.left - ES_PLOT_LEFT + 5.0,
                    (p->frame.top + p->frame.bottom) / 2.0, "\u2190 slow   fast \u2192");
}

static void draw_zone(es_pen *pen, const plot *p, double tolerance)
{
    if (!isfinite(tolerance))
        return;
    double top = es_scale_at(&p->y, tolerance), bottom = es_scale_at(&p->y, -tolerance);
    es_pen_fill(pen, ES_INK_ZONE, (es_box){p->frame.left, top, p->frame.right, bottom});
    es_pen_dashed(pen, ES_INK_QUIET, 0.5, 1.5, (es_point){p->frame.left, top},
                  (es_point){p->frame.right, top});
    es_pen_dashed(pen, ES_INK_QUIET, 0.5, 1.5, (es_point){p->frame.left, bottom},
                  (es_point){p->frame.right, bottom});
}

/* --- trace --------------------------------------------------------------------------------------
 */

static int is_known(const es_speed_trace *t, size_t i)
{
    return i < t->count && isfinite(t->mean[i]);
}

/* Band edges fall back on the mean where they are not known. */
static double edge(const float *values, const es_speed_trace *t, size_t i)
{
    return (double)(isfinite(values[i]) ? values[i] : t->mean[i]);
}

/* Goes along steps first .. last: in at the first step's beginning, through the middles, out at the
 * last step's end, so that a lonely step still has its length. */
static void trace_forward(es_pen *pen, const plot *p, const es_speed_trace *t, const float *values,
                          size_t first, size_t last)
{
    cairo_line_to(pen->cr, es_scale_held(&p->x, (double)first * t->step_s),
                  es_scale_at(&p->y, edge(values, t, first)));
    for (size_t i = first; i <= last; i++)
        cairo_line_to(pen->cr, es_scale_held(&p->x, ((double)i + 0.5) * t->step_s),
                      es_scale_at(&p->y, edge(values, t, i)));
    cairo_line_to(pen->cr, es_scale_held(&p->x, (double)(last + 1) * t->step_s),
                  es_scale_at(&p->y, edge(values, t, last)));
}

static void trace_back(es_pen *pen, const plot *p, const es_speed_trace *t, const float *values,
                       size_t first, size_t last)
{
    cairo_line_to(pen->cr, es_scale_held(&p->x, (double)(last + 1) * t->step_s),
                  es_scale_at(&p->y, edge(values, t, last)));
    for (size_t i = last + 1; i-- > first;)
        cairo_line_to(pen->cr, es_scale_held(&p->x, ((double)i + 0.5) * t->step_s),
                      es_scale_at(&p->y, edge(values, t, i)));
    cairo_line_to(pen->cr, es_scale_held(&p->x, (double)first * t->step_s),
                  es_scale_at(&p->y, edge(values, t, first)));
}

static void draw_run(es_pen *pen, const plot *p, const es_speed_trace *t, size_t first, size_t last)
{
    cairo_new_path(pen->cr);
    trace_forward(pen, p, t, t->high, first, last);
    trace_back(pen, p, t, t->low, first, last);
    cairo_close_path(pen->cr);
    es_pen_ink(pen, ES_INK_BAND);
    cairo_fill(pen->cr);
    trace_forward(pen, p, t, t->mean, first, last);
    es_pen_ink(pen, ES_INK_CURVE);
    cairo_set_line_width(pen->cr, 1.0);
    cairo_set_line_join(pen->cr, CAIRO_LINE_JOIN_ROUND);
    cairo_stroke(pen->cr);
}

static void draw_trace(es_pen *pen, const plot *p, const es_speed_trace *t)
{
    cairo_save(pen->cr);
    cairo_rectangle(pen->cr, p->frame.left, p->frame.top, p->frame.right - p->frame.left,
                    p->frame.bottom - p->frame.top);
    cairo_clip(pen->cr);
    for (size_t i = 0; i < t->count; i++) {
        if (!is_known(t, i))
            continue;
        size_t last = i;
        while (is_known(t, last + 1))
            last++;
        draw_run(pen, p, t, i, last);
        i = last;
    }
    cairo_restore(pen->cr);
}

static void draw_wedge(es_pen *pen, double x, double y, double height)
{
    cairo_move_to(pen->cr, x - 3.0, y);
    cairo_line_to(pen->cr, x + 3.0, y);
    cairo_line_to(pen->cr, x, y + height);
    cairo_close_path(pen->cr);
    es_pen_ink(pen, ES_INK_MARK);
    cairo_fill(pen->cr);
}

/* A wedge at the edge wherever the trace leaves the scale, not closer than they can be told apart.
 */
static void mark_off_scale(es_pen *pen, plot *p, const es_speed_trace *t)
{
    double last[2] = {-1e9, -1e9};
    for (size_t i = 0; i < t->count; i++) {
        if (!is_known(t, i))
            continue;
        double x = es_scale_held(&p->x, ((double)i + 0.5) * t->step_s);
        int over = edge(t->high, t, i) > p->y.high, under = edge(t->low, t, i) < p->y.low;
        p->clipped |= over | under;
        if (over && x - last[0] >= 8.0) {
            draw_wedge(pen, x, p->frame.top + 6.0, -5.0);
            last[0] = x;
        }
        if (under && x - last[1] >= 8.0) {
            draw_wedge(pen, x, p->frame.bottom - 6.0, 5.0);
            last[1] = x;
        }
    }
}

/* --- names at the right --------------------------------------------------------------------------
 */

static void draw_mean(es_pen *pen, const plot *p, const es_speed_facts *speed)
{
    double y = es_scale_at(&p->y, speed->error_percent);
    es_pen_dashed(pen, ES_INK_MARK, 1.1, 5.0, (es_point){p->frame.left, y},
                  (es_point){p->frame.right, y});
    if (!isfinite(speed->u95_percent))
        return;
    double x = p->frame.right + 4.0;
    double top = es_scale_held(&p->y, speed->error_percent + speed->u95_percent);
    double bottom = es_scale_held(&p->y, speed->error_percent - speed->u95_percent);
    es_pen_line(pen, ES_INK_MARK, 1.6, (es_point){x, top}, (es_point){x, bottom});
    es_pen_line(pen, ES_INK_MARK, 1.0, (es_point){x - 3.0, top}, (es_point){x + 3.0, top});
    es_pen_line(pen, ES_INK_MARK, 1.0, (es_point){x - 3.0, bottom}, (es_point){x + 3.0, bottom});
}

static void write_name(es_pen *pen, const plot *p, double centre, es_ink ink, const char *name,
                       const char *figure)
{
    double x = p->frame.right + 11.0, width = ES_PLOT_RIGHT - 11.0;
    es_pen_write(pen, (es_style){7.5, 1, ink, 0.0, 0.0, 0}, x, centre - 9.6, name);
    es_style style = {7.5, 0, ink, 0.0, 0.0, 0};
    double wide = es_pen_measure(pen, style, figure).width;
    if (wide > width)
        style.size *= width / wide;
    es_pen_write(pen, style, x, centre + 0.2, figure);
}

static void name_lines(es_pen *pen, const plot *p, const es_picture *picture)
{
    const es_speed_facts *speed = &picture->result->speed;
    char zone[32], mean[48];
    es_text text = es_text_over(zone, sizeof zone);
    if (isfinite(picture->tolerance_percent)) {
        es_text_add(&text, "zone ±");
        es_word_number(&text, picture->tolerance_percent,
                       es_word_decimals(picture->tolerance_percent * 10.0), 0);
        es_text_add(&text, " %%");
    }
    text = es_text_over(mean, sizeof mean);
    es_word_percent(&text, speed->error_percent, speed->u95_percent, 3);
    double centre[NAMES_MOST] = {es_scale_at(&p->y, 0.0),
                                 es_scale_held(&p->y, speed->error_percent)};
    double height[NAMES_MOST] = {23.0, 23.0};
    size_t count = isfinite(speed->error_percent) ? 2 : 1;
    es_labels_spread(centre, height, count, p->frame.top - 4.0, p->frame.bottom + 4.0);
    write_name(pen, p, centre[0], ES_INK_DARK, "true speed", zone);
    if (count == 2)
        write_name(pen, p, centre[1], ES_INK_MARK, "mean", mean);
}

/* --- the whole -----------------------------------------------------------------------------------
 */

static void caption(es_text *text, const plot *p, const es_speed_trace *trace)
{
    double step = trace->step_s;
    es_text_add(text, "line: mean of each ");
    if (step < 1.0)
        es_text_add(text, "%.*f ms", step < 0.01 ? 1 : 0, step * 1000.0);
    else
        es_text_add(text, "%.1f s", step);
    es_text_add(text, ", band: slowest to fastest%s",
                p->clipped ? "; wedge: beyond the scale" : "");
}

void es_speed_plot_paint(es_pen *pen, const es_picture *picture, es_box area)
{
    static const char heading[] = "Speed error against time, %";
    const es_speed_trace *trace = &picture->result->trace;
    plot p = {.frame = {area.left + ES_PLOT_LEFT, area.top + ES_PLOT_HEAD,
                        area.right - ES_PLOT_RIGHT, area.bottom - TICKS_ROOM}};
    if (trace->count == 0 || !isfinite(quantile(trace->mean, trace->count, 0.5))) {
        es_plot_heading(pen, p.frame, heading, "");
        es_plot_empty(pen, p.frame, "No good tone was heard, so there is no speed to show.");
        return;
    }
    p.x = (es_scale){0.0, duration_of(picture->result), p.frame.left, p.frame.right, 0};
    p.y = value_scale(picture, p.frame);
    draw_zone(pen, &p, picture->tolerance_percent);
    draw_value_axis(pen, &p);
    es_pen_line(pen, ES_INK_DARK, 1.0, (es_point){p.frame.left, es_scale_at(&p.y, 0.0)},
                (es_point){p.frame.right, es_scale_at(&p.y, 0.0)});
    draw_trace(pen, &p, trace);
    mark_off_scale(pen, &p, trace);
    if (isfinite(picture->result->speed.error_percent))
        draw_mean(pen, &p, &picture->result->speed);
    es_pen_frame(pen, ES_INK_QUIET, 0.7, p.frame);
    draw_time_axis(pen, &p);
    name_lines(pen, &p, picture);
    char note[160];
    es_text text = es_text_over(note, sizeof note);
    caption(&text, &p, trace);
    es_plot_heading(pen, p.frame, heading, note);
}
