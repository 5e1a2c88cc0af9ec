#include "live/tape_entry.h"

#include <math.h>

es_reading_entry es_tape_entry_of(const es_tape_result *result)
{
    const es_check_result *speed = result->speed_known ? &result->check : NULL;
    double unknown = (double)NAN;
    return (es_reading_entry){.error_percent = speed ? speed->speed.error_percent : unknown,
                              .u95_percent = speed ? speed->speed.u95_percent : unknown,
                              .weighted_quasi_peak_percent =
                                  speed ? speed->flutter.weighted_quasi_peak_percent : unknown};
}
