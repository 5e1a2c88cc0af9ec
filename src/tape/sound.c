#include "tape/sound.h"

#include "evenspool/base/units.h"

#include "tape/wave.h"

#include <math.h>
#include <string.h>

enum { STREAM_LEFT = 16, STREAM_RIGHT, STREAM_DROPOUTS };

#define EDGE_S 0.005 /* fade of an intermittent tone, so that it does not click */
#define AHEAD_MOST_S                                                                               \
    0.02 /* of a recording: heads that lean more than any can are told apart no more */

/* --- start ------------------------------------------------------------------------ */

static double wavelength(const es_scenario *s)
{
    return s->geometry.speed_m_s * (1.0 + s->tape_error) / s->tone_hz;
}

/* Tangent of the head's tilt as its screw stands. */
static double slant(const es_sound *o)
{
    double angle = o->scenario->azimuth_arcmin + es_trimmer_wanted(&o->azimuth);
    return tan(angle / 60.0 * ES_PI / 180.0);
}

/* What the head loses at the harmonic, as a factor. */
static double head_loss(const es_sound *o, double harmonic)
{
    const es_scenario *s = o->scenario;
    double length = wavelength(s) / harmonic;
    double x = ES_PI * s->track_width_m * fabs(slant(o)) / length;
    double azimuth = x > 1e-9 ? fabs(sin(x) / x) : 1.0;
    return azimuth * exp(-ES_TWO_PI * s->head_spacing_m / length);
}

/* As the trimmers stand; both channels like the left one, before balance and polarity. */
static double turned_up(const es_sound *o, int channel)
{
    double db = es_trimmer_wanted(&o->level[channel]);
    return db == 0.0 ? 1.0 : es_amplitude(db);
}

static es_heads heads_now(const es_sound *o)
{
    const es_scenario *s = o->scenario;
    es_heads heads = {.lag = s->track_spacing_m * slant(o) / wavelength(s),
                      .spread = s->track_width_m * fabs(slant(o)) / wavelength(s)};
    double shares[3] = {1.0, s->second, s->third};
    double right = es_amplitude(s->balance_db) * (s->opposed ? -1.0 : 1.0);
    /* broadband: the power that the tone would have; recording: its reference level */
    double loud = es_amplitude(s->level_dbfs) /
                  (o->recorded ? es_recorded_reference(o->recorded) : sqrt(2.0));
    for (int h = 0; h < 3; h++) {
        int fits = (h + 1) * s->tone_hz < 0.45 * o->rate_hz;
        double left = fits ? es_amplitude(s->level_dbfs) * shares[h] * head_loss(o, h + 1.0) : 0.0;
        heads.amplitude[0][h] = s->dead == ES_DEAD_LEFT ? 0.0 : left * turned_up(o, 0);
        heads.amplitude[1][h] = s->dead == ES_DEAD_RIGHT ? 0.0 : left * right * turned_up(o, 1);
    }
    heads.gain[0] = s->dead == ES_DEAD_LEFT ? 0.0 : loud * turned_up(o, 0);
    heads.gain[1] = s->dead == ES_DEAD_RIGHT ? 0.0 : loud * right * turned_up(o, 1);
    return heads;
}

/* As recorded: a wave of the tone is the unit of way. */
static double wave_s(const es_sound *o)
{
    return 1.0 / o->scenario->tone_hz;
}

/* The head before the tape: only what lies ahead of it is heard through the new one. */
static void shape_recorded(es_sound *o)
{
    const es_scenario *s = o->scenario;
    double dull_s = ES_TWO_PI * s->head_spacing_m / (s->geometry.speed_m_s * (1.0 + s->tape_error));
    if (o->recorded)
        es_recorded_head(o->recorded, o->heads.spread * wave_s(o), dull_s);
}

static void start_heads(es_sound *o, const es_scenario *s)
{
    o->azimuth = es_trimmer_of_screw(&s->azimuth_screw);
    o->level[0] = o->level[1] = es_trimmer_of_screw(&s->level_trimmer);
    o->waves_per_step = s->geometry.speed_m_s / (wavelength(s) * o->true_rate_hz);
    o->heads = o->heads_before = heads_now(o);
    shape_recorded(o);
}

void es_sound_turned(es_sound *o)
{
    o->turned = 1;
}

