#include "evenspool/signal/noise.h"

#include "evenspool/base/units.h"

#include <math.h>

/* IEC 61672-1 Annex E: corner frequencies [Hz] and the constant that makes it 0 dB at 1 kHz. */
double es_weight_a_db(double hz)
{
    static const double f1 = 20.598997, f2 = 107.652649, f3 = 737.862231, f4 = 12194.217148;
    double q = hz * hz, q4 = f4 * f4;
    double ratio = q4 * q * q / ((q + f1 * f1) * sqrt(q + f2 * f2) * sqrt(q + f3 * f3) * (q + q4));
    return es_db(ratio) + 1.99966;
}

/* Closed form of the network of ITU-R BS.468-4; within 0.06 dB of its table 1. */
double es_weight_468_db(double hz)
{
    double q = hz * hz;
    double even =
        ((-4.737338981378384e-24 * q + 2.043828333606125e-15) * q - 1.363894795463638e-7) * q + 1.0;
    double odd =
        ((1.306612257412824e-19 * q - 2.118150887518656e-11) * q + 5.559488023498642e-4) * hz;
    return es_db(1.246332637532143e-4 * hz / hypot(even, odd)) + 18.2463;
}
