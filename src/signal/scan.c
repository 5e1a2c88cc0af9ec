#include "evenspool/signal/scan.h"

#include "signal/wide.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

/* Magnitudes of IEEE 754 floats order like their bits, and what is not finite lies above all. */
WIDE float es_scan_peak(const float *at, size_t count)
{
    int32_t most = 0;
    for (size_t i = 0; i < count; i++) { /* compilers make vectors of this loop as it stands */
        int32_t bits;
        memcpy(&bits, at + i, sizeof bits);
        bits &= 0x7FFFFFFF;
        most = bits > most ? bits : most;
    }
    float peak;
    memcpy(&peak, &most, sizeof peak);
    return isfinite(peak) ? peak : (float)INFINITY;
}
