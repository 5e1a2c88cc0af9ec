/*
 * Where names go so that none lies on another: pure geometry, no drawing.
 *
 *   flags   each name hangs at the top of a mast that rises from what it names, to the right of it
 *           or to the left. Rows are counted upward from 0.
 *   promise no two flags overlap, no mast goes through a flag, all flags stay between left and
 *           right; that can cost width, never a flag
 *   rt      allocates nothing, keeps nothing
 */
#ifndef ES_PAPER_LABELS_H
#define ES_PAPER_LABELS_H

#include <stddef.h>

#define ES_LABELS_MOST 16
#define ES_FLAGS_MOST 12
#define ES_MAST_GAP 5.0  /* kept between a flag and another's mast [pt]       */
#define ES_FLAG_GAP 14.0 /* kept between flags in one row: they must not read on [pt] */

typedef struct es_point {
    double x, y;
} es_point;

typedef struct es_box {
    double left, top, right, bottom;
} es_box;

typedef struct es_flag {
    double mast;  /* in: x of the mast [pt], left .. right             */
    double width; /* in: wanted [pt]; out: given, no more than that    */
    int leftward; /* out: hangs to the left of its mast                */
    size_t row;   /* out                                               */
} es_flag;

es_box es_box_grown(es_box box, double by);
int es_boxes_overlap(es_box a, es_box b);
int es_box_holds(es_box outer, es_box inner);

/*
 * Arranges flags, count <= ES_FLAGS_MOST, masts in any order, so that little is cut off and few rows
 * are needed; looks at every choice of sides. Masts that are equal share one and the same line.
 * Returns the number of rows; 0 for no flags or too many.
 */
size_t es_flags_arrange(es_flag *flags, size_t count, double left, double right);

/* Moves intervals of height[i] round centre[i] apart until none overlaps, keeping their order, all
 * inside low .. high as long as they fit. count <= ES_LABELS_MOST. */
void es_labels_spread(double *centre, const double *height, size_t count, double low, double high);

#endif
