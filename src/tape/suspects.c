#include "evenspool/base/units.h"
#include "evenspool/tape/transport.h"

#include <math.h>

#define MATCH 0.03          /* a known part's rate is met within this share         */
#define CLEARLY 0.015       /* and the next known part is off by this much more     */
#define STEADY_PER_MIN 0.03 /* parts other than reels slide by less than this share */
#define REEL_MARGIN 0.05    /* hubs and tapes differ a little from the usual ones   */

typedef struct span {
    double low, high;
} span;

/* Usual sizes in a class, for parts whose size is not known (common practice, no source). */
typedef struct usual {
    span capstan_m, roller_m; /* diameters                    */
    span hub_m, full_m;       /* radii of the smallest and the fullest packs met */
    span motor_hz;
} usual;

static const usual usuals[] = {
    [ES_CASSETTE] =
        {{1.45e-3, 3.07e-3}, {7.2e-3, 13.8e-3}, {10.1e-3, 11.0e-3}, {22e-3, 27.0e-3}, {25.0, 55.0}},
    [ES_MICROCASSETTE] =
        {{1.0e-3, 2.2e-3}, {5.5e-3, 8.5e-3}, {5.5e-3, 6.5e-3}, {11e-3, 13.5e-3}, {20.0, 55.0}},
    [ES_REEL_4_76] = {{3e-3, 12e-3}, {15e-3, 50e-3}, {15e-3, 31e-3}, {60e-3, 89e-3}, {12.0, 31.0}},
    [ES_REEL_9_5] = {{3e-3, 12e-3}, {15e-3, 50e-3}, {15e-3, 31e-3}, {60e-3, 89e-3}, {12.0, 31.0}},
    [ES_REEL_19] = {{4e-3, 15e-3}, {15e-3, 50e-3}, {22e-3, 57e-3}, {60e-3, 133e-3}, {12.0, 31.0}},
    [ES_REEL_38] = {{6e-3, 25e-3}, {20e-3, 60e-3}, {28e-3, 57e-3}, {80e-3, 133e-3}, {6.0, 31.0}},
    [ES_REEL_76] = {{8e-3, 30e-3}, {20e-3, 60e-3}, {28e-3, 57e-3}, {80e-3, 133e-3}, {6.0, 31.0}},
};
_Static_assert(sizeof usuals / sizeof *usuals == ES_TRANSPORT_CLASS_COUNT, "one row per class");

/* A belt round flywheel and motor pulley turns a little slower than the capstan: its length is
 * more than the flywheel's circumference and less than about twice of it. */
static const span belt_of_capstan = {0.45, 0.95};

static int holds(span s, double value)
{
    return value >= s.low && value <= s.high;
}

static int known(double rate_hz)
{
    return rate_hz > 0.0;
}

/* --- parts of known size -------------------------------------------------------- */

static const es_part machine_parts[] = {ES_PART_CAPSTAN, ES_PART_PINCH_ROLLER, ES_PART_MOTOR,
                                        ES_PART_BELT, ES_PART_IDLER};
enum { MACHINE_PARTS = sizeof machine_parts / sizeof *machine_parts };

/* How far the rate is from the part's, as a share; the motor also at twice and three times. */
static double misfit(const es_geometry *g, es_part part, double rate_hz)
{
    double turns = es_part_rate(g, part, 0.0);
    if (!known(turns))
        return HUGE_VAL;
    double least = fabs(rate_hz / turns - 1.0);
    for (int times = 2; part == ES_PART_MOTOR && times <= 3; times++)
        least = fmin(least, fabs(rate_hz / (turns * times) - 1.0));
    return least;
}

/* The known part that fits. *torn is set when two fit about as well. */
static es_part fitting(const es_geometry *g, double rate_hz, int *torn)
{
    es_part best = ES_PART_NONE;
    double first = HUGE_VAL, second = HUGE_VAL;
    for (int i = 0; i < MACHINE_PARTS; i++) {
        double off = misfit(g, machine_parts[i], rate_hz);
        if (off < first) {
            second = first;
            first = off;
            best = machine_parts[i];
        } else if (off < second) {
            second = off;
        }
    }
    if (first > MATCH)
        return ES_PART_NONE;
    *torn = second - first < CLEARLY;
    return *torn ? ES_PART_NONE : best;
}

/* --- usual ranges ---------------------------------------------------------------- */

static span rates_of_radii(double speed_m_s, double smallest, double largest)
{
    return (span){speed_m_s / (ES_TWO_PI * largest), speed_m_s / (ES_TWO_PI * smallest)};
}

/* From a full pack to an empty hub: the class's usual ones and this tape's, whichever reach
 * further, since the sizes given may themselves be the class's usual ones. */
static span reel_range(const es_geometry *g, const usual *u)
{
    double hub = u->hub_m.low, full = u->full_m.high;
    if (g->hub_radius_m > 0.0 && g->tape_thickness_m > 0.0 && g->tape_length_m > 0.0) {
        hub = fmin(hub, g->hub_radius_m / (1.0 + REEL_MARGIN));
        full = fmax(full, es_pack_radius(g, g->tape_length_m) * (1.0 + REEL_MARGIN));
    }
    return rates_of_radii(g->speed_m_s, hub, full);
}

