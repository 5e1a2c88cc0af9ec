/* Families of harmonics: a line that turns a whole number of times as fast as a stronger one. */
#include "signal/lines_found.h"

#include <math.h>

#define MULTIPLE_MOST 10
#define OFF_MOST 0.003 /* of the harmonic's rate; plus half a turn per window */
#define ODDS_MOST 0.1  /* of the fundamental: chance matches stay below a fifth */
#define OFF_SIGMAS 4.0
#define OFF_REST 0.2   /* turns per window */
#define SLOPE_OFF 0.25 /* of the slope that the fundamental foretells */

static int rates_match(const es_lines_line *low, const es_lines_line *high, double k, double span_s)
{
    double off = fabs(high->rate_hz - k * low->rate_hz);
    double known = hypot(high->rate_u_hz, k * low->rate_u_hz);
    double limit = fmin(OFF_MOST * high->rate_hz + 0.5 / span_s, ODDS_MOST * low->rate_hz);
    return off <= fmin(limit, OFF_REST / span_s + OFF_SIGMAS * known);
}

static int slopes_match(const es_lines_line *low, const es_lines_line *high, double k)
{
    double off = fabs(high->slope_hz_s - k * low->slope_hz_s);
    double known = hypot(high->slope_u, k * low->slope_u);
    return !(off > OFF_SIGMAS * known + SLOPE_OFF * fabs(k * low->slope_hz_s)); /* NaN: may be */
}

void es_lines_group(es_lines_line *lines, size_t count, double span_s)
{
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count && !lines[i].parent; j++) {
            double k = round(lines[j].rate_hz / lines[i].rate_hz);
            if (lines[j].parent || k < 2.0 || k > MULTIPLE_MOST)
                continue;
            if (rates_match(&lines[i], &lines[j], k, span_s) &&
                slopes_match(&lines[i], &lines[j], k)) {
                lines[j].parent = i + 1;
                lines[i].harmonics++;
            }
        }
}
