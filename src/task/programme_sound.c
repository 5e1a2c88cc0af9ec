#include "evenspool/task/programme_sound.h"

#include "evenspool/base/units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SPACING_HZ 20
#define RATE_OVER_TONE 2.05

typedef struct piece {
    int64_t from, to; /* frames, to excluded */
    enum { PIECE_MARKER, PIECE_TONE, PIECE_BROAD } kind;
    double hz;
    double gain[2];
    es_marker_burst burst;
} piece;

struct es_programme_sound {
    es_programme programme;
    es_programme_sound_config config;
    piece *pieces; /* in order of time; between them silence */
    size_t count, at;
    float *broad; /* one second of it, NULL when there is none */
    double broad_peak;
    int64_t frame, length;
};

/* --- the broadband sound --------------------------------------------------------------------- */

size_t es_broadband_count(double low_hz, double high_hz)
{
    return high_hz >= low_hz ? (size_t)((high_hz - low_hz) / SPACING_HZ) + 1 : 0;
}

/* Scrambled index: splitmix64 (Steele, Lea and Flood 2014; constants from memory). */
static uint64_t scrambled(uint64_t index)
{
    uint64_t z = (index + 1) * 0x9E3779B97F4A7C15u;
    z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9u;
    z = (z ^ z >> 27) * 0x94D049BB133111EBu;
    return z ^ z >> 31;
}

/* Off the even spacing by up to 9 Hz, so that the sound does not repeat 20 times a second. */
static double broad_hz(double low_hz, double high_hz, size_t index)
{
    double jitter = (double)(scrambled(2 * index) % (SPACING_HZ - 1)) - (SPACING_HZ / 2 - 1);
    double hz = low_hz + SPACING_HZ * (double)index + jitter;
    return fmin(fmax(hz, low_hz), high_hz);
}

/* So that all amplitudes, falling with the root of the frequency, have rms 1 together. */
static double broad_scale(double low_hz, double high_hz)
{
    double sum = 0.0;
    for (size_t i = 0; i < es_broadband_count(low_hz, high_hz); i++)
        sum += 0.5 / broad_hz(low_hz, high_hz, i);
    return 1.0 / sqrt(sum);
}

es_broadband_sine es_broadband_at(double low_hz, double high_hz, size_t index)
{
    double hz = broad_hz(low_hz, high_hz, index);
    return (es_broadband_sine){.hz = hz,
                               .amplitude = broad_scale(low_hz, high_hz) / sqrt(hz),
                               .turns = (double)(scrambled(2 * index + 1) >> 11) * 0x1p-53};
}

/* One second, by turning each sine's phasor; what rounding adds stays under 1e-10. */
static es_status fill_broad(es_programme_sound *s)
{
    const es_programme *p = &s->programme;
    size_t period = (size_t)s->config.rate_hz;
    double *sum = calloc(period, sizeof *sum);
    s->broad = calloc(period, sizeof *s->broad);
    if (!sum || !s->broad) {
        free(sum);
        return ES_ERR_NOMEM;
    }
    for (size_t i = 0; i < es_broadband_count(p->broad_low_hz, p->broad_high_hz); i++) {
        es_broadband_sine sine = es_broadband_at(p->broad_low_hz, p->broad_high_hz, i);
        double turn = ES_TWO_PI * sine.hz / s->config.rate_hz, c = cos(turn), d = sin(turn);
        double re = sine.amplitude * cos(ES_TWO_PI * sine.turns);
        double im = sine.amplitude * sin(ES_TWO_PI * sine.turns);
        for (size_t n = 0; n < period; n++) {
            sum[n] += im;
            double next = re * c - im * d;
            im = im * c + re * d;
            re = next;
        }
    }
    for (size_t n = 0; n < period; n++) {
        s->broad[n] = (float)sum[n];
        s->broad_peak = fmax(s->broad_peak, fabs(sum[n]));
    }
    free(sum);
    return ES_OK;
}

/* --- pieces ------------------------------------------------------------------------------------- */

static int64_t frame_at(const es_programme_sound *s, double time_s)
{
    return llround(time_s * s->config.rate_hz);
}

static double gain_of(const es_programme_sound *s, double level_db)
{
    return es_amplitude(s->config.reference_dbfs + level_db);
}

