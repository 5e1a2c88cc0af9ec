#include "signal/marker_time.h"

#include <math.h>

#define HEARD 0.4       /* a symbol that reaches this share somewhere was heard                */
#define SYMBOLS_LEAST 8 /* to draw a line through                                              */
#define END_S 0.4       /* symbols this near to an end of the burst are its neighbours         */
#define END_LEAST 4

typedef struct moment {
    double nominal_s; /* middle of the symbol, from the burst's beginning */
    double row;
} moment;

static double cell_of(const es_marker_burst *burst, int symbol, double speed)
{
    double steps = log(burst->hz[symbol] * speed / ES_MARKER_LOWEST_HZ) / log(1.1);
    return steps * ES_MARKER_STEPS_PER_TONE + ES_MARKER_DOWN;
}

/* Centre of gravity of the symbol's share over the rows round its place; 0: not heard. Each end of the
 * burst borders on silence instead of another tone, which leaves its symbol lopsided. */
static int hear_symbol(const es_marker_rows *rows, int cell, double middle, double reach,
                       double *row)
{
    double sum = 0.0, moments = 0.0, most = 0.0;
    int64_t from = (int64_t)ceil(middle - reach), to = (int64_t)floor(middle + reach);
    if (to >= rows->count)
        return 0;
    for (int64_t i = from; i <= to; i++) {
        double share = (double)es_marker_row(rows, i)[cell];
        /* ends of the span weigh less, so that a row entering it makes no jump */
        double weight = fmin(1.0, reach - fabs((double)i - middle));
        sum += weight * share;
        moments += weight * share * ((double)i - middle);
        most = fmax(most, share);
    }
    if (most < HEARD)
        return 0;
    *row = middle + moments / sum;
    return 1;
}

static size_t hear_symbols(const es_marker_rows *rows, const es_marker_burst *burst,
                           es_marker_fit fit, double row_s, moment at[ES_MARKER_SYMBOLS])
{
    size_t count = 0;
    double rows_per_symbol = ES_MARKER_SYMBOL_S / fit.speed / row_s;
    for (int i = 1; i < ES_MARKER_SYMBOLS - 1; i++) {
        if (burst->hz[i] == burst->hz[i - 1] || burst->hz[i] == burst->hz[i + 1])
            continue;
        double middle = fit.start_row + (i + 0.5) * rows_per_symbol;
        long cell = lround(cell_of(burst, i, fit.speed));
        if (cell < 0 || cell >= ES_MARKER_CELLS)
            continue;
        moment m = {.nominal_s = (i + 0.5) * ES_MARKER_SYMBOL_S};
        if (hear_symbol(rows, (int)cell, middle, 0.95 * rows_per_symbol, &m.row))
            at[count++] = m;
    }
    return count;
}

/* Line through those moments that lie within `gate` rows of the present one. */
static es_marker_fit draw_line(const moment *at, size_t count, es_marker_fit fit, double gate,
                               double row_s)
{
    double n = 0.0, x = 0.0, y = 0.0, xx = 0.0, xy = 0.0;
    for (size_t i = 0; i < count; i++) {
        double expected = fit.start_row + at[i].nominal_s / fit.speed / row_s;
        if (fabs(at[i].row - expected) > gate)
            continue;
        double dx = at[i].nominal_s - 0.5 * ES_MARKER_S, dy = at[i].row - fit.start_row;
        n += 1.0;
        x += dx;
        y += dy;
        xx += dx * dx;
        xy += dx * dy;
    }
    double spread = n * xx - x * x;
    if (n < SYMBOLS_LEAST || !(spread > 0.0))
        return fit;
    double slope = (n * xy - x * y) / spread, middle = (y - slope * x) / n;
    double speed = 1.0 / (slope * row_s);
    if (!(fabs(speed / fit.speed - 1.0) < 0.03))
        return fit;
    return (es_marker_fit){.start_row = fit.start_row + middle - slope * 0.5 * ES_MARKER_S,
                           .speed = speed};
}

/* Mean distance of those moments from the line that lie within END_S of nominal_s. */
static double bend_at(const moment *at, size_t count, es_marker_fit fit, double nominal_s,
                      double gate, double row_s)
{
    double sum = 0.0;
    int used = 0;
    for (size_t i = 0; i < count; i++) {
        double off = at[i].row - (fit.start_row + at[i].nominal_s / fit.speed / row_s);
        if (fabs(at[i].nominal_s - nominal_s) < END_S && fabs(off) < gate) {
            sum += off;
            used++;
        }
    }
    return used >= END_LEAST ? sum / used : 0.0;
}

es_marker_fit es_marker_time(const es_marker_rows *rows, es_marker_code code, double start_row,
                             double speed, double row_s)
{
    static const double gates_s[] = {0.020, 0.010, 0.008};
    enum { ROUNDS = sizeof gates_s / sizeof *gates_s };
    es_marker_fit fit = {.start_row = start_row, .speed = speed};
    es_marker_burst burst;
    moment at[ES_MARKER_SYMBOLS];
    size_t count = 0;
    (void)es_marker_burst_make(code, &burst); /* a code that was read can be made */
    for (int i = 0; i < ROUNDS; i++) {
        count = hear_symbols(rows, &burst, fit, row_s, at);
        fit = draw_line(at, count, fit, gates_s[i] / row_s, row_s);
    }
    double gate = gates_s[ROUNDS - 1] / row_s;
    double end_row = fit.start_row + ES_MARKER_S / fit.speed / row_s;
    fit.end_row = end_row + bend_at(at, count, fit, ES_MARKER_S, gate, row_s);
    fit.start_row += bend_at(at, count, fit, 0.0, gate, row_s);
    fit.speed = ES_MARKER_S / ((fit.end_row - fit.start_row) * row_s);
    return fit;
}
