#include "json/check_figures.h"

#include <stddef.h>
#include <string.h>

#define FIGURE(group, part, name, limited)                                                         \
    {                                                                                              \
        group, #name, offsetof(es_check_result, part.name), limited                                \
    }

static const es_check_figure figures[] = {
    FIGURE("capture", capture, duration_s, 0),
    FIGURE("capture", capture, clipped_percent, 1),
    FIGURE("tone", tone, nominal_hz, 0),
    FIGURE("tone", tone, measured_hz, 0),
    FIGURE("tone", tone, snr_db, 0),
    FIGURE("tone", tone, present_percent, 0),
    FIGURE("speed", speed, error_percent, 1),
    FIGURE("speed", speed, u95_percent, 1),
    FIGURE("speed", speed, cents, 1),
    FIGURE("speed", speed, drift_percent_per_min, 1),
    FIGURE("speed", speed, start_percent, 1),
    FIGURE("speed", speed, end_percent, 1),
    FIGURE("speed", speed, tape_error_percent, 0),
    FIGURE("speed", speed, clock_ppm, 0),
    FIGURE("speed", speed, heard_percent, 1),
    FIGURE("wow_flutter", flutter, weighted_quasi_peak_percent, 1),
    FIGURE("wow_flutter", flutter, weighted_two_sigma_percent, 1),
    FIGURE("wow_flutter", flutter, weighted_rms_percent, 1),
    FIGURE("wow_flutter", flutter, unweighted_peak_percent, 1),
    FIGURE("wow_flutter", flutter, unweighted_rms_percent, 1),
    FIGURE("wow_flutter", flutter, wow_rms_percent, 1),
    FIGURE("wow_flutter", flutter, flutter_rms_percent, 1),
    FIGURE("stereo", stereo, delay_us, 1),
    FIGURE("stereo", stereo, delay_period_us, 0),
    FIGURE("stereo", stereo, level_difference_db, 1),
};
#define COUNT (sizeof figures / sizeof *figures)

const es_check_figure *es_check_figure_at(size_t index)
{
    return index < COUNT ? &figures[index] : NULL;
}

const es_check_figure *es_check_figure_named(const char *key)
{
    for (size_t i = 0; i < COUNT; i++)
        if (strcmp(figures[i].key, key) == 0)
            return &figures[i];
    return NULL;
}

double es_check_figure_of(const es_check_figure *figure, const es_check_result *result)
{
    double value;
    memcpy(&value, (const char *)result + figure->at, sizeof value);
    return value;
}
