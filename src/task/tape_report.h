/* Between tape_report.c, tape_azimuth.c and tape_words.c. */
#ifndef ES_TASK_TAPE_REPORT_H
#define ES_TASK_TAPE_REPORT_H

#include "task/tape_inside.h"

/* Of the reference level in one channel. */
typedef struct es_tape_level {
    int known;
    es_section_kind kind; /* of the section that told it */
    double amplitude_fs, u_db;
} es_tape_level;

/* The nth section of a kind (0 ..) of which something was heard; NULL: there is none. */
const es_tape_part *es_tape_part_of(const es_tape_read *r, es_section_kind kind, size_t nth,
                                    const es_programme_section **section);

/* Delay between the channels from the nth hearing of tones and broadband sound. */
es_delay_figures es_tape_delay_of(const es_tape_read *r, size_t nth);

void es_tape_report_azimuth(const es_tape_read *r, es_tape_result *result);

/* Everything but speed and words; level is known where the programme is. */
void es_tape_report_heard(const es_tape_read *r, es_tape_level level[ES_TAPE_CHANNELS],
                          es_tape_result *result);

/* Names the input that was missing. */
void es_tape_report_gaps(const es_tape_read *r, es_tape_result *result);

/* What the person must know: warnings, the tape's share, what its equalisation looks like. */
void es_tape_report_words(const es_tape_read *r, const es_tape_level level[ES_TAPE_CHANNELS],
                          es_tape_result *result);

#endif
