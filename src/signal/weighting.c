#include "signal/weighting.h"

#include "evenspool/base/units.h"
#include "evenspool/signal/flutter.h"
#include "evenspool/signal/tone_tracker.h"

#include <math.h>
#include <string.h>

/* Only valid at 1201 samples per second. */
_Static_assert((int)ES_READINGS_HZ == 1201, "refit the weighting filter for another rate");

static const es_biquad curve[ES_WEIGHTING_SECTIONS] = {
    {.b0 = 0.06605409088988171,
     .b1 = -0.1321081817797634,
     .b2 = 0.06605409088988171,
     .a1 = -1.995467155301269,
     .a2 = 0.9954740598153513},
    {.b0 = 1.0, .b1 = -1.0, .a1 = -0.9954173915091602},
    {.b0 = 1.0, .b1 = -0.7408837423774214, .a1 = -1.636911746029206, .a2 = 0.6559685507526436},
    {.b0 = 1.002235529826502,
     .b1 = -1.977918142218685,
     .b2 = 0.9759669006900084,
     .a1 = -1.977918142218685,
     .a2 = 0.9782024305165108},
    {.b0 = 0.9850735858513752,
     .b1 = -1.669397313545457,
     .b2 = 0.7996454799229529,
     .a1 = -1.669397313545457,
     .a2 = 0.7847190657743279},
    {.b0 = 1.031274229914611,
     .b1 = -1.503860100572078,
     .b2 = 0.5832376092798861,
     .a1 = -1.503860100572078,
     .a2 = 0.6145118391944968},
    {.b0 = 1.000037078727795,
     .b1 = -1.999082888903477,
     .b2 = 0.9990491629642014,
     .a1 = -1.999082888903477,
     .a2 = 0.9990862416919959},
    {.b0 = 1.001342464605654,
     .b1 = -1.956437325971383,
     .b2 = 0.9576469428842908,
     .a1 = -1.956437325971383,
     .a2 = 0.9589894074899445},
};

void es_weighting_fill(es_biquad sections[ES_WEIGHTING_SECTIONS])
{
    memcpy(sections, curve, sizeof curve);
}

double es_weighting_db(double rate_hz)
{
    double w = ES_TWO_PI * rate_hz / ES_READINGS_HZ, gain = 1.0;
    for (size_t i = 0; i < ES_WEIGHTING_SECTIONS; i++) {
        const es_biquad *s = &curve[i];
        gain *= hypot(s->b0 + s->b1 * cos(w) + s->b2 * cos(2.0 * w),
                      s->b1 * sin(w) + s->b2 * sin(2.0 * w));
        gain /= hypot(1.0 + s->a1 * cos(w) + s->a2 * cos(2.0 * w),
                      s->a1 * sin(w) + s->a2 * sin(2.0 * w));
    }
    return es_db(gain);
}
