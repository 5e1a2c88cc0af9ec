#include "live/geometry.h"

#include <math.h>

static void take(double known, double *size)
{
    if (!isnan(known))
        *size = known;
}

es_status es_geometry_of(const char *transport, const es_deck_record *deck,
                         const es_tape_record *tape, es_geometry *out, es_error *error)
{
    es_transport_class found = ES_CASSETTE;
    const char *name = transport ? transport : deck ? deck->transport : "cassette";
    if (es_transport_from_name(name, &found) != ES_OK)
        return es_fail(error, ES_ERR_ARG, "class",
                       "There is no class of machine called \"%.40s\"; write cassette, "
                       "microcassette, reel-4.76, reel-9.5, reel-19, reel-38 or reel-76.",
                       name);
    *out = es_geometry_defaults(found);
    if (deck) {
        take(deck->speed_m_s, &out->speed_m_s);
        take(deck->capstan_m, &out->capstan_m);
        take(deck->pinch_roller_m, &out->pinch_roller_m);
        take(deck->flywheel_m, &out->flywheel_m);
        take(deck->motor_pulley_m, &out->motor_pulley_m);
        take(deck->belt_m, &out->belt_m);
        take(deck->idler_m, &out->idler_m);
        take(deck->hub_radius_m, &out->hub_radius_m);
    }
    if (tape) {
        take(tape->thickness_m, &out->tape_thickness_m);
        take(tape->length_m, &out->tape_length_m);
    }
    return ES_OK;
}

const char *es_class_of_machine(size_t index)
{
    return index < ES_TRANSPORT_CLASS_COUNT ? es_transport_name((es_transport_class)index) : NULL;
}
