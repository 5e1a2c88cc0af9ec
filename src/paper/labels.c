#include "paper/labels.h"

#include <float.h>
#include <math.h>
#include <string.h>

/* What an arrangement costs, in points of text that could not be shown. */
#define ANY_CUT_COST 25.0 /* per flag that is cut, besides */
#define ROW_COST 12.0     /* per row                                            */
#define HIGH_COST 80.0    /* per row beyond the easy ones: the plot gets small */
#define ROWS_EASY 6.0
#define LEFT_COST 1.0 /* per flag to the left: reading goes to the right    */

int es_boxes_overlap(es_box a, es_box b)
{
    return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}

es_box es_box_grown(es_box box, double by)
{
    return (es_box){box.left - by, box.top - by, box.right + by, box.bottom + by};
}

int es_box_holds(es_box outer, es_box inner)
{
    return inner.left >= outer.left && inner.top >= outer.top && inner.right <= outer.right &&
           inner.bottom <= outer.bottom;
}

/* --- flags --------------------------------------------------------------------------------- */

/* The flag's own stretch of its row. */
static void span_of(const es_flag *flag, double *from, double *to)
{
    *from = flag->leftward ? flag->mast - flag->width : flag->mast;
    *to = flag->leftward ? flag->mast : flag->mast + flag->width;
}

/* Would the other's mast, were it high enough, go through this flag? */
static int spans_mast_of(const es_flag *flag, const es_flag *other)
{
    double from, to;
    span_of(flag, &from, &to);
    if (flag->leftward)
        return other->mast > from - ES_MAST_GAP && other->mast < flag->mast;
    return other->mast > flag->mast && other->mast < to + ES_MAST_GAP;
}

static int share_a_stretch(const es_flag *a, const es_flag *b)
{
    double from[2], to[2];
    span_of(a, &from[0], &to[0]);
    span_of(b, &from[1], &to[1]);
    return from[0] < to[1] + ES_FLAG_GAP && from[1] < to[0] + ES_FLAG_GAP;
}

static int row_is_free(const es_flag *flags, size_t count, size_t self, const int *done, size_t row)
{
    for (size_t i = 0; i < count; i++)
        if (i != self && done[i] && flags[i].row == row && share_a_stretch(&flags[self], &flags[i]))
            return 0;
    return 1;
}

/* The lowest row over all masts that the flag spans in which no other flag is in its way;
 * 0 (and *row unset) while one of those masts has no row yet. */
static int find_row(const es_flag *flags, size_t count, size_t self, const int *done, size_t *row)
{
    size_t lowest = 0;
    for (size_t i = 0; i < count; i++) {
        if (i == self || !spans_mast_of(&flags[self], &flags[i]))
            continue;
        if (!done[i])
            return 0;
        lowest = flags[i].row + 1 > lowest ? flags[i].row + 1 : lowest;
    }
    while (!row_is_free(flags, count, self, done, lowest))
        lowest++;
    *row = lowest;
    return 1;
}

/* Gives rows to flags whose sides are settled; the number of rows, or 0 when two of them stand in
 * each other's way. */
static size_t settle_rows(es_flag *flags, size_t count)
{
    int done[ES_FLAGS_MOST] = {0};
    size_t placed = 0, rows = 0;
    for (int moved = 1; moved && placed < count;) {
        moved = 0;
        for (size_t i = 0; i < count; i++) {
            if (done[i] || !find_row(flags, count, i, done, &flags[i].row))
                continue;
            done[i] = moved = 1;
            placed++;
            rows = flags[i].row + 1 > rows ? flags[i].row + 1 : rows;
        }
    }
    return placed == count ? rows : 0;
}

/* Bit i of `sides`: flag i hangs to the left. Returns what that costs, DBL_MAX: not possible. */
static double try_sides(es_flag *flags, size_t count, unsigned sides, double left, double right,
                        size_t *rows)
{
    double cost = 0.0;
    for (size_t i = 0; i < count; i++) {
        es_flag *flag = &flags[i];
        flag->leftward = (int)(sides >> i & 1u);
        double room = fmax(0.0, flag->leftward ? flag->mast - left : right - flag->mast);
        if (flag->width > room)
            cost += ANY_CUT_COST + flag->width - room;
        cost += LEFT_COST * flag->leftward;
        flag->width = fmin(flag->width, room);
    }
    *rows = settle_rows(flags, count);
    if (*rows == 0)
        return DBL_MAX;
    return cost + ROW_COST * (double)*rows + HIGH_COST * fmax(0.0, (double)*rows - ROWS_EASY);
}

size_t es_flags_arrange(es_flag *flags, size_t count, double left, double right)
{
    es_flag trial[ES_FLAGS_MOST], best[ES_FLAGS_MOST];
    double least = DBL_MAX;
    size_t rows = 0;
    if (count == 0 || count > ES_FLAGS_MOST)
        return 0;
    for (unsigned sides = 0; sides < 1u << count; sides++) {
        size_t needed;
        memcpy(trial, flags, count * sizeof *flags);
        double cost = try_sides(trial, count, sides, left, right, &needed);
        if (cost >= least)
            continue;
        least = cost;
        rows = needed;
        memcpy(best, trial, count * sizeof *flags);
    }
    if (rows > 0)
        memcpy(flags, best, count * sizeof *flags);
    return rows;
}

/* --- spreading ----------------------------------------------------------------------------- */

static void order_by(const double *value, size_t count, size_t *order)
{
    for (size_t i = 0; i < count; i++) {
        size_t at = i;
        for (; at > 0 && value[order[at - 1]] > value[i]; at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
}

void es_labels_spread(double *centre, const double *height, size_t count, double low, double high)
{
    size_t order[ES_LABELS_MOST];
    if (count > ES_LABELS_MOST)
        return;
    order_by(centre, count, order);
    double edge = low;
    for (size_t k = 0; k < count; k++) { /* downward: nobody above the one before */
        size_t i = order[k];
        centre[i] = fmax(centre[i], edge + height[i] / 2.0);
        edge = centre[i] + height[i] / 2.0;
    }
    edge = high;
    for (size_t k = count; k-- > 0;) { /* and back up from the end */
        size_t i = order[k];
        centre[i] = fmin(centre[i], edge - height[i] / 2.0);
        edge = centre[i] - height[i] / 2.0;
    }
}
