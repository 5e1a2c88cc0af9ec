#include "task/nominal.h"

#include "evenspool/base/text.h"

#include <math.h>
#include <stddef.h>

/* 3150: IEC 60386, DIN 45507; 3000: NAB and JIS; 315, 333, 400, 440, 1000 and the treble tones: level and
 * azimuth sections of calibration tapes (IEC 60094-2 and common practice). */
static const double tones_hz[] = {315.0,  333.0,  400.0,  440.0,   1000.0, 3000.0,
                                  3150.0, 6300.0, 8000.0, 10000.0, 12500.0};
#define TONES (sizeof tones_hz / sizeof *tones_hz)
#define FARTHEST 0.15
#define NEAR_TOO 0.10

static size_t nearest(double heard_hz)
{
    size_t best = 0;
    for (size_t i = 1; i < TONES; i++)
        if (fabs(log(heard_hz / tones_hz[i])) < fabs(log(heard_hz / tones_hz[best])))
            best = i;
    return best;
}

double es_second_nominal(double heard_hz, double nominal_hz)
{
    double second = (double)NAN, least = (double)INFINITY;
    for (size_t i = 0; i < TONES; i++) {
        double far = fabs(heard_hz / tones_hz[i] - 1.0);
        if (tones_hz[i] != nominal_hz && far < least) {
            least = far;
            second = tones_hz[i];
        }
    }
    return second;
}

double es_nearest_nominal(double heard_hz, es_notes *warnings)
{
    size_t best = nearest(heard_hz);
    if (!(fabs(heard_hz / tones_hz[best] - 1.0) <= FARTHEST)) {
        es_notes_add(warnings, "nominal-unknown",
                     "A tone of %.1f Hz is heard, which is no usual test tone: the speed can't be "
                     "known. Say what was recorded with --tone HZ.",
                     heard_hz);
        return (double)NAN;
    }
    char room[160];
    es_text others = es_text_over(room, sizeof room);
    for (size_t i = 0; i < TONES; i++)
        if (i != best && fabs(heard_hz / tones_hz[i] - 1.0) <= NEAR_TOO)
            es_text_add(&others, "%s%.0f Hz (then the speed error is %+.2f %%)",
                        others.length ? ", or " : "", tones_hz[i],
                        100.0 * (heard_hz / tones_hz[i] - 1.0));
    if (others.length)
        es_notes_add(warnings, "nominal-ambiguous",
                     "Taken for a %.0f Hz tape; it could also be %s. Say which with --tone HZ.",
                     tones_hz[best], room);
    return tones_hz[best];
}
