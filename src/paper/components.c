/* The table of components: what the spectrum has no room to say. */
#include "paper/page.h"

#include "evenspool/base/text.h"
#include "paper/words.h"

#include <math.h>

#define HEAD 16.0
#define NAMES 11.0 /* line that names the columns */
#define ROW 11.4
#define ROWS_LEAST 2 /* fewer are not worth a table */

/* Right edges of the figures, and where the part begins; from the area's left. */
#define RATE_END 34.0
#define PART 42.0
#define PEAK_END 136.0
#define SHARE_END 161.0

static void cell(es_pen *pen, double x, double y, es_ink ink, const char *text)
{
    es_pen_write(pen, (es_style){7.5, 0, ink, 1.0, 0.0, 0}, x, y, text);
}

static void number_cell(es_pen *pen, double x, double y, double value, int decimals, int sign)
{
    char figure[32];
    es_text text = es_text_over(figure, sizeof figure);
    es_word_number(&text, value, decimals, sign);
    cell(pen, x, y, ES_INK_DARK, figure);
}

static void paint_names(es_pen *pen, es_box area)
{
    cell(pen, area.left + RATE_END, area.top, ES_INK_QUIET, "Hz");
    es_pen_write(pen, (es_style){7.5, 0, ES_INK_QUIET, 0.0, 0.0, 0}, area.left + PART, area.top,
                 "part");
    cell(pen, area.left + PEAK_END, area.top, ES_INK_QUIET, "peak %");
    cell(pen, area.left + SHARE_END, area.top, ES_INK_QUIET, "of all");
    cell(pen, area.right, area.top, ES_INK_QUIET, "Hz/min");
    es_pen_line(pen, ES_INK_QUIET, 0.6, (es_point){area.left, area.top + NAMES - 1.0},
                (es_point){area.right, area.top + NAMES - 1.0});
}

static void paint_row(es_pen *pen, const es_component *c, es_box area, double y)
{
    double rate = c->rate_hz;
    number_cell(pen, area.left + RATE_END, y, rate, rate >= 100.0 ? 0 : rate >= 10.0 ? 1 : 2, 0);
    es_style part = {7.5, 0, ES_INK_DARK, 0.0, PEAK_END - PART - 32.0, 1};
    es_pen_write(pen, part, area.left + PART, y, c->suspect[0] ? c->suspect : "unknown");
    number_cell(pen, area.left + PEAK_END, y, c->peak_percent, 3, 0);
    char share[32];
    es_text text = es_text_over(share, sizeof share);
    es_word_number(&text, c->share_percent, 0, 0);
    if (isfinite(c->share_percent))
        es_text_add(&text, " %%");
    cell(pen, area.left + SHARE_END, y, ES_INK_DARK, share);
    number_cell(pen, area.right, y, c->rate_slope_hz_per_min, 3, 1);
}

void es_components_paint(es_pen *pen, const es_check_result *result, es_box area)
{
    size_t count = result->component_count;
    double room = area.bottom - area.top - HEAD - NAMES;
    size_t fits = room > 0.0 ? (size_t)(room / ROW) : 0;
    if (count == 0 || (fits < count && fits < ROWS_LEAST + 1))
        return;
    size_t shown = fits < count ? fits - 1 : count; /* the last line says how many are missing */
    es_pen_write(pen, (es_style){10.0, 1, ES_INK_DARK, 0.0, 0.0, 0}, area.left, area.top,
                 "Components, largest first");
    area.top += HEAD;
    paint_names(pen, area);
    double y = area.top + NAMES;
    for (size_t i = 0; i < shown; i++, y += ROW)
        paint_row(pen, &result->components[i], area, y);
    if (shown < count) {
        char more[64];
        es_text text = es_text_over(more, sizeof more);
        es_text_add(&text, "and %zu more, in the written report", count - shown);
        es_pen_write(pen, (es_style){7.5, 1, ES_INK_QUIET, 0.0, 0.0, 0}, area.left + PART, y, more);
    }
}
