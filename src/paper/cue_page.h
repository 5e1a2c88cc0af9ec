/* One side's page of a cue sheet. Private to this floor; tests paint it on their own surfaces. */
#ifndef ES_PAPER_CUE_PAGE_H
#define ES_PAPER_CUE_PAGE_H

#include "evenspool/base/cue_sheet.h"
#include "paper/pen.h"

#define ES_CUE_PAGE_WIDTH 595.28 /* A4 portrait [pt] */
#define ES_CUE_PAGE_HEIGHT 841.89

void es_cue_page_paint(es_pen *pen, const es_cue_sheet *sheet, const es_cue_side *side);

#endif
