#include "paper/pen.h"

#include <math.h>
#include <string.h>

#define FAMILY "DejaVu Sans"

typedef struct {
    double r, g, b;
} colour;

static const colour palette[ES_INK_COUNT] = {
    [ES_INK_DARK] = {0.106, 0.129, 0.145},  [ES_INK_QUIET] = {0.310, 0.345, 0.369},
    [ES_INK_CURVE] = {0.063, 0.325, 0.412}, [ES_INK_MARK] = {0.592, 0.220, 0.075},
    [ES_INK_CALM] = {0.200, 0.341, 0.220},  [ES_INK_HAIR] = {0.804, 0.824, 0.835},
    [ES_INK_BAND] = {0.659, 0.804, 0.839},  [ES_INK_ZONE] = {0.925, 0.929, 0.886},
    [ES_INK_HILLS] = {0.847, 0.910, 0.929}, [ES_INK_FLOOR] = {0.875, 0.882, 0.886},
    [ES_INK_WHITE] = {1.0, 1.0, 1.0},
};

/* --- life ----------------------------------------------------------------------------------- */

/* 0: no memory. */
static int make_context(es_pen *pen)
{
    PangoFontMap *fonts = pango_cairo_font_map_new();
    if (!fonts)
        return 0;
    pango_cairo_font_map_set_resolution(PANGO_CAIRO_FONT_MAP(fonts), 72.0); /* sizes in points */
    pen->context = pango_font_map_create_context(fonts);
    g_object_unref(fonts); /* the context holds it */
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(pen->context, options);
    cairo_font_options_destroy(options);
    pango_context_set_round_glyph_positions(pen->context, FALSE);
    pango_context_set_language(pen->context, pango_language_from_string("en"));
    return 1;
}

void es_pen_close(es_pen *pen)
{
    if (pen->context)
        g_object_unref(pen->context);
    pen->context = NULL;
}

/* --- text ----------------------------------------------------------------------------------- */

char *es_pen_sound_text(const char *text)
{
    char *sound = g_utf8_make_valid(text, -1);
    for (char *c = sound; *c; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7F)
            *c = ' ';
    return sound;
}