static void add_marker(es_programme_sound *s, size_t section, double start_s)
{
    piece *m = &s->pieces[s->count++];
    es_marker_code code = {.programme = es_programme_id(&s->programme),
                           .side = (unsigned)s->config.side + 1,
                           .section = (unsigned)section};
    *m = (piece){.from = frame_at(s, start_s),
                 .to = frame_at(s, start_s + ES_MARKER_S),
                 .kind = PIECE_MARKER};
    m->gain[0] = m->gain[1] = gain_of(s, s->programme.marker_db);
    (void)es_marker_burst_make(code, &m->burst); /* an id, a side and an index always fit */
}

static void add_step(es_programme_sound *s, const es_programme_section *section, size_t step,
                     double start_s)
{
    const es_programme_step *t = &section->step[step];
    int broad = section->kind == ES_SECTION_AZIMUTH_BROADBAND;
    if (section->kind == ES_SECTION_LEADER || section->kind == ES_SECTION_SILENCE)
        return;
    piece *to = &s->pieces[s->count++];
    *to = (piece){.from = frame_at(s, start_s),
                  .to = frame_at(s, start_s + t->seconds),
                  .kind = broad ? PIECE_BROAD : PIECE_TONE,
                  .hz = t->hz};
    double gain = gain_of(s, t->level_db) * (broad ? sqrt(0.5) : 1.0);
    to->gain[0] = section->kind == ES_SECTION_RIGHT_ONLY ? 0.0 : gain;
    to->gain[1] = section->kind == ES_SECTION_LEFT_ONLY ? 0.0 : gain;
}

static void lay_out(es_programme_sound *s)
{
    const es_programme *p = &s->programme;
    const es_programme_side *side = &p->side[s->config.side];
    for (size_t i = 0; i < side->section_count; i++) {
        es_section_times t = es_programme_times(p, s->config.side, i);
        if (!isnan(t.marker_s))
            add_marker(s, i, t.marker_s);
        for (size_t k = 0; k < side->section[i].step_count; k++)
            add_step(s, &side->section[i], k, es_programme_step_s(p, s->config.side, i, k));
    }
    s->length = frame_at(s, es_programme_side_s(p, s->config.side));
}

/* --- life ------------------------------------------------------------------------------------------ */

es_programme_sound_config es_programme_sound_defaults(void)
{
    return (es_programme_sound_config){.rate_hz = 48000.0,
                                       .reference_dbfs = ES_PROGRAMME_REFERENCE_DBFS};
}

#define REFUSE(...) return es_fail(error, ES_ERR_ARG, "setting", __VA_ARGS__)

static int has_broad(const es_programme_side *side)
{
    for (size_t i = 0; i < side->section_count; i++)
        if (side->section[i].kind == ES_SECTION_AZIMUTH_BROADBAND)
            return 1;
    return 0;
}

static es_status check_steps(const es_programme *p, const es_programme_sound_config *c,
                             es_error *error)
{
    const es_programme_side *side = &p->side[c->side];
    double top_hz = has_broad(side) ? p->broad_high_hz : 4000.0, loudest_db = p->marker_db;
    for (size_t i = 0; i < side->section_count; i++)
        for (size_t k = 0; k < side->section[i].step_count; k++) {
            top_hz = fmax(top_hz, side->section[i].step[k].hz);
            loudest_db = fmax(loudest_db, side->section[i].step[k].level_db);
        }
    if (c->rate_hz < RATE_OVER_TONE * top_hz)
        REFUSE("The programme goes up to %.0f Hz; a sample rate of %.0f Hz is too low for it.",
               top_hz, c->rate_hz);
    if (c->reference_dbfs + loudest_db > 0.0)
        REFUSE("The programme's loudest tone is %+.1f dB; put the reference level at %.1f dBFS or "
               "lower.",
               loudest_db, -loudest_db);
    return ES_OK;
}

static es_status check_config(const es_programme *p, const es_programme_sound_config *c,
                              es_error *error)
{
    if (!(c->rate_hz >= 32000.0 && c->rate_hz <= 192000.0) || c->rate_hz != floor(c->rate_hz))
        REFUSE("The sample rate must be a whole number from 32000 to 192000 Hz.");
    if (c->side >= p->side_count)
        REFUSE("The programme has no side %zu.", c->side + 1);
    if (!(c->reference_dbfs >= -40.0 && c->reference_dbfs <= 0.0))
        REFUSE("The reference level must be -40 to 0 dBFS.");
    return check_steps(p, c, error);
}

