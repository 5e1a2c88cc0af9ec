#include "evenspool/tape/transport.h"

#include "evenspool/base/units.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

typedef struct class_row {
    const char *name;
    double speed_m_s;    /* exact inch conversion                    */
    double hub_radius_m; /* outside of an empty hub                  */
    double thickness_m;  /* total, of a usual tape                   */
    double length_m;     /* of that tape                             */
} class_row;

/*
 * Speeds: 15/16, 1 7/8, 3 3/4 ... in/s, 1 in = 25.4 mm. Cassette: 22 mm hub, C60 of 18 um (from
 * memory). Reels: the usual 18 cm reel with long-play tape up to 19 cm/s, the 27 cm reel with
 * standard-play tape above; microcassette: one-hour tape (common practice, no source).
 */
static const class_row classes[] = {
    [ES_CASSETTE] = {"cassette", 0.047625, 11.0e-3, 18e-6, 85.725},
    [ES_MICROCASSETTE] = {"microcassette", 0.0238125, 6.0e-3, 9e-6, 42.8625},
    [ES_REEL_4_76] = {"reel-4.76", 0.047625, 30.0e-3, 35e-6, 549.0},
    [ES_REEL_9_5] = {"reel-9.5", 0.09525, 30.0e-3, 35e-6, 549.0},
    [ES_REEL_19] = {"reel-19", 0.1905, 30.0e-3, 35e-6, 549.0},
    [ES_REEL_38] = {"reel-38", 0.381, 57.0e-3, 50e-6, 762.0},
    [ES_REEL_76] = {"reel-76", 0.762, 57.0e-3, 50e-6, 762.0},
};
_Static_assert(sizeof classes / sizeof *classes == ES_TRANSPORT_CLASS_COUNT, "one row per class");

static const char *const part_names[] = {
    [ES_PART_NONE] = "",
    [ES_PART_CAPSTAN] = "capstan",
    [ES_PART_PINCH_ROLLER] = "pinch roller",
    [ES_PART_TAKE_UP] = "take-up reel",
    [ES_PART_SUPPLY] = "supply reel",
    [ES_PART_MOTOR] = "motor",
    [ES_PART_BELT] = "belt",
    [ES_PART_IDLER] = "idler",
    [ES_PART_REEL] = "a reel",
    [ES_PART_CAPSTAN_OR_BELT] = "capstan or belt",
};
_Static_assert(sizeof part_names / sizeof *part_names == ES_PART_COUNT, "one name per part");

static const class_row *row_of(es_transport_class transport)
{
    return &classes[(unsigned)transport < ES_TRANSPORT_CLASS_COUNT ? transport : ES_CASSETTE];
}

es_geometry es_geometry_defaults(es_transport_class transport)
{
    const class_row *row = row_of(transport);
    return (es_geometry){.transport = (unsigned)transport < ES_TRANSPORT_CLASS_COUNT ? transport
                                                                                     : ES_CASSETTE,
                         .speed_m_s = row->speed_m_s,
                         .hub_radius_m = row->hub_radius_m,
                         .tape_thickness_m = row->thickness_m,
                         .tape_length_m = row->length_m};
}

const char *es_transport_name(es_transport_class transport)
{
    return row_of(transport)->name;
}

es_status es_transport_from_name(const char *name, es_transport_class *out)
{
    *out = ES_CASSETTE;
    for (int i = 0; i < ES_TRANSPORT_CLASS_COUNT; i++)
        if (strcmp(name, classes[i].name) == 0) {
            *out = (es_transport_class)i;
            return ES_OK;
        }
    return ES_ERR_ARG;
}

const char *es_part_name(es_part part)
{
    return (unsigned)part < ES_PART_COUNT ? part_names[part] : "";
}

double es_pack_radius(const es_geometry *g, double length_m)
{
    double area = fmax(length_m, 0.0) * g->tape_thickness_m / ES_PI;
    return sqrt(g->hub_radius_m * g->hub_radius_m + area);
}

/* Quotient of two sizes; NaN unless both are known. */
static double ratio(double over, double under)
{
    return over > 0.0 && under > 0.0 ? over / under : (double)NAN;
}

static double capstan_rate(const es_geometry *g)
{
    if (!(g->capstan_m > 0.0))
        return (double)NAN;
    return ratio(g->speed_m_s, ES_PI * (g->capstan_m + g->tape_thickness_m));
}

static double reel_rate(const es_geometry *g, double held_m)
{
    if (!(g->hub_radius_m > 0.0 && g->tape_thickness_m > 0.0))
        return (double)NAN;
    return ratio(g->speed_m_s, ES_TWO_PI * es_pack_radius(g, held_m));
}

double es_part_rate(const es_geometry *g, es_part part, double played_m)
{
    switch (part) {
    case ES_PART_CAPSTAN:
        return capstan_rate(g);
    case ES_PART_PINCH_ROLLER:
        return ratio(g->speed_m_s, ES_PI * g->pinch_roller_m);
    case ES_PART_TAKE_UP:
        return reel_rate(g, played_m);
    case ES_PART_SUPPLY:
        return g->tape_length_m > 0.0 ? reel_rate(g, g->tape_length_m - played_m) : (double)NAN;
    case ES_PART_MOTOR:
        return capstan_rate(g) * ratio(g->flywheel_m, g->motor_pulley_m);
    case ES_PART_BELT:
        return capstan_rate(g) * ratio(ES_PI * g->flywheel_m, g->belt_m);
    case ES_PART_IDLER:
        return capstan_rate(g) * ratio(g->flywheel_m, g->idler_m);
    default:
        return (double)NAN;
    }
}

double es_reel_slide(const es_geometry *g, double rate_hz)
{
    return 60.0 * ES_TWO_PI * rate_hz * rate_hz * rate_hz *
           ratio(g->tape_thickness_m, g->speed_m_s);
}
