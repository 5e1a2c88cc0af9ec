/*
 * Cue sheet: what stands where on a home-made test tape, one A4 page a side, to keep with the tape; with
 * room to write down on what it was recorded, and when.
 *
 *   in      es_cue_sheet
 *   out     PDF; the same sheet gives the same bytes, as long as the fonts are the same
 *   thread  one call at a time in a process: cairo and pango share caches
 */
#ifndef ES_PAPER_CUE_SHEET_H
#define ES_PAPER_CUE_SHEET_H

#include "evenspool/base/cue_sheet.h"
#include "evenspool/base/error.h"

#include <stdio.h>

/* What the stream refuses shows in ferror(). ES_ERR_NOMEM; ES_ERR_IO "no-font": the machine has no
 * fonts to write with; ES_ERR_INTERNAL. */
es_status es_cue_sheet_draw(const es_cue_sheet *sheet, FILE *stream, es_error *error);

#endif
