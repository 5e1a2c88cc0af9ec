/*
 * Record of a cue sheet: what stands where on a home-made test tape. Plain data without pointers;
 * the words that text, page and paper have in common are made here.
 */
#ifndef ES_BASE_CUE_SHEET_H
#define ES_BASE_CUE_SHEET_H

#include "evenspool/base/programme.h"
#include "evenspool/base/text.h"

typedef struct es_cue_side {
    size_t side;     /* of the programme, from 0                      */
    char file[1024]; /* that it was written to; "": none              */
    double length_s; /* at nominal speed                              */
    es_section_times times[ES_PROGRAMME_SECTIONS]; /* of the side's sections */
} es_cue_side;

typedef struct es_cue_sheet {
    es_programme programme;
    unsigned id;           /* that the markers carry                  */
    double speed_m_s;      /* nominal, of the class                   */
    double reference_dbfs; /* of the reference level; NaN: no file    */
    double rate_hz;        /* of the files; NaN: none                 */
    size_t side_count;
    es_cue_side sides[ES_PROGRAMME_SIDES]; /* those that were asked for */
} es_cue_sheet;

/* 'a' or 'b'. */
char es_side_letter(size_t side);

/* "3:05"; NaN: "-". To the nearest second. */
void es_cue_time(es_text *text, double seconds);
/* "3150 Hz", "16 tones, 31.5 Hz to 16 kHz", "200 Hz to 16 kHz at once", "silence", "marker only". */
void es_cue_tones(es_text *text, const es_programme *programme,
                  const es_programme_section *section);
/* "-6 dB", "-6 to +8 dB", "-": nothing is recorded. */
void es_cue_levels(es_text *text, const es_programme_section *section);
/* Where it is recorded: "both", "left", "right". */
const char *es_cue_channels(const es_programme_section *section);

/* One row of the table of a side; at is the index of the section. */
const es_programme_section *es_cue_section(const es_cue_sheet *sheet, const es_cue_side *side,
                                           size_t at);
size_t es_cue_count(const es_cue_sheet *sheet, const es_cue_side *side);

#endif