/* The broadband sound's peaks are known only once it is made. */
static es_status check_peaks(const es_programme_sound *s, es_error *error)
{
    for (size_t i = 0; i < s->count; i++)
        if (s->pieces[i].kind == PIECE_BROAD && s->pieces[i].gain[0] * s->broad_peak > 1.0)
            REFUSE("The broadband sound would clip; put the reference level %.1f dB lower.",
                   es_db(s->pieces[i].gain[0] * s->broad_peak) + 0.1);
    return ES_OK;
}

es_status es_programme_sound_create(const es_programme *programme,
                                    const es_programme_sound_config *config,
                                    es_programme_sound **out, es_error *error)
{
    *out = NULL;
    es_status status = es_programme_check(programme, NULL, error);
    if (status == ES_OK)
        status = check_config(programme, config, error);
    if (status != ES_OK)
        return status;
    es_programme_sound *s = calloc(1, sizeof *s);
    if (!s)
        return es_fail(error, ES_ERR_NOMEM, "memory", "There is not enough memory.");
    s->programme = *programme;
    s->config = *config;
    s->pieces = calloc(ES_PROGRAMME_SECTIONS * (ES_PROGRAMME_STEPS + 1), sizeof *s->pieces);
    status = s->pieces ? ES_OK : ES_ERR_NOMEM;
    if (status == ES_OK && has_broad(&programme->side[config->side]))
        status = fill_broad(s);
    if (status == ES_OK) {
        lay_out(s);
        status = check_peaks(s, error);
    } else {
        es_fail(error, status, "memory", "There is not enough memory.");
    }
    if (status != ES_OK) {
        es_programme_sound_destroy(s);
        return status;
    }
    *out = s;
    return ES_OK;
}

void es_programme_sound_destroy(es_programme_sound *s)
{
    if (!s)
        return;
    free(s->pieces);
    free(s->broad);
    free(s);
}

int64_t es_programme_sound_length(const es_programme_sound *s)
{
    return s->length;
}

int64_t es_programme_sound_tell(const es_programme_sound *s)
{
    return s->frame;
}

void es_programme_sound_seek(es_programme_sound *s, int64_t frame)
{
    s->frame = frame > 0 ? frame : 0;
    s->at = 0;
    while (s->at < s->count && s->pieces[s->at].to <= s->frame)
        s->at++;
}

/* --- rendering ---------------------------------------------------------------------------------------- */

/* Raised cosine at both ends. */
static double edge(const piece *p, int64_t n, double rate_hz)
{
    double from_end = (double)(n < p->to - p->from - 1 - n ? n : p->to - p->from - 1 - n);
    double x = from_end / (ES_PROGRAMME_EDGE_S * rate_hz);
    return x < 1.0 ? 0.5 - 0.5 * cos(ES_PI * x) : 1.0;
}

static double sample_of(const es_programme_sound *s, const piece *p, int64_t n)
{
    double rate_hz = s->config.rate_hz;
    if (p->kind == PIECE_MARKER)
        return es_marker_burst_at(&p->burst, (double)n / rate_hz); /* has edges of its own */
    if (p->kind == PIECE_BROAD)
        return edge(p, n, rate_hz) * (double)s->broad[(size_t)n % (size_t)rate_hz];
    double turns = p->hz * (double)n / rate_hz;
    return edge(p, n, rate_hz) * sin(ES_TWO_PI * (turns - floor(turns)));
}

void es_programme_sound_render(es_programme_sound *s, float *stereo, size_t count)
{
    for (size_t i = 0; i < count; i++, s->frame++) {
        while (s->at < s->count && s->pieces[s->at].to <= s->frame)
            s->at++;
        const piece *p = s->at < s->count ? &s->pieces[s->at] : NULL;
        double x = p && s->frame >= p->from ? sample_of(s, p, s->frame - p->from) : 0.0;
        stereo[2 * i] = p ? (float)(p->gain[0] * x) : 0.0f;
        stereo[2 * i + 1] = p ? (float)(p->gain[1] * x) : 0.0f;
    }
}