static int64_t gap_frames(es_sound *o)
{
    double mean_s = 60.0 / o->scenario->dropouts_per_min;
    double gap_s = -mean_s * log(1.0 - es_rng_uniform(&o->dropouts.rng));
    return (int64_t)(gap_s * o->rate_hz) + 1;
}

void es_sound_start(es_sound *o, const es_scenario *s, double rate_hz, const es_gauss *gauss,
                    const es_wideband *wideband, es_recorded *recorded)
{
    memset(o, 0, sizeof *o);
    o->scenario = s;
    o->gauss = gauss;
    o->rate_hz = rate_hz;
    o->true_rate_hz = rate_hz * (1.0 + s->clock_error);
    o->wideband = wideband;
    o->recorded = recorded;
    start_heads(o, s);
    o->noise = es_amplitude(s->level_dbfs) / sqrt(2.0) * es_amplitude(-s->snr_db);
    o->noise_rng[0] = es_rng_seeded(s->seed, STREAM_LEFT);
    o->noise_rng[1] = es_rng_seeded(s->seed, STREAM_RIGHT);
    o->hum_step = s->hum_hz / o->true_rate_hz;
    o->hum = es_amplitude(s->hum_dbfs);
    o->buzz = es_amplitude(s->buzz_dbfs);
    o->limit = (float)es_amplitude(s->clip_dbfs);
    o->dropouts = (es_dropouts){.rng = es_rng_seeded(s->seed, STREAM_DROPOUTS),
                                .next = INT64_MAX,
                                .floor = es_amplitude(-s->dropout_db)};
    if (s->dropouts_per_min > 0.0)
        o->dropouts.next = llround(s->lead_in_s * rate_hz) + gap_frames(o);
}

/* --- envelope --------------------------------------------------------------------- */

/* 0 at the foot, 1 at the top, without corners. */
static double soft_edge(double x)
{
    if (x <= 0.0)
        return 0.0;
    return x >= 1.0 ? 1.0 : x * x * (3.0 - 2.0 * x);
}

/* A dropout begins with a chunk: about a thousandth of a second more or less does not matter. */
static void next_dropout(es_sound *o, int64_t first)
{
    es_dropouts *d = &o->dropouts;
    if (first < d->next)
        return;
    double length = o->scenario->dropout_s * (0.5 + es_rng_uniform(&d->rng));
    d->from = first;
    d->end = first + llround(length * o->rate_hz) + 1;
    d->next = d->end + gap_frames(o);
    d->begun++;
}

static void apply_dropout(es_sound *o, int64_t first)
{
    const es_dropouts *d = &o->dropouts;
    if (first >= d->end)
        return;
    double edge = 0.25 * (double)(d->end - d->from);
    for (int i = 0; i < ES_CHUNK; i++) {
        double in = ((double)(first + i - d->from)) / edge;
        double out = ((double)(d->end - first - i)) / edge;
        double depth = soft_edge(in) * soft_edge(out);
        o->envelope[i] *= 1.0 - depth * (1.0 - d->floor);
    }
}

/* The tone comes and goes with the tape, not with the clock. */
static void apply_gaps(es_sound *o)
{
    const es_scenario *s = o->scenario;
    double period = (s->tone_on_s + s->tone_off_s) * s->tone_hz; /* [waves] */
    double on = s->tone_on_s * s->tone_hz, edge = EDGE_S * s->tone_hz;
    double before = fmod((double)o->waves, period);
    for (int i = 0; i < ES_CHUNK; i++) {
        double at = fmod(before + o->at[i], period);
        o->envelope[i] *= soft_edge(at / edge) * soft_edge((on - at) / edge);
    }
}

static void fill_envelope(es_sound *o, const es_motion *m, int64_t first)
{
    /* A head gives what the flux changes by: less while the tape is slow. */
    memcpy(o->envelope, m->ramp, sizeof o->envelope);
    if (first + ES_CHUNK <= m->marks.still)
        next_dropout(o, first);
    apply_dropout(o, first);
    if (o->scenario->tone_off_s > 0.0)
        apply_gaps(o);
}

/* --- samples ---------------------------------------------------------------------- */

static void move_tape(es_sound *o, const es_motion *m)
{
    double whole = floor(o->at[ES_CHUNK]);
    o->waves += (int64_t)whole;
    o->at[0] = o->at[ES_CHUNK] - whole;
    for (int i = 0; i < ES_CHUNK; i++)
        o->at[i + 1] = o->at[i] + m->speed[i] * o->waves_per_step;
}

