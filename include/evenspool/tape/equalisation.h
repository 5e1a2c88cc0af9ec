/*
 * Equalisation and head losses: how strong a tone should be on the tape, and what dulls it.
 *
 *   flux     N(f) = 10 log10(1 + 1/(2 pi f t2)^2) - 10 log10(1 + (2 pi f t1)^2) (IEC 60094-1 clause 15)
 *   losses   negative dB; wavelength = speed / frequency
 *   azimuth  + : the right track is later; small angles in minutes of arc
 *   thread   no shared state
 *   rt       plain arithmetic
 */
#ifndef ES_TAPE_EQUALISATION_H
#define ES_TAPE_EQUALISATION_H

#include "evenspool/base/status.h"
#include "evenspool/tape/transport.h"

#include <stddef.h>

typedef struct es_equalisation {
    double t1_s; /* treble time constant, > 0                          */
    double t2_s; /* bass time constant; HUGE_VAL: no bass boost        */
} es_equalisation;

/* Equalisations by name: "120" and "70" (cassette), "nab-9.5", "nab-19", "nab-38", "iec-9.5", "iec-19",
 * "iec-38", "aes-76", "4.76" (reels). ES_ERR_ARG: no such name; *out is then the cassette's 120 us. */
es_status es_equalisation_from_name(const char *name, es_equalisation *out);
size_t es_equalisation_count(void);
const char *es_equalisation_name(size_t index); /* "" beyond the count */
/* What is usual for a class. */
const char *es_equalisation_usual(es_transport_class transport);

double es_equalisation_flux_db(es_equalisation equalisation, double hz);
/* Flux at hz against the flux at ref_hz. */
double es_equalisation_flux_re_db(es_equalisation equalisation, double hz, double ref_hz);
/* What a tape made for `tape` reads too much when it is played with `played`, re ref_hz. */
double es_equalisation_mismatch_db(es_equalisation tape, es_equalisation played, double hz,
                                   double ref_hz);
double es_corner_hz(double time_constant_s); /* 1 / (2 pi t) */

double es_wavelength_m(double speed_m_s, double hz);
/* Head losses [dB], never positive; at a null -HUGE_VAL. */
double es_azimuth_loss_db(double track_width_m, double angle_arcmin, double wavelength_m);
double es_gap_loss_db(double gap_m, double gap_factor, double wavelength_m);
double es_spacing_loss_db(double spacing_m, double wavelength_m); /* 40 pi log10(e) d / lambda */
#define ES_GAP_FACTOR 1.11
/* Loss of the sum of two tracks that are delay_s apart: 20 log10 |cos(pi f t)|. */
double es_sum_loss_db(double delay_s, double hz);

/* d tan(a) / v and back. */
double es_delay_of_angle(double angle_arcmin, double track_spacing_m, double speed_m_s);
double es_angle_of_delay(double delay_s, double track_spacing_m, double speed_m_s);
/* 360 f t [degrees], whole turns kept. */
double es_phase_of_delay_deg(double delay_s, double hz);

/* Middle of the left track to middle of the right, and width of one, for a class's usual stereo head [m];
 * NaN: no stereo head is usual. */
double es_track_spacing_m(es_transport_class transport);
double es_track_width_m(es_transport_class transport);

#endif
