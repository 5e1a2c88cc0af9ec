/* Sines of angles in turns: the same bits on every machine, and fast enough to vectorise. */
#ifndef ES_TAPE_WAVE_H
#define ES_TAPE_WAVE_H

#include "evenspool/base/units.h"

/* The nearest whole number taken off: -0.5 .. 0.5. |turns| < 2^50. */
static inline double es_wrap(double turns)
{
    const double round = 6755399441055744.0; /* 1.5 * 2^52: no room for a fraction above it */
    return turns - ((turns + round) - round);
}

/* sin(2 pi turns) for -0.5 <= turns <= 0.5, within 1e-15: folded to a quarter turn, then the
 * Taylor series, whose first term left out is (pi/2)^21 / 21! = 2.6e-16. */
static inline double es_sine(double turns)
{
    double q = turns > 0.25 ? 0.5 - turns : turns;
    q = q < -0.25 ? -0.5 - q : q;
    double x = ES_TWO_PI * q, y = x * x;
    double s = -1.0 / 121645100408832000.0; /* 19! */
    s = s * y + 1.0 / 355687428096000.0;    /* 17! */
    s = s * y - 1.0 / 1307674368000.0;      /* 15! */
    s = s * y + 1.0 / 6227020800.0;         /* 13! */
    s = s * y - 1.0 / 39916800.0;           /* 11! */
    s = s * y + 1.0 / 362880.0;             /* 9!  */
    s = s * y - 1.0 / 5040.0;               /* 7!  */
    s = s * y + 1.0 / 120.0;                /* 5!  */
    s = s * y - 1.0 / 6.0;                  /* 3!  */
    return x + x * (s * y);
}

#endif