static span capstan_range(const es_geometry *g, const usual *u)
{
    return rates_of_radii(g->speed_m_s, 0.5 * (u->capstan_m.low + g->tape_thickness_m),
                          0.5 * (u->capstan_m.high + g->tape_thickness_m));
}

static span belt_range(const es_geometry *g, const usual *u)
{
    double turns = es_part_rate(g, ES_PART_CAPSTAN, 0.0);
    span capstan = known(turns) ? (span){turns, turns} : capstan_range(g, u);
    return (span){capstan.low * belt_of_capstan.low, capstan.high * belt_of_capstan.high};
}

/* Near the mains frequency the hum beside the tone looks just like a motor. */
static int may_be_hum(double rate_hz)
{
    return fabs(rate_hz / 50.0 - 1.0) < 0.003 || fabs(rate_hz / 60.0 - 1.0) < 0.003;
}

/* Bits, one per part of unknown size whose usual range holds the rate. */
enum { CAPSTAN = 1, ROLLER = 2, MOTOR = 4, BELT = 8, REEL = 16 };

static int usual_parts(const es_geometry *g, const usual *u, double rate_hz)
{
    int may = 0;
    if (!known(es_part_rate(g, ES_PART_CAPSTAN, 0.0)) && holds(capstan_range(g, u), rate_hz))
        may |= CAPSTAN;
    if (!(g->pinch_roller_m > 0.0) &&
        holds(rates_of_radii(g->speed_m_s, 0.5 * u->roller_m.low, 0.5 * u->roller_m.high), rate_hz))
        may |= ROLLER;
    if (!known(es_part_rate(g, ES_PART_MOTOR, 0.0)) && holds(u->motor_hz, rate_hz))
        may |= MOTOR;
    if (!known(es_part_rate(g, ES_PART_BELT, 0.0)) && holds(belt_range(g, u), rate_hz))
        may |= BELT;
    if (holds(reel_range(g, u), rate_hz))
        may |= REEL;
    return may;
}

/* --- what the slope says ---------------------------------------------------------- */

static int slides(double rate_hz, double slope_hz_per_min)
{
    return fabs(slope_hz_per_min) > STEADY_PER_MIN * rate_hz; /* false when not known */
}

static es_part which_reel(const es_geometry *g, double rate_hz, double slope_hz_per_min)
{
    double times = slope_hz_per_min / es_reel_slide(g, rate_hz);
    if (fabs(times) > 2.5)
        return ES_PART_NONE;
    if (fabs(times) >= 0.5)
        return times < 0.0 ? ES_PART_TAKE_UP : ES_PART_SUPPLY;
    return ES_PART_REEL;
}

static es_part only_part(int may)
{
    switch (may) {
    case CAPSTAN:
        return ES_PART_CAPSTAN;
    case ROLLER:
        return ES_PART_PINCH_ROLLER;
    case MOTOR:
        return ES_PART_MOTOR;
    case BELT:
        return ES_PART_BELT;
    case CAPSTAN | BELT:
        return ES_PART_CAPSTAN_OR_BELT;
    default:
        return ES_PART_NONE;
    }
}

/* A reel's range and another part's both hold the rate: only a slope like a reel's decides. */
static es_part reel_or_other(const es_geometry *g, double rate_hz, double slope_hz_per_min,
                             es_part other)
{
    es_part reel = which_reel(g, rate_hz, slope_hz_per_min);
    if (reel == ES_PART_TAKE_UP || reel == ES_PART_SUPPLY)
        return reel;
    double times = fabs(slope_hz_per_min) / es_reel_slide(g, rate_hz);
    return times < 0.2 ? other : ES_PART_NONE; /* NaN: none */
}

es_part es_suspect_of(const es_geometry *g, double rate_hz, double slope_hz_per_min)
{
    if (!(rate_hz > 0.0 && g->speed_m_s > 0.0) ||
        (unsigned)g->transport >= ES_TRANSPORT_CLASS_COUNT)
        return ES_PART_NONE;
    const usual *u = &usuals[g->transport];
    int may = usual_parts(g, u, rate_hz);
    int torn = 0;
    es_part other = fitting(g, rate_hz, &torn);
    if (torn)
        return ES_PART_NONE;
    if (other == ES_PART_NONE && may == REEL)
        return which_reel(g, rate_hz, slope_hz_per_min);
    if (other == ES_PART_NONE)
        other = only_part(may & ~REEL);
    if (other == ES_PART_MOTOR && !known(es_part_rate(g, ES_PART_MOTOR, 0.0)) &&
        may_be_hum(rate_hz))
        return ES_PART_NONE;
    if (may & REEL)
        return reel_or_other(g, rate_hz, slope_hz_per_min, other);
    return slides(rate_hz, slope_hz_per_min) ? ES_PART_NONE : other;
}
