#include "paper/page.h"

#include "evenspool/base/text.h"
#include "paper/words.h"

#include <math.h>

#define LEFT 34.0
#define RIGHT (ES_PAGE_WIDTH - 34.0)
#define PLAQUE_TOP 26.0
#define PLAQUE 54.0
#define BODY_TOP 96.0
#define PLOTS_RIGHT 593.0
#define NOTES_LEFT 614.0
#define SPECTRUM_TOP 260.0
#define FIGURES_TOP 448.0
#define FOOT_TOP 556.0
#define HERO_DECIMALS 3.0

/* --- plaque: a shape for each verdict --------------------------------------------------------- */

/* A trimmer, seen from above. */
static void draw_trimmer(es_pen *pen, es_point at)
{
    cairo_set_line_width(pen->cr, 2.6);
    cairo_arc(pen->cr, at.x, at.y, 15.0, 0.0, 2.0 * G_PI);
    cairo_stroke(pen->cr);
    cairo_set_line_width(pen->cr, 4.2);
    cairo_move_to(pen->cr, at.x - 6.6, at.y + 6.6);
    cairo_line_to(pen->cr, at.x + 6.6, at.y - 6.6);
    cairo_stroke(pen->cr);
}

/* A lens. */
static void draw_lens(es_pen *pen, es_point at)
{
    cairo_set_line_width(pen->cr, 2.8);
    cairo_arc(pen->cr, at.x - 3.5, at.y - 3.5, 11.0, 0.0, 2.0 * G_PI);
    cairo_stroke(pen->cr);
    cairo_set_line_width(pen->cr, 5.0);
    cairo_move_to(pen->cr, at.x + 6.2, at.y + 6.2);
    cairo_line_to(pen->cr, at.x + 14.5, at.y + 14.5);
    cairo_stroke(pen->cr);
}

/* Two level bars: in balance. */
static void draw_level(es_pen *pen, es_point at)
{
    cairo_set_line_width(pen->cr, 4.2);
    for (double y = -6.0; y <= 6.0; y += 12.0) {
        cairo_move_to(pen->cr, at.x - 14.0, at.y + y);
        cairo_line_to(pen->cr, at.x + 14.0, at.y + y);
        cairo_stroke(pen->cr);
    }
}

static void paint_plaque(es_pen *pen, es_verdict verdict)
{
    es_box box = {LEFT, PLAQUE_TOP, LEFT + PLAQUE, PLAQUE_TOP + PLAQUE};
    es_point middle = {LEFT + PLAQUE / 2.0, PLAQUE_TOP + PLAQUE / 2.0};
    es_ink ink = verdict == ES_VERDICT_ADJUST  ? ES_INK_CURVE
                 : verdict == ES_VERDICT_LEAVE ? ES_INK_CALM
                                               : ES_INK_MARK;
    es_pen_fill(pen, ink, box);
    es_pen_ink(pen, ES_INK_WHITE);
    cairo_set_line_cap(pen->cr, CAIRO_LINE_CAP_ROUND);
    if (verdict == ES_VERDICT_ADJUST)
        draw_trimmer(pen, middle);
    else if (verdict == ES_VERDICT_LEAVE)
        draw_level(pen, middle);
    else
        draw_lens(pen, middle);
    cairo_set_line_cap(pen->cr, CAIRO_LINE_CAP_BUTT);
}

/* --- head and foot ------------------------------------------------------------------------------
 */

/* The figure that counts, large, at the right; returns where it begins. */
static double paint_hero(es_pen *pen, const es_speed_facts *speed)
{
    char figure[48], below[96];
    int decimals = (int)fmin(HERO_DECIMALS, es_word_decimals(speed->u95_percent));
    es_text big = es_text_over(figure, sizeof figure);
    es_word_number(&big, speed->error_percent, decimals, 1);
    es_text small = es_text_over(below, sizeof below);
    if (isfinite(speed->error_percent)) {
        es_text_add(&big, " %%");
        es_word_plus_minus(&small, speed->u95_percent, decimals);
        es_text_add(&small, " %%, %s", es_direction_word(es_direction_of(speed)));
    } else {
        es_text_add(&small, "speed error not known");
    }
    es_style huge = {.size = 30.0, .bold = 1, .ink = ES_INK_DARK, .align = 1.0};
    es_style line = {.size = 10.5, .ink = ES_INK_DARK, .align = 1.0};
    double top = es_pen_write(pen, huge, RIGHT, PLAQUE_TOP - 3.0, figure).width;
    double low = es_pen_write(pen, line, RIGHT, PLAQUE_TOP + 39.0, below).width;
    return RIGHT - fmax(top, low);
}

/* The largest size of at most `size` in which a line fits. */
static es_style fitting(es_pen *pen, es_style style, double width, const char *text)
{
    es_style free = style;
    free.width = 0.0;
    double wide = es_pen_measure(pen, free, text).width;
    if (wide > width)
        style.size *= width / wide * 0.995;
    return style;
}

