/*
 * Picture: one capture's findings on one page that can be pinned to a wall.
 *
 *   in      es_check_result and a title
 *   out     one A4 landscape page as .png (144 dots an inch), .svg or .pdf
 *   shows   verdict and direction in words, speed against time, flutter spectrum with its
 *           components, all figures with unit and uncertainty (a dash: not known), the gate's
 *           reasons, warnings, how it was measured
 *   same    the same input gives the same bytes, as long as the fonts are the same
 *   print   reads in black and white; direction is in words and shape, never in colour alone
 *   file    written beside its name, then renamed: whole or not at all
 *   thread  one call at a time in a process: cairo and pango share caches
 *   rt      never: draws, allocates and writes
 */
#ifndef ES_PAPER_PICTURE_H
#define ES_PAPER_PICTURE_H

#include "evenspool/base/check_result.h"
#include "evenspool/base/error.h"

typedef struct es_picture {
    const es_check_result *result;
    const char *title;        /* what was measured; NULL or "": no title line             */
    const char *date;         /* written in the foot as it is; NULL: none                 */
    double tolerance_percent; /* half width of the zone round true speed; NaN: no zone    */
} es_picture;

/* Without date; the zone is +-0.3 %, the tolerance that the gate has when it is given no other. Whoever
 * judged by another tolerance sets it here too, so that picture and verdict agree. */
es_picture es_picture_of(const es_check_result *result, const char *title);

/*
 * The kind goes by the ending of the path: .png, .svg or .pdf in any case.
 * ES_ERR_ARG: another ending ("picture-kind"). ES_ERR_NOMEM.
 * ES_ERR_IO: the file can't be written ("disk-full", "no-folder", "no-permission", "name-too-long",
 * "not-a-file", "write-failed"), or the machine has no fonts to write with ("no-font").
 */
es_status es_picture_draw_page(const es_picture *picture, const char *path, es_error *error);

/* The same with es_picture_of(result, title). */
es_status es_picture_draw(const es_check_result *result, const char *title, const char *path,
                          es_error *error);

#endif