/* As far as either channel gets in the chunk. */
static void wind_recorded(es_sound *o)
{
    double ahead_s = -fmin(fmin(o->heads_before.lag, o->heads.lag), 0.0) * wave_s(o);
    double far = o->at[0];
    for (int i = 1; i < ES_CHUNK; i++)
        far = fmax(far, o->at[i]);
    if (o->recorded)
        es_recorded_wind(o->recorded,
                         ((double)o->waves + far) * wave_s(o) + fmin(ahead_s, AHEAD_MOST_S));
}

/* From the chunk's beginning to its end. */
static double on_the_way(double before, double now, int i)
{
    return before + (now - before) * ((double)(i + 1) / ES_CHUNK);
}

static void fill_tone(es_sound *o, int channel)
{
    double *to = o->channel[channel];
    const es_heads *before = &o->heads_before, *now = &o->heads;
    memset(to, 0, sizeof o->channel[channel]);
    for (int h = 0; h < 3; h++) {
        double from = before->amplitude[channel][h], up_to = now->amplitude[channel][h];
        double times = h + 1.0;
        if (from != 0.0 || up_to != 0.0)
            for (int i = 0; i < ES_CHUNK; i++) {
                double lag = channel ? on_the_way(before->lag, now->lag, i) : 0.0;
                to[i] += on_the_way(from, up_to, i) * es_sine(es_wrap(times * (o->at[i] - lag)));
            }
    }
}

static double at_place(const es_sound *o, int channel, double at_s, double spread_s)
{
    return o->recorded ? es_recorded_at(o->recorded, channel, at_s)
                       : es_wideband_at(o->wideband, at_s, spread_s);
}

static void fill_sounds(es_sound *o, int channel)
{
    const es_heads *before = &o->heads_before, *now = &o->heads;
    double wave = wave_s(o);
    for (int i = 0; i < ES_CHUNK; i++) {
        double lag = channel ? on_the_way(before->lag, now->lag, i) : 0.0;
        double gain = on_the_way(before->gain[channel], now->gain[channel], i);
        double at = (double)o->waves + (o->at[i] - lag);
        double spread = on_the_way(before->spread, now->spread, i);
        o->channel[channel][i] = gain * at_place(o, channel, at * wave, spread * wave);
    }
}

/* What the tape carries, as the channel hears it. */
static void fill_channel(es_sound *o, int channel)
{
    if (o->wideband || o->recorded)
        fill_sounds(o, channel);
    else
        fill_tone(o, channel);
    for (int i = 0; i < ES_CHUNK; i++)
        o->channel[channel][i] *= o->envelope[i];
}

static void add_noise(es_sound *o, int channel)
{
    double *to = o->channel[channel];
    if (o->noise > 0.0)
        for (int i = 0; i < ES_CHUNK; i++)
            to[i] += o->noise * es_gauss_next(o->gauss, &o->noise_rng[channel]);
}

/* Hum comes in through the leads: the same in both channels. */
static void add_hum(es_sound *o)
{
    if (o->hum > 0.0 || o->buzz > 0.0)
        for (int i = 0; i < ES_CHUNK; i++) {
            double turns = o->hum_turns + i * o->hum_step;
            double hum = o->hum * es_sine(es_wrap(turns)) + o->buzz * es_sine(es_wrap(2.0 * turns));
            o->channel[0][i] += hum;
            o->channel[1][i] += hum;
        }
    o->hum_turns = es_wrap(o->hum_turns + ES_CHUNK * o->hum_step);
}

static float limited(double sample, float limit)
{
    float x = (float)sample;
    x = x > limit ? limit : x;
    return x < -limit ? -limit : x;
}

void es_sound_chunk(es_sound *o, const es_motion *m, int64_t first)
{
    o->heads_before = o->heads;
    if (o->turned)
        o->heads = heads_now(o);
    if (o->heads.spread != o->heads_before.spread)
        shape_recorded(o);
    o->turned = 0;
    move_tape(o, m);
    wind_recorded(o);
    fill_envelope(o, m, first);
    for (int c = 0; c < 2; c++) {
        fill_channel(o, c);
        add_noise(o, c);
    }
    add_hum(o);
    for (int i = 0; i < ES_CHUNK; i++)
        for (int c = 0; c < 2; c++)
            o->stereo[2 * i + c] = limited(o->channel[c][i] + o->scenario->dc_fs, o->limit);
}
