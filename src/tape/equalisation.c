#include "evenspool/tape/equalisation.h"

#include "evenspool/base/units.h"

#include <math.h>
#include <string.h>

#define ARCMIN_RAD (ES_PI / (180.0 * 60.0))
#define SPACING_DB                                                                                 \
    (40.0 * ES_PI * 0.43429448190325182765) /* 40 pi log10(e), Wallace 1951, BSTJ 30 */
#define US 1e-6

typedef struct named {
    const char *name;
    es_equalisation value;
} named;

/* IEC 60094-1 and the practice it took over; figures as listed in IASA TC-04 section 5.4.10. */
static const named table[] = {
    {"120", {120 * US, 3180 * US}},    {"70", {70 * US, 3180 * US}},
    {"4.76", {120 * US, 3180 * US}},   {"iec-9.5", {90 * US, 3180 * US}},
    {"nab-9.5", {90 * US, 3180 * US}}, {"iec-19", {70 * US, (double)HUGE_VAL}},
    {"nab-19", {50 * US, 3180 * US}},  {"iec-38", {35 * US, (double)HUGE_VAL}},
    {"nab-38", {50 * US, 3180 * US}},  {"aes-76", {17.5 * US, (double)HUGE_VAL}},
};
#define COUNT (sizeof table / sizeof *table)

es_status es_equalisation_from_name(const char *name, es_equalisation *out)
{
    *out = table[0].value;
    for (size_t i = 0; i < COUNT; i++)
        if (strcmp(table[i].name, name) == 0) {
            *out = table[i].value;
            return ES_OK;
        }
    return ES_ERR_ARG;
}

size_t es_equalisation_count(void)
{
    return COUNT;
}

const char *es_equalisation_name(size_t index)
{
    return index < COUNT ? table[index].name : "";
}

const char *es_equalisation_usual(es_transport_class transport)
{
    switch (transport) {
    case ES_REEL_4_76:
        return "4.76";
    case ES_REEL_9_5:
        return "nab-9.5";
    case ES_REEL_19:
        return "nab-19";
    case ES_REEL_38:
        return "iec-38";
    case ES_REEL_76:
        return "aes-76";
    default:
        return "120";
    }
}

/* 10 log10(1 + x^2), exact for small x. */
static double rise_db(double x)
{
    return 10.0 / log(10.0) * log1p(x * x);
}

double es_equalisation_flux_db(es_equalisation e, double hz)
{
    double turn = ES_TWO_PI * hz;
    return rise_db(1.0 / (turn * e.t2_s)) - rise_db(turn * e.t1_s);
}

double es_equalisation_flux_re_db(es_equalisation e, double hz, double ref_hz)
{
    return es_equalisation_flux_db(e, hz) - es_equalisation_flux_db(e, ref_hz);
}

double es_equalisation_mismatch_db(es_equalisation tape, es_equalisation played, double hz,
                                   double ref_hz)
{
    return es_equalisation_flux_re_db(tape, hz, ref_hz) -
           es_equalisation_flux_re_db(played, hz, ref_hz);
}

double es_corner_hz(double time_constant_s)
{
    return 1.0 / (ES_TWO_PI * time_constant_s);
}

/* --- head losses --------------------------------------------------------------------------- */

double es_wavelength_m(double speed_m_s, double hz)
{
    return speed_m_s / hz;
}

/* 20 log10 |sin x / x|; at a null -HUGE_VAL. */
static double sinc_db(double x)
{
    double ratio = fabs(x) < 1e-9 ? 1.0 : fabs(sin(x) / x);
    return es_db(ratio < 1e-12 ? 0.0 : ratio);
}

double es_azimuth_loss_db(double track_width_m, double angle_arcmin, double wavelength_m)
{
    return sinc_db(ES_PI * track_width_m * tan(angle_arcmin * ARCMIN_RAD) / wavelength_m);
}

double es_gap_loss_db(double gap_m, double gap_factor, double wavelength_m)
{
    return sinc_db(ES_PI * gap_m * gap_factor / wavelength_m);
}

double es_spacing_loss_db(double spacing_m, double wavelength_m)
{
    return -SPACING_DB * spacing_m / wavelength_m;
}

double es_sum_loss_db(double delay_s, double hz)
{
    double ratio = fabs(cos(ES_PI * hz * delay_s));
    return es_db(ratio < 1e-12 ? 0.0 : ratio);
}

/* --- azimuth ------------------------------------------------------------------------------- */

double es_delay_of_angle(double angle_arcmin, double track_spacing_m, double speed_m_s)
{
    return track_spacing_m * tan(angle_arcmin * ARCMIN_RAD) / speed_m_s;
}

double es_angle_of_delay(double delay_s, double track_spacing_m, double speed_m_s)
{
    return atan(delay_s * speed_m_s / track_spacing_m) / ARCMIN_RAD;
}

double es_phase_of_delay_deg(double delay_s, double hz)
{
    return 360.0 * hz * delay_s;
}

/* Cassette: two tracks of 0.6 mm, 0.3 mm apart (spacing: common practice, no source). Reels: two half
 * tracks on 6.3 mm tape (common practice, no source). */
double es_track_spacing_m(es_transport_class transport)
{
    return transport == ES_CASSETTE ? 0.9e-3 : transport == ES_MICROCASSETTE ? (double)NAN : 4.2e-3;
}

double es_track_width_m(es_transport_class transport)
{
    return transport == ES_CASSETTE ? 0.6e-3 : transport == ES_MICROCASSETTE ? (double)NAN : 2.0e-3;
}
