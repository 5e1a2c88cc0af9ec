/* Azimuth: from the broadband sound, which knows no whole turns, refined by the tones upward. */
#include "task/tape_report.h"

#include "evenspool/base/units.h"

#include <math.h>

#define TREBLE_HZ 10000.0
#define LOW_HZ 1200.0 /* an eighth of its period is farther than a screw goes astray */

/* By a tone alone: within a quarter of its period, the smaller delay rather than a reversed channel. */
static es_delay_figures from_tone(double hz, const es_tape_phase_figures *phase)
{
    int opposed = fabs(phase->phase_rad) > ES_PI / 2.0;
    double rest = phase->phase_rad - (opposed ? copysign(ES_PI, phase->phase_rad) : 0.0);
    return (es_delay_figures){.known = 1,
                              .delay_s = -rest / (ES_TWO_PI * hz),
                              .u_s = phase->u_rad / (ES_TWO_PI * hz),
                              .opposed = opposed,
                              .sure = hz < LOW_HZ && fabs(rest) < ES_PI / 4.0};
}

/* The lowest tone above hz of which the phase is known; ES_PROGRAMME_STEPS: none. */
static size_t next_tone(const es_tape_part *part, const es_programme_section *s, double hz)
{
    size_t best = ES_PROGRAMME_STEPS;
    for (size_t i = 0; i < s->step_count; i++)
        if (part->step[i].phase.known && part->step[i].hz > hz &&
            (best == ES_PROGRAMME_STEPS || part->step[i].hz < part->step[best].hz))
            best = i;
    return best;
}

es_delay_figures es_tape_delay_of(const es_tape_read *r, size_t nth)
{
    const es_programme_section *s;
    es_delay_figures f = {0};
    const es_tape_part *broad = es_tape_part_of(r, ES_SECTION_AZIMUTH_BROADBAND, nth, &s);
    if (broad)
        f = broad->delay;
    const es_tape_part *tones = es_tape_part_of(r, ES_SECTION_AZIMUTH_TONES, nth, &s);
    size_t i = tones ? next_tone(tones, s, 0.0) : ES_PROGRAMME_STEPS;
    for (; i < ES_PROGRAMME_STEPS; i = next_tone(tones, s, tones->step[i].hz)) {
        const es_tape_step *step = &tones->step[i];
        if (f.known)
            f = es_delay_refine(&f, step->hz, step->phase.phase_rad, step->phase.u_rad);
        else
            f = from_tone(step->hz, &step->phase);
    }
    return f;
}

void es_tape_report_azimuth(const es_tape_read *r, es_tape_result *result)
{
    es_delay_figures f = es_tape_delay_of(r, 0);
    es_transport_class transport = ES_CASSETTE;
    if (!f.known || es_transport_from_name(result->transport, &transport) != ES_OK)
        return;
    double spacing_m = es_track_spacing_m(transport), width_m = es_track_width_m(transport);
    double speed_m_s = es_geometry_defaults(transport).speed_m_s * result->played_speed;
    double angle = es_angle_of_delay(f.delay_s, spacing_m, speed_m_s);
    result->polarity = f.opposed ? ES_POLARITY_OPPOSED : ES_POLARITY_SAME;
    result->azimuth = (es_tape_azimuth){
        .known = 1,
        .delay_us = 1e6 * f.delay_s,
        .u95_us = 2e6 * f.u_s,
        .sure = f.sure,
        .angle_arcmin = angle,
        .u95_arcmin = fabs(es_angle_of_delay(2.0 * f.u_s, spacing_m, speed_m_s)),
        .phase_10k_deg = es_phase_of_delay_deg(f.delay_s, TREBLE_HZ),
        .loss_10k_db = es_azimuth_loss_db(width_m, angle, es_wavelength_m(speed_m_s, TREBLE_HZ)),
        .sum_loss_10k_db = es_sum_loss_db(f.delay_s, TREBLE_HZ),
    };
}
