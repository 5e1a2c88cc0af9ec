#include "evenspool/signal/scan.h"

#include "signal/wide.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#define LANES 32 /* four vectors at once */

/* Magnitudes of IEEE 754 floats order like their bits, and what is not finite lies above all. */
WIDE float es_scan_peak(const float *at, size_t count)
{
    int32_t top[LANES] = {0}, bits[LANES];
    size_t i = 0;
    for (; i + LANES <= count; i += LANES) {
        memcpy(bits, at + i, sizeof bits);
        for (size_t k = 0; k < LANES; k++) {
            int32_t magnitude = bits[k] & 0x7FFFFFFF;
            top[k] = magnitude > top[k] ? magnitude : top[k];
        }
    }
    for (; i < count; i++) {
        memcpy(bits, at + i, sizeof bits[0]);
        int32_t magnitude = bits[0] & 0x7FFFFFFF;
        top[0] = magnitude > top[0] ? magnitude : top[0];
    }
    int32_t most = 0;
    for (size_t k = 0; k < LANES; k++)
        most = top[k] > most ? top[k] : most;
    float peak;
    memcpy(&peak, &most, sizeof peak);
    return isfinite(peak) ? peak : (float)INFINITY;
}
