#include "paper/cue_sheet.h"

#include "paper/cue_page.h"

#include <cairo/cairo-pdf.h>

static cairo_status_t take_bytes(void *of, const unsigned char *bytes, unsigned count)
{
    return fwrite(bytes, 1, count, of) == count ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

/* An empty date leaves the entry out; cairo's own would be the present second. */
static void describe(cairo_surface_t *surface, const es_cue_sheet *sheet)
{
    char title[96];
    es_text text = es_text_over(title, sizeof title);
    es_text_add(&text, "Cue sheet: %s", sheet->programme.name);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, "");
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, "Evenspool " ES_VERSION);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, title);
}

static es_status paint(cairo_t *cr, const es_cue_sheet *sheet, es_error *error)
{
    es_pen pen;
    es_status status = es_pen_open(&pen, cr, NULL, error);
    if (status != ES_OK)
        return status;
    for (size_t i = 0; i < sheet->side_count; i++) {
        es_cue_page_paint(&pen, sheet, &sheet->sides[i]);
        cairo_show_page(cr);
    }
    es_pen_close(&pen);
    return ES_OK;
}

es_status es_cue_sheet_draw(const es_cue_sheet *sheet, FILE *stream, es_error *error)
{
    cairo_surface_t *surface = cairo_pdf_surface_create_for_stream(
        take_bytes, stream, ES_CUE_PAGE_WIDTH, ES_CUE_PAGE_HEIGHT);
    describe(surface, sheet);
    cairo_t *cr = cairo_create(surface);
    es_status status = paint(cr, sheet, error);
    cairo_destroy(cr);
    cairo_surface_finish(surface);
    cairo_status_t drawn = cairo_surface_status(surface);
    cairo_surface_destroy(surface);
    if (status != ES_OK || drawn == CAIRO_STATUS_SUCCESS || drawn == CAIRO_STATUS_WRITE_ERROR)
        return status;
    if (drawn == CAIRO_STATUS_NO_MEMORY)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to draw.");
    return es_fail(error, ES_ERR_INTERNAL, "drawing", "The sheet could not be drawn (%s).",
                   cairo_status_to_string(drawn));
}