static void paint_head(es_pen *pen, const es_picture *picture)
{
    char headline[128];
    es_text words = es_text_over(headline, sizeof headline);
    es_word_headline(&words, picture->result);
    double left = LEFT + PLAQUE + 14.0;
    double width = paint_hero(pen, &picture->result->speed) - 24.0 - left;
    paint_plaque(pen, picture->result->gate.verdict);
    es_style title = {8.5, 0, ES_INK_QUIET, 0.0, width, -1};
    es_style head = {22.0, 1, ES_INK_DARK, 0.0, 0.0, 0};
    es_style advice = {10.5, 0, ES_INK_DARK, 0.0, width, 1};
    if (picture->title && picture->title[0])
        es_pen_write(pen, title, left, PLAQUE_TOP - 2.0, picture->title);
    es_pen_write(pen, fitting(pen, head, width, headline), left, PLAQUE_TOP + 11.0, headline);
    es_pen_write(pen, advice, left, PLAQUE_TOP + 40.0, es_word_advice(picture->result));
    es_pen_line(pen, ES_INK_DARK, 1.2, (es_point){LEFT, BODY_TOP - 6.0},
                (es_point){RIGHT, BODY_TOP - 6.0});
}

static void paint_foot(es_pen *pen, const es_picture *picture)
{
    char method[512], maker[160];
    es_text how = es_text_over(method, sizeof method);
    es_word_method(&how, picture->result);
    es_text_add(&how, " + is fast, \u2212 is slow, in percent of nominal speed; ± is the expanded "
                      "uncertainty, 95 %%.");
    es_text by = es_text_over(maker, sizeof maker);
    es_text_add(&by, "Evenspool %s", ES_VERSION);
    if (picture->date && picture->date[0])
        es_text_add(&by, "\u2002%s", picture->date);
    es_pen_line(pen, ES_INK_HAIR, 0.6, (es_point){LEFT, FOOT_TOP}, (es_point){RIGHT, FOOT_TOP});
    es_style right = {7.5, 0, ES_INK_QUIET, 1.0, 0.0, 0};
    double taken = es_pen_write(pen, right, RIGHT, FOOT_TOP + 4.0, maker).width;
    es_style left = {7.5, 0, ES_INK_QUIET, 0.0, RIGHT - LEFT - taken - 24.0, 2};
    es_pen_write(pen, left, LEFT, FOOT_TOP + 4.0, method);
}

/* --- shared by the plots -------------------------------------------------------------------- */

void es_plot_heading(es_pen *pen, es_box frame, const char *heading, const char *caption)
{
    es_style head = {10.0, 1, ES_INK_DARK, 0.0, 0.0, 0};
    double left = frame.left - ES_PLOT_LEFT, top = frame.top - ES_PLOT_HEAD;
    double taken = es_pen_write(pen, head, left, top, heading).width + 12.0;
    double width = frame.right + ES_PLOT_RIGHT - left - taken;
    es_style note = {7.5, 0, ES_INK_QUIET, 0.0, width, 1};
    if (caption[0])
        es_pen_write(pen, note, left + taken, top + 2.4, caption);
}

void es_plot_empty(es_pen *pen, es_box frame, const char *sentence)
{
    es_style style = {9.0, 0, ES_INK_QUIET, 0.5, 0.0, 0};
    es_pen_hatch(pen, ES_INK_HAIR, frame);
    es_extent size = es_pen_measure(pen, style, sentence);
    double x = (frame.left + frame.right) / 2.0, y = (frame.top + frame.bottom) / 2.0;
    es_box ground = {x - size.width / 2.0, y - size.height / 2.0, x + size.width / 2.0,
                     y + size.height / 2.0};
    es_pen_fill(pen, ES_INK_WHITE, es_box_grown(ground, 5.0));
    es_pen_write(pen, style, x, ground.top, sentence);
    es_pen_frame(pen, ES_INK_QUIET, 0.7, frame);
}

/* --- the whole ------------------------------------------------------------------------------ */

static void paint_all(es_pen *pen, const es_picture *picture)
{
    const es_check_result *result = picture->result;
    es_pen_ink(pen, ES_INK_WHITE);
    cairo_paint(pen->cr);
    paint_head(pen, picture);
    es_speed_plot_paint(pen, picture, (es_box){LEFT, BODY_TOP, PLOTS_RIGHT, SPECTRUM_TOP - 10.0});
    es_spectrum_plot_paint(pen, result,
                           (es_box){LEFT, SPECTRUM_TOP, PLOTS_RIGHT, FIGURES_TOP - 10.0});
    es_notes_column_paint(pen, result, (es_box){NOTES_LEFT, BODY_TOP, RIGHT, FIGURES_TOP - 10.0});
    es_figures_paint(pen, result, (es_box){LEFT, FIGURES_TOP, RIGHT, FOOT_TOP - 4.0});
    paint_foot(pen, picture);
}

es_status es_page_paint(cairo_t *cr, const es_picture *picture, es_text_log *log, es_error *error)
{
    es_pen pen;
    es_status status = es_pen_open(&pen, cr, log, error);
    if (status != ES_OK)
        return status;
    paint_all(&pen, picture);
    es_pen_close(&pen);
    return ES_OK;
}
