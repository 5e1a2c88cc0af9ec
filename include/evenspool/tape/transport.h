/*
 * Transports: the classes of machine, their geometry, and the turning rates that follow from it.
 *
 * The tape is driven at its neutral plane, so v = pi f (d + h): capstan diameter d, total tape
 * thickness h. A pack that took up a length L on a hub of radius r0 has the radius
 * sqrt(r0^2 + L h / pi) and turns at v / (2 pi R). (Mechanics; figures: docs/methods.md.)
 */
#ifndef ES_TAPE_TRANSPORT_H
#define ES_TAPE_TRANSPORT_H

#include "evenspool/base/status.h"

typedef enum es_transport_class {
    ES_CASSETTE,      /* 4.7625 cm/s */
    ES_MICROCASSETTE, /* 2.38125 cm/s */
    ES_REEL_4_76,     /* reel to reel, by speed in cm/s (exact inch conversions inside) */
    ES_REEL_9_5,
    ES_REEL_19,
    ES_REEL_38,
    ES_REEL_76,
    ES_TRANSPORT_CLASS_COUNT
} es_transport_class;

typedef enum es_part {
    ES_PART_NONE,
    ES_PART_CAPSTAN,
    ES_PART_PINCH_ROLLER,
    ES_PART_TAKE_UP,
    ES_PART_SUPPLY,
    ES_PART_MOTOR,
    ES_PART_BELT,
    ES_PART_IDLER,
    ES_PART_REEL,            /* one of the two reels, not known which          */
    ES_PART_CAPSTAN_OR_BELT, /* one of the two, their usual ranges overlap      */
    ES_PART_COUNT
} es_part;

/* Sizes; 0 = not known. All lengths in metres. */
typedef struct es_geometry {
    es_transport_class transport;
    double speed_m_s;      /* nominal tape speed                           */
    double capstan_m;      /* diameter                                     */
    double pinch_roller_m; /* diameter                                     */
    double flywheel_m;     /* diameter of the flywheel pulley (belt drive) */
    double motor_pulley_m; /* diameter                                     */
    double belt_m;         /* length of the belt                           */
    double idler_m;        /* diameter of a wheel that touches the flywheel */
    double hub_radius_m;
    double tape_thickness_m; /* total                                        */
    double tape_length_m;    /* whole tape, both packs                       */
} es_geometry;

/* The class's usual sizes: exact tape speed, hub, a usual tape; the machine's own parts stay 0
 * (there is no standard). A class out of range gives the cassette's. */
es_geometry es_geometry_defaults(es_transport_class transport);

/* "cassette", "microcassette", "reel-4.76", "reel-9.5", "reel-19", "reel-38", "reel-76". */
const char *es_transport_name(es_transport_class transport);
/* ES_ERR_ARG: no class of that name. */
es_status es_transport_from_name(const char *name, es_transport_class *out);

/* The part's name for people: "capstan", "pinch roller", "take-up reel", "supply reel", "motor",
 * "belt", "idler", "a reel", "capstan or belt"; "" for none. */
const char *es_part_name(es_part part);

/* Radius of a pack that holds length_m of tape [m]. */
double es_pack_radius(const es_geometry *geometry, double length_m);

/* Turning rate [Hz] of a part at nominal speed with played_m of tape on the take-up side;
 * NaN when a size it needs is not known, and for "a reel" and "capstan or belt". */
double es_part_rate(const es_geometry *geometry, es_part part, double played_m);

/*
 * How a reel's rate slides along the tape at that rate [Hz/min], as a size: the take-up slows by
 * it, the supply quickens by it. 2 pi h f^3 / v per second. NaN when the thickness is not known.
 */
double es_reel_slide(const es_geometry *geometry, double rate_hz);

/*
 * The part that best explains a flutter component of rate_hz that slides by slope_hz_per_min
 * (NaN when not known). Rates scale with the speed: divide by 1 + speed error first.
 *
 *   known sizes    the part whose rate, or whose second or third multiple for the motor, lies
 *                  within 3 %, unless another known part is off by less than 1.5 % more
 *   unknown sizes  the class's usual ranges, and only where a single part's range holds the rate
 *   reels          slide by es_reel_slide(): half to two and a half times of it tells the take-up
 *                  (slows) from the supply (quickens); less does not tell: ES_PART_REEL
 *   other parts    do not slide; a rate that does belongs to none of them
 *   else           ES_PART_NONE rather than a guess
 */
es_part es_suspect_of(const es_geometry *geometry, double rate_hz, double slope_hz_per_min);

#endif