static PangoLayout *layout_of(es_pen *pen, es_style style, const char *text)
{
    PangoLayout *layout = pango_layout_new(pen->context);
    PangoFontDescription *font = pango_font_description_new();
    pango_font_description_set_family_static(font, FAMILY);
    pango_font_description_set_size(font, (int)lround(style.size * PANGO_SCALE));
    pango_font_description_set_weight(font, style.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    if (style.width > 0.0) {
        pango_layout_set_width(layout, (int)floor(style.width * PANGO_SCALE));
        pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
        if (style.lines != 0) {
            pango_layout_set_ellipsize(layout, style.lines < 0 ? PANGO_ELLIPSIZE_MIDDLE
                                                               : PANGO_ELLIPSIZE_END);
            pango_layout_set_height(layout, style.lines < 0 ? -1 : -style.lines);
        }
    }
    char *sound = es_pen_sound_text(text);
    pango_layout_set_text(layout, sound, -1);
    g_free(sound);
    return layout;
}

static es_extent extent_of(PangoLayout *layout)
{
    PangoRectangle logical;
    pango_layout_get_extents(layout, NULL, &logical);
    return (es_extent){(double)logical.width / PANGO_SCALE, (double)logical.height / PANGO_SCALE};
}

static int can_write(es_pen *pen)
{
    es_style style = {.size = 8.0};
    PangoLayout *layout =
        layout_of(pen, style, "AZaz 0123456789 +\u2212\u00B1% \u2013 \u2190\u2192 \u00B5.,:;()'");
    PangoRectangle ink;
    pango_layout_get_extents(layout, &ink, NULL);
    int missing = pango_layout_get_unknown_glyphs_count(layout);
    g_object_unref(layout);
    return missing == 0 && ink.width > 0;
}

es_status es_pen_open(es_pen *pen, cairo_t *cr, es_text_log *log, es_error *error)
{
    *pen = (es_pen){.cr = cr, .log = log};
    if (!make_context(pen))
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to draw.");
    if (can_write(pen))
        return ES_OK;
    es_pen_close(pen);
    return es_fail(error, ES_ERR_IO, "no-font",
                   "Nothing was drawn because no font with the page's letters and signs is "
                   "installed; install the DejaVu fonts (package fonts-dejavu-core).");
}

es_extent es_pen_measure(es_pen *pen, es_style style, const char *text)
{
    PangoLayout *layout = layout_of(pen, style, text);
    es_extent extent = extent_of(layout);
    g_object_unref(layout);
    return extent;
}

static void log_box(es_pen *pen, es_box box, const char *text)
{
    es_text_log *log = pen->log;
    if (!log)
        return;
    if (log->count < log->room) {
        log->boxes[log->count] = box;
        if (log->words)
            g_strlcpy(log->words[log->count], text, sizeof log->words[0]);
    }
    log->count++;
}

es_extent es_pen_write(es_pen *pen, es_style style, double x, double y, const char *text)
{
    PangoLayout *layout = layout_of(pen, style, text);
    PangoRectangle ink, logical;
    pango_layout_get_extents(layout, &ink, &logical);
    es_extent extent = extent_of(layout);
    double left = x - style.align * extent.width;
    es_pen_ink(pen, style.ink);
    cairo_move_to(pen->cr, left - (double)logical.x / PANGO_SCALE, y);
    pango_cairo_show_layout(pen->cr, layout);
    double ink_left = left + (double)(ink.x - logical.x) / PANGO_SCALE;
    double ink_top = y + (double)ink.y / PANGO_SCALE;
    if (ink.width > 0)
        log_box(pen,
                (es_box){ink_left, ink_top, ink_left + (double)ink.width / PANGO_SCALE,
                         ink_top + (double)ink.height / PANGO_SCALE},
                text);
    g_object_unref(layout);
    return extent;
}

void es_pen_write_up(es_pen *pen, es_style style, double x, double y, const char *text)
{
    PangoLayout *layout = layout_of(pen, style, text);
    es_extent e = extent_of(layout);
    es_pen_ink(pen, style.ink);
    cairo_save(pen->cr);
    cairo_translate(pen->cr, x, y);
    cairo_rotate(pen->cr, -G_PI / 2.0);
    cairo_move_to(pen->cr, -e.width / 2.0, -e.height / 2.0);
    pango_cairo_show_layout(pen->cr, layout);
    cairo_restore(pen->cr);
    log_box(pen,
            (es_box){x - e.height / 2.0, y - e.width / 2.0, x + e.height / 2.0, y + e.width / 2.0},
            text);
    g_object_unref(layout);
}

/* --- lines ---------------------------------------------------------------------------------- */

void es_pen_ink(es_pen *pen, es_ink ink)
{
    cairo_set_source_rgb(pen->cr, palette[ink].r, palette[ink].g, palette[ink].b);
}

void es_pen_line(es_pen *pen, es_ink ink, double width, es_point from, es_point to)
{
    es_pen_dashed(pen, ink, width, 0.0, from, to);
}

void es_pen_dashed(es_pen *pen, es_ink ink, double width, double dash, es_point from, es_point to)
{
    es_pen_ink(pen, ink);
    cairo_set_line_width(pen->cr, width);
    cairo_set_dash(pen->cr, &dash, dash > 0.0 ? 1 : 0, 0.0);
    cairo_move_to(pen->cr, from.x, from.y);
    cairo_line_to(pen->cr, to.x, to.y);
    cairo_stroke(pen->cr);
    cairo_set_dash(pen->cr, NULL, 0, 0.0);
}

static void outline(es_pen *pen, es_box box)
{
    cairo_rectangle(pen->cr, box.left, box.top, box.right - box.left, box.bottom - box.top);
}

void es_pen_fill(es_pen *pen, es_ink ink, es_box box)
{
    es_pen_ink(pen, ink);
    outline(pen, box);
    cairo_fill(pen->cr);
}

void es_pen_frame(es_pen *pen, es_ink ink, double width, es_box box)
{
    es_pen_ink(pen, ink);
    cairo_set_line_width(pen->cr, width);
    outline(pen, box);
    cairo_stroke(pen->cr);
}

void es_pen_hatch(es_pen *pen, es_ink ink, es_box box)
{
    double height = box.bottom - box.top;
    cairo_save(pen->cr);
    outline(pen, box);
    cairo_clip(pen->cr);
    for (double x = box.left - height; x < box.right; x += 5.0)
        es_pen_line(pen, ink, 0.5, (es_point){x, box.bottom}, (es_point){x + height, box.top});
    cairo_restore(pen->cr);
}
