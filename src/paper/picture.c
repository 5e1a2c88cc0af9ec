#include "paper/picture.h"

#include "paper/out_file.h"
#include "paper/page.h"
#include "paper/svg_text.h"
#include "paper/words.h"

#include <cairo/cairo-pdf.h>
#include <cairo/cairo-svg.h>
#include <math.h>
#include <string.h>

#define PNG_SCALE 2.0 /* 144 dots an inch */

typedef enum { KIND_NONE, KIND_PNG, KIND_SVG, KIND_PDF } picture_kind;

static picture_kind kind_of(const char *path)
{
    const char *name = strrchr(path, '/');
    const char *dot = strrchr(name ? name : path, '.');
    if (!dot)
        return KIND_NONE;
    if (g_ascii_strcasecmp(dot, ".png") == 0)
        return KIND_PNG;
    if (g_ascii_strcasecmp(dot, ".svg") == 0)
        return KIND_SVG;
    return g_ascii_strcasecmp(dot, ".pdf") == 0 ? KIND_PDF : KIND_NONE;
}

/* Where a surface's bytes go: PNG and PDF straight to the file, SVG by way of its text. */
typedef struct {
    picture_kind kind;
    es_out_file *file;
    es_svg_text svg;
} sink;

static cairo_status_t take_bytes(void *of, const unsigned char *bytes, unsigned count)
{
    sink *to = of;
    if (to->kind == KIND_SVG)
        return es_svg_text_add(&to->svg, bytes, count) ? CAIRO_STATUS_SUCCESS
                                                       : CAIRO_STATUS_NO_MEMORY;
    return es_out_file_write(to->file, bytes, count) ? CAIRO_STATUS_SUCCESS
                                                     : CAIRO_STATUS_WRITE_ERROR;
}

static cairo_surface_t *surface_for(sink *to)
{
    if (to->kind == KIND_PNG)
        return cairo_image_surface_create(CAIRO_FORMAT_RGB24,
                                          (int)lround(ES_PAGE_WIDTH * PNG_SCALE),
                                          (int)lround(ES_PAGE_HEIGHT * PNG_SCALE));
    if (to->kind == KIND_SVG)
        return cairo_svg_surface_create_for_stream(take_bytes, to, ES_PAGE_WIDTH, ES_PAGE_HEIGHT);
    return cairo_pdf_surface_create_for_stream(take_bytes, to, ES_PAGE_WIDTH, ES_PAGE_HEIGHT);
}

/* An empty date leaves the entry out; cairo's own would be the present second. */
static void describe_pdf(cairo_surface_t *surface, const es_picture *picture)
{
    char *title = es_pen_sound_text(picture->title ? picture->title : "");
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, "");
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, "Evenspool " ES_VERSION);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, title);
    g_free(title);
}

static void write_svg(const es_picture *picture, sink *to)
{
    char words[400];
    es_text text = es_text_over(words, sizeof words);
    es_word_headline(&text, picture->result);
    es_text_add(&text, ". Speed error ");
    es_word_percent(&text, picture->result->speed.error_percent, picture->result->speed.u95_percent,
                    4);
    es_text_add(&text, ". %s", es_word_advice(picture->result));
    char *title = es_pen_sound_text(picture->title ? picture->title : "");
    es_svg_text_write(&to->svg, title, words, to->file); /* a refusal shows in es_out_file_keep */
    g_free(title);
}

static es_status paint(const es_picture *picture, picture_kind kind, cairo_surface_t *surface,
                       es_error *error)
{
    cairo_t *cr = cairo_create(surface);
    if (kind == KIND_PNG)
        cairo_scale(cr, PNG_SCALE, PNG_SCALE);
    if (kind == KIND_PDF)
        describe_pdf(surface, picture);
    es_status status = es_page_paint(cr, picture, NULL, error);
    cairo_show_page(cr);
    cairo_destroy(cr);
    return status;
}

static es_status status_of(cairo_status_t cairo, es_error *error)
{
    if (cairo == CAIRO_STATUS_SUCCESS || cairo == CAIRO_STATUS_WRITE_ERROR)
        return ES_OK; /* a bad write is told by es_out_file_keep, which knows why */
    if (cairo == CAIRO_STATUS_NO_MEMORY)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to draw.");
    return es_fail(error, ES_ERR_INTERNAL, "drawing", "The picture could not be drawn (%s).",
                   cairo_status_to_string(cairo));
}

static es_status draw_into(const es_picture *picture, picture_kind kind, es_out_file *file,
                           es_error *error)
{
    sink to = {.kind = kind, .file = file};
    cairo_surface_t *surface = surface_for(&to);
    es_status status = paint(picture, kind, surface, error);
    cairo_status_t cairo = cairo_surface_status(surface);
    if (status == ES_OK && cairo == CAIRO_STATUS_SUCCESS && kind == KIND_PNG)
        cairo = cairo_surface_write_to_png_stream(surface, take_bytes, &to);
    cairo_surface_finish(surface);
    if (cairo == CAIRO_STATUS_SUCCESS)
        cairo = cairo_surface_status(surface);
    cairo_surface_destroy(surface);
    if (status == ES_OK)
        status = status_of(cairo, error);
    if (status == ES_OK && kind == KIND_SVG)
        write_svg(picture, &to);
    es_svg_text_free(&to.svg);
    return status;
}

es_picture es_picture_of(const es_check_result *result, const char *title)
{
    return (es_picture){.result = result, .title = title, .tolerance_percent = 0.3};
}

es_status es_picture_draw_page(const es_picture *picture, const char *path, es_error *error)
{
    picture_kind kind = kind_of(path);
    if (kind == KIND_NONE)
        return es_fail(error, ES_ERR_ARG, "picture-kind",
                       "A picture's name must end in .png, .svg or .pdf; that says which kind "
                       "is drawn.");
    es_out_file file;
    es_status status = es_out_file_open(&file, path, error);
    if (status != ES_OK)
        return status;
    status = draw_into(picture, kind, &file, error);
    if (status == ES_OK)
        return es_out_file_keep(&file, error);
    es_out_file_drop(&file);
    return status;
}

es_status es_picture_draw(const es_check_result *result, const char *title, const char *path,
                          es_error *error)
{
    es_picture picture = es_picture_of(result, title);
    return es_picture_draw_page(&picture, path, error);
}
