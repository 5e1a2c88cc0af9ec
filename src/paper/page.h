/*
 * Page: the parts of the picture and where they stand. Private to this floor; tests paint it on
 * their own surfaces. All lengths in points, y downward.
 */
#ifndef ES_PAPER_PAGE_H
#define ES_PAPER_PAGE_H

#include "paper/pen.h"
#include "paper/picture.h"

#define ES_PAGE_WIDTH 841.89 /* A4 landscape */
#define ES_PAGE_HEIGHT 595.28

/* Room that both plots keep beside their frames, so that the frames stand in line. */
#define ES_PLOT_LEFT 40.0  /* numbers of the value axis */
#define ES_PLOT_RIGHT 82.0 /* names of lines            */
#define ES_PLOT_HEAD 17.0  /* heading                   */

/*
 * Paints the whole page on cr. log may be NULL.
 * ES_ERR_IO "no-font": nothing could be written, nothing was painted. ES_ERR_NOMEM.
 */
es_status es_page_paint(cairo_t *cr, const es_picture *picture, es_text_log *log, es_error *error);

/* Parts; each keeps inside its area. */
void es_speed_plot_paint(es_pen *pen, const es_picture *picture, es_box area);
void es_spectrum_plot_paint(es_pen *pen, const es_check_result *result, es_box area);
void es_figures_paint(es_pen *pen, const es_check_result *result, es_box area);
/* Nothing when there are none or no room. */
void es_components_paint(es_pen *pen, const es_check_result *result, es_box area);
void es_notes_column_paint(es_pen *pen, const es_check_result *result, es_box area);

/* Heading over a plot's frame, with a caption behind it. */
void es_plot_heading(es_pen *pen, es_box frame, const char *heading, const char *caption);
/* A sentence in the middle of a frame that has nothing to show. */
void es_plot_empty(es_pen *pen, es_box frame, const char *sentence);

#endif
