#include "evenspool/tape/scenario.h"

#include "evenspool/base/text.h"

#include "tape/scenario_keys.h"

#include <math.h>
#include <string.h>

void es_scenario_set_class(es_scenario *s, es_transport_class transport)
{
    s->geometry = es_geometry_defaults(transport);
    switch (transport) {
    case ES_CASSETTE:
    case ES_MICROCASSETTE: /* the cassette's; from memory */
        s->track_spacing_m = 0.9e-3;
        s->track_width_m = 0.6e-3;
        break;
    default: /* two half tracks on 6.3 mm tape (common practice, no source) */
        s->track_spacing_m = 4.2e-3;
        s->track_width_m = 2.0e-3;
        break;
    }
}

/* Sizes of a belt-driven cassette deck (usual ones, common practice: no standard exists). */
static void usual_cassette_machine(es_geometry *g)
{
    g->capstan_m = 2.0e-3;
    g->pinch_roller_m = 10.0e-3;
    g->flywheel_m = 60.0e-3;
    g->motor_pulley_m = 10.0e-3;
    g->belt_m = 250.0e-3;
    g->idler_m = 25.0e-3;
}

es_scenario es_scenario_defaults(void)
{
    es_scenario s = {.name = "unnamed",
                     .seed = 1,
                     .length_s = 60.0,
                     .warm_up_min = 5.0,
                     .trimmer = {.range_turns = 0.75, .start = 0.5},
                     .motor_s = 0.15,
                     .random = {.low_hz = 0.5, .high_hz = 50.0},
                     .scrape = {.low_hz = 1000.0, .high_hz = 3000.0},
                     .azimuth_screw = {60.0, 0, 4.0, 4.0, 0.5}, /* common practice, no source */
                     .level_trimmer = {16.0, 0, 3.0, 0.75, 0.5},
                     .tone_hz = 3150.0,
                     .level_dbfs = -10.0,
                     .snr_db = HUGE_VAL,
                     .hum_hz = 50.0,
                     .hum_dbfs = -HUGE_VAL,
                     .buzz_dbfs = -HUGE_VAL,
                     .dropout_db = 20.0,
                     .dropout_s = 0.03};
    es_scenario_set_class(&s, ES_CASSETTE);
    usual_cassette_machine(&s.geometry);
    return s;
}

const char *es_scenario_part_needs(es_part part)
{
    switch (part) {
    case ES_PART_CAPSTAN:
        return "capstan-diameter";
    case ES_PART_PINCH_ROLLER:
        return "pinch-roller-diameter";
    case ES_PART_MOTOR:
        return "capstan-diameter, flywheel-diameter and motor-pulley-diameter";
    case ES_PART_BELT:
        return "capstan-diameter, flywheel-diameter and belt-length";
    case ES_PART_IDLER:
        return "capstan-diameter, flywheel-diameter and idler-diameter";
    default:
        return "hub-radius, tape-thickness and tape-length";
    }
}

/* --- checks --------------------------------------------------------------------- */

static es_status refuse(es_error *error, const char *sentence)
{
    return es_fail(error, ES_ERR_INPUT, "scenario", "%s", sentence);
}

static es_status check_ranges(const es_scenario *s, es_error *error)
{
    for (size_t i = 0; i < es_scenario_key_count(); i++) {
        const es_scenario_key *key = es_scenario_key_at(i);
        if (es_scenario_key_holds(s, key))
            continue;
        char room[256];
        es_text wants = es_text_over(room, sizeof room);
        es_scenario_key_wants(&wants, key);
        return es_fail(error, ES_ERR_INPUT, "scenario", "The scenario's %s must be %s.", key->name,
                       room);
    }
    return ES_OK;
}

static es_status check_course(const es_scenario *s, es_error *error)
{
    double rest = s->lead_in_s + s->lead_out_s + s->start_ramp_s + s->stop_ramp_s;
    if (rest >= s->length_s)
        return refuse(error, "The scenario's length must be more than lead-in, start-ramp, "
                             "stop-ramp and lead-out together.");
    if (s->tone_off_s > 0.0 && !(s->tone_on_s >= 0.05))
        return refuse(error, "A scenario with tone-off needs a tone-on of at least 0.05 s.");
    if (s->geometry.speed_m_s != es_geometry_defaults(s->geometry.transport).speed_m_s)
        return refuse(error, "The scenario's tape speed is not that of its class.");
    if (s->tape_position_min * 60.0 * s->geometry.speed_m_s > s->geometry.tape_length_m)
        return refuse(error, "The scenario's tape-position lies beyond its tape-length.");
    return ES_OK;
}

static es_status check_flutter(const es_scenario *s, es_error *error)
{
    for (int part = ES_PART_CAPSTAN; part < ES_SCENARIO_PARTS; part++) {
        const double *peak = s->flutter[part];
        if (peak[0] + peak[1] + peak[2] > 0.0 &&
            !isfinite(es_part_rate(&s->geometry, (es_part)part, 0.0)))
            return es_fail(error, ES_ERR_INPUT, "scenario",
                           "The flutter of the scenario's %s needs %s.",
                           es_part_name((es_part)part), es_scenario_part_needs((es_part)part));
    }
    for (int i = 0; i < ES_SCENARIO_WOBBLES; i++)
        if (s->wobble[i].peak > 0.0 && !(s->wobble[i].rate_hz > 0.0))
            return es_fail(error, ES_ERR_INPUT, "scenario",
                           "The scenario's wobble-%d needs wobble-%d-rate.", i + 1, i + 1);
    if (!(s->random.low_hz < s->random.high_hz))
        return refuse(error, "The scenario's random-low must be below its random-high.");
    if (!(s->scrape.low_hz < s->scrape.high_hz))
        return refuse(error, "The scenario's scrape-low must be below its scrape-high.");
    return ES_OK;
}

static es_status check_rate(const es_scenario *s, double rate_hz, es_error *error)
{
    double band = 0.45 * rate_hz;
    if (!(rate_hz >= ES_REHEARSAL_RATE_MIN_HZ && rate_hz <= ES_REHEARSAL_RATE_MAX_HZ))
        return refuse(error, "The sample rate must be from 8000 to 384000 Hz.");
    if (s->tone_hz > 0.4 * rate_hz)
        return refuse(error, "The scenario's tone must be at most 0.4 of the sample rate.");
    if ((s->random.rms > 0.0 && s->random.high_hz > band) ||
        (s->scrape.rms > 0.0 && s->scrape.high_hz > band))
        return refuse(error, "The scenario's random-high and scrape-high must be at most 0.45 of "
                             "the sample rate.");
    return ES_OK;
}

es_status es_scenario_check(const es_scenario *s, double rate_hz, es_error *error)
{
    es_status status = check_ranges(s, error);
    if (status == ES_OK)
        status = check_course(s, error);
    if (status == ES_OK)
        status = check_flutter(s, error);
    if (status == ES_OK && rate_hz != 0.0)
        status = check_rate(s, rate_hz, error);
    return status;
}
