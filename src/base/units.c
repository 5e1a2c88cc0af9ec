#include "evenspool/base/units.h"

#include <math.h>

double es_cents(double error)
{
    return 1200.0 * log1p(error) / log(2.0);
}

double es_error_from_cents(double cents)
{
    return expm1(cents / 1200.0 * log(2.0));
}

double es_db(double amplitude_ratio)
{
    return 20.0 * log10(amplitude_ratio);
}

double es_amplitude(double db)
{
    return pow(10.0, db / 20.0);
}

double es_true_error(double heard, double tape, double clock)
{
    /* expanded so that small errors keep all their digits */
    double two = heard + tape + heard * tape;
    return two + clock + two * clock;
}
