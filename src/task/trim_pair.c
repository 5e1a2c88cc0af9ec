/* The coach's ear for what two channels differ by: the delay of azimuth, level and balance. */
#include "evenspool/base/units.h"
#include "evenspool/signal/delay.h"
#include "evenspool/signal/pair.h"
#include "evenspool/tape/equalisation.h"
#include "task/trim_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define HISS_FS 0.003   /* rms; softer is an open input or a tape at rest      */
#define SILENT 1e-12    /* power; arithmetic alone leaves more than nothing    */
#define DEAD_RATIO 1e-4 /* power against the other channel: leakage            */
#define AGREE_LEAST ES_PAIR_AGREES
#define HEARD_S 0.3    /* of usable sound, before it is followed              */
#define WINDOW_S 0.5   /* a new look at the whole delay; each is of twice that */
#define DROPOUT_S 0.15 /* of no usable sound: no figure is shown              */
#define LOST_S 0.5     /* listen for it anew                                  */
#define FORGET_S 5.0   /* a turn in progress is given up                      */
#define KNOWN_S 60.0   /* so long after the broadband sound its delay still tells a tone's turn */
#define SAME_S 0.5     /* of equal samples: one and the same sound            */
#define WIDEST_S 1e-3
#define JUMP_S 25e-6       /* by so much the followed delay is off: it lost its way */
#define LOW_TONE_HZ 3500.0 /* half a turn is more than any head is out of line (common practice) */
#define POLAR_TONE_HZ 1500.0 /* ... and a third of one, so that reversed polarity can be told    */
#define TREBLE_HZ 10000.0
#define SMOOTH 0.05 /* per reading, of what is only shown: a fifth of a second */
/* What an input's two converters may differ by; common practice, no source. */
#define DELAY_LIMIT_US 0.5
#define LEVEL_LIMIT_DB 0.1

typedef struct pair_ear {
    es_pair *pair;
    es_delay *window[2]; /* each is reset every other look */
    int older;
    uint64_t next_window;
    int usable, heard; /* readings in a row that can be used; the last one can */
    int missing;       /* readings in a row that can't                         */
    int known;         /* the window found something in common                 */
    int anchored;      /* the followed delay was put where the window says     */
    int turn_known, opposed, had_sound;
    int channel;           /* level: 0 left, 1 right */
    double reference_dbfs; /* NaN: not yet           */
    uint64_t same_since, lost_at;
    double last; /* value, to bridge gaps  */
    double power[2], sum_share;
    double tone_hz;      /* of the last reading; NaN */
    int tones, readings; /* since the last window    */
    const char *why;
    double coherence;
    size_t phase_count;
    es_pair_phase phase[ES_PAIR_PHASES];
    float dot[ES_PAIR_DOTS][2];
    uint64_t dots;
} pair_ear;

static int is_azimuth(const es_trim *t)
{
    return t->config.adjust == ES_ADJUST_AZIMUTH;
}

static int needs_both(const es_trim *t)
{
    return t->config.adjust != ES_ADJUST_LEVEL;
}

static double dbfs_of(double power)
{
    return 10.0 * log10(2.0 * power); /* of a sine's peak */
}

/* --- life ------------------------------------------------------------------------------- */

static es_status judge(const es_trim_config *c, es_error *error)
{
    if (c->adjust != ES_ADJUST_LEVEL && c->channels < 2)
        return es_fail(error, ES_ERR_ARG, "mono",
                       "The %s needs both channels, but the input has one; choose a stereo input.",
                       es_adjust_facts_of(c->adjust)->name);
    if (c->channel > 2)
        return es_fail(error, ES_ERR_ARG, "no-channel",
                       "Left and right are the first two channels; name 1 or 2.");
    if (!isnan(c->reference_dbfs) && !es_trim_within(c->reference_dbfs, -80.0, 20.0))
        return es_fail(error, ES_ERR_ARG, "bad-reference",
                       "A reference level is from -80 to 20 dBFS.");
    return ES_OK;
}

static es_status create(es_trim *t)
{
    pair_ear *p = calloc(1, sizeof *p);
    t->ear = p;
    if (!p)
        return ES_ERR_NOMEM;
    p->reference_dbfs = t->config.reference_dbfs;
    p->channel = t->config.channel == 2;
    p->tone_hz = p->coherence = (double)NAN;
    p->why = "silence";
    es_delay_config c = es_delay_defaults(t->config.rate_hz);
    c.widest_s = WIDEST_S;
    es_status status = es_pair_create(t->config.rate_hz, &p->pair);
    for (int i = 0; i < 2 && is_azimuth(t) && status == ES_OK; i++)
        status = es_delay_create(&c, &p->window[i]);
    return status;
}

static void destroy(es_trim *t)
{
    pair_ear *p = t->ear;
    if (!p)
        return;
    es_pair_destroy(p->pair);
    es_delay_destroy(p->window[0]);
    es_delay_destroy(p->window[1]);
    free(p);
}

/* --- the whole delay -------------------------------------------------------------------- */

static void restart_windows(es_trim *t)
{
    pair_ear *p = t->ear;
    for (int i = 0; i < 2 && p->window[i]; i++)
        es_delay_reset(p->window[i]);
    p->next_window = t->frames + (uint64_t)(HEARD_S * t->config.rate_hz);
    p->tones = p->readings = 0;
    p->known = p->anchored = 0;
    p->phase_count = 0;
}

/* What is followed goes on from there; a nudge may have been the reason. */
static void put_at(es_trim *t, double delay_s, int opposed)
{
    pair_ear *p = t->ear;
    es_pair_expect(p->pair, delay_s, opposed);
    p->opposed = opposed;
    if (p->anchored && t->following)
        es_coach_break(t, 1);
    p->anchored = 1;
}

/* A single tone tells the delay but for whole turns. */
static void hear_tone(es_trim *t)
{
    pair_ear *p = t->ear;
    p->known = 1;
    if (p->turn_known && p->anchored)
        return;
    double turns = -p->last * t->scale * 1e-6 * p->tone_hz;
    int reversed = p->tone_hz <= POLAR_TONE_HZ && p->usable && fabs(turns) > 1.0 / 3.0;
    p->turn_known = p->turn_known || p->tone_hz <= LOW_TONE_HZ;
    if (!p->anchored)
        put_at(t, p->opposed || reversed ? 0.0 : 1e-6 * t->scale * p->last, reversed);
}

static void hear_broadband(es_trim *t, const es_delay_figures *f)
{
    pair_ear *p = t->ear;
    int64_t end = t->curve.end;
    double followed = es_curve_heard(&t->curve, end - es_ticks_of(2.0 * WINDOW_S), end);
    double off_s = f->delay_s - 1e-6 * t->scale * followed;
    p->known = f->known;
    if (!f->known)
        return;
    int astray = f->sure && (fabs(off_s) > JUMP_S || f->opposed != p->opposed);
    if (!p->anchored || astray)
        put_at(t, f->delay_s, f->opposed);
    p->turn_known |= f->sure;
}

static void keep_phases(pair_ear *p, const es_delay *window)
{
    es_delay_point at[ES_PAIR_PHASES];
    p->phase_count = es_delay_curve(window, at, ES_PAIR_PHASES);
    for (size_t i = 0; i < p->phase_count; i++)
        p->phase[i] = (es_pair_phase){.hz = at[i].hz,
                                      .degrees = at[i].phase_rad * 180.0 / ES_PI,
                                      .coherence = at[i].coherence};
}

static void look_through_window(es_trim *t)
{
    pair_ear *p = t->ear;
    es_delay *window = p->window[p->older];
    p->next_window = t->frames + (uint64_t)(WINDOW_S * t->config.rate_hz);
    es_delay_figures f = es_delay_figures_of(window);
    p->coherence = f.coherence;
    keep_phases(p, window);
    if (2 * p->tones > p->readings && !isnan(p->tone_hz))
        hear_tone(t);
    else
        hear_broadband(t, &f);
    es_delay_reset(window);
    p->older = !p->older;
    p->tones = p->readings = 0;
}

/* --- readings --------------------------------------------------------------------------- */

static int is_loud(double power)
{
    return power > HISS_FS * HISS_FS;
}

/* Why this reading can't be used; NULL: it can. */
static const char *fault_of(const es_trim *t, const es_pair_reading *r)
{
    const pair_ear *p = t->ear;
    double left = r->power[0], right = r->power[1];
    if (!is_loud(needs_both(t) ? fmax(left, right) : r->power[p->channel]))
        return p->had_sound ? "gone" : "silence";
    if (!needs_both(t))
        return NULL;
    if (left < DEAD_RATIO * right)
        return "left-dead";
    if (right < DEAD_RATIO * left)
        return "right-dead";
    if (t->frames > p->same_since + (uint64_t)(SAME_S * t->config.rate_hz))
        return "same-sound";
    return is_azimuth(t) && p->anchored && r->agreement < AGREE_LEAST ? "nothing-common" : NULL;
}

/* The quantity, as a value of the coach. */
static double value_of(es_trim *t, const es_pair_reading *r)
{
    pair_ear *p = t->ear;
    if (is_azimuth(t))
        return r->delay_s * 1e6 / t->scale;
    if (needs_both(t))
        return 10.0 * log10(r->power[1] / r->power[0]) / t->scale;
    double level = dbfs_of(r->power[p->channel]);
    if (isnan(p->reference_dbfs))
        p->reference_dbfs = level;
    return (level - p->reference_dbfs) / t->scale;
}

static void smooth(double *kept, double now)
{
    *kept = *kept > 0.0 ? *kept + SMOOTH * (now - *kept) : now;
}

static void take_reading(es_trim *t, const es_pair_reading *r, uint64_t now)
{
    pair_ear *p = t->ear;
    const char *fault = fault_of(t, r);
    p->why = fault ? fault : "";
    p->usable = fault ? 0 : p->usable + 1;
    p->missing = fault ? p->missing + 1 : 0;
    p->readings++;
    p->tones += !isnan(r->tone_hz);
    p->tone_hz = r->tone_hz;
    for (int i = 0; i < 2; i++)
        smooth(&p->power[i], r->power[i]);
    smooth(&p->sum_share, r->sum_share);
    if (!fault)
        p->last = value_of(t, r);
    if (!t->following)
        return;
    es_curve_push_tick(&t->curve, p->last, !fault, es_trim_seconds(t, now));
    if (t->curve.end % ES_TRIM_LOOK_TICKS == 0 && !fault)
        es_coach_look(t);
}

/* --- frames ----------------------------------------------------------------------------- */

static uint64_t dot_step(const es_trim *t)
{
    return (uint64_t)(t->config.rate_hz / (ES_PAIR_DOTS * ES_TRIM_SNAPSHOTS_HZ)) | 1;
}

static void keep_dots(es_trim *t, const float *frames, size_t count)
{
    pair_ear *p = t->ear;
    size_t channels = (size_t)t->config.channels;
    uint64_t step = dot_step(t), first = (step - t->frames % step) % step;
    for (size_t i = (size_t)first; i < count && channels > 1; i += (size_t)step) {
        float *dot = p->dot[p->dots++ % ES_PAIR_DOTS];
        memcpy(dot, frames + i * channels, 2 * sizeof *dot);
    }
}

static void note_difference(es_trim *t, const float *frames, size_t count)
{
    pair_ear *p = t->ear;
    size_t channels = (size_t)t->config.channels;
    for (size_t i = count; i > 0 && channels > 1; i--)
        if (frames[(i - 1) * channels] != frames[(i - 1) * channels + 1]) {
            p->same_since = t->frames + i;
            return;
        }
}

static void take(es_trim *t, const float *frames, size_t count)
{
    pair_ear *p = t->ear;
    size_t channels = (size_t)t->config.channels;
    const float *right = channels > 1 ? frames + 1 : NULL;
    keep_dots(t, frames, count);
    note_difference(t, frames, count);
    for (int i = 0; i < 2 && p->window[i]; i++)
        es_delay_push(p->window[i], frames, right, channels, count);
    for (size_t done = 0; done < count;) {
        es_pair_reading r;
        int ready;
        done +=
            es_pair_push(p->pair, frames + done * channels, right ? right + done * channels : NULL,
                         channels, count - done, &r, &ready);
        if (ready)
            take_reading(t, &r, t->frames + done);
    }
}

static int ticks_in(double seconds)
{
    return (int)(seconds * ES_PAIR_HZ);
}

static void begin_following(es_trim *t)
{
    pair_ear *p = t->ear;
    t->following = p->had_sound = 1;
    t->heard_from = t->frames;
    es_coach_break(t, 0);
}

static void stop_following(es_trim *t)
{
    pair_ear *p = t->ear;
    t->following = 0;
    p->lost_at = t->frames;
}

/* Before there is anything to follow. */
static void wait_for_sound(es_trim *t)
{
    pair_ear *p = t->ear;
    double lost_s = es_trim_seconds(t, t->frames - p->lost_at);
    if (lost_s > FORGET_S)
        es_coach_forget_move(t);
    if (lost_s > KNOWN_S)
        p->turn_known = 0;
    if (p->usable == 0)
        restart_windows(t);
    else if (p->usable > ticks_in(HEARD_S) && (!is_azimuth(t) || p->anchored))
        begin_following(t);
    else if (p->usable > ticks_in(2.0 * HEARD_S) && is_azimuth(t) && !p->known)
        p->why = "nothing-common";
}

static void decide(es_trim *t)
{
    pair_ear *p = t->ear;
    if (p->window[0] && t->frames >= p->next_window)
        look_through_window(t);
    if (t->following && p->missing > ticks_in(LOST_S))
        stop_following(t);
    if (!t->following)
        wait_for_sound(t);
    if (!t->following)
        es_coach_lose(t, p->why);
    else if (p->missing > ticks_in(DROPOUT_S))
        es_coach_lose(t, "dropout");
}

static void gap(es_trim *t)
{
    pair_ear *p = t->ear;
    es_pair_reset(p->pair);
    for (int i = 0; i < 2 && p->window[i]; i++)
        es_delay_reset(p->window[i]);
    if (t->following)
        es_coach_break(t, 1);
}

/* --- figures ---------------------------------------------------------------------------- */

static double error_of(const es_trim *t, double heard)
{
    (void)t;
    return heard;
}

static es_trim_doubt doubt_of(const es_trim *t, const es_mean *mean)
{
    (void)mean; /* its scatter holds the noise as well */
    double limit = is_azimuth(t) ? DELAY_LIMIT_US : LEVEL_LIMIT_DB;
    return (es_trim_doubt){.limit = limit / t->scale};
}

static double nominal_of(const es_trim *t)
{
    (void)t;
    return (double)NAN;
}

static const char *reason_of(const es_trim *t)
{
    const pair_ear *p = t->ear;
    return is_azimuth(t) && p->opposed ? "opposed" : NULL;
}

static void report_dots(const pair_ear *p, es_pair_view *v)
{
    float most = 1e-6f;
    v->dot_count = p->dots < ES_PAIR_DOTS ? (size_t)p->dots : ES_PAIR_DOTS;
    for (size_t i = 0; i < v->dot_count; i++)
        for (int c = 0; c < 2; c++)
            most = fmaxf(most, fabsf(p->dot[i][c])); /* NaN is passed over */
    for (size_t i = 0; i < v->dot_count; i++)
        for (int c = 0; c < 2; c++) {
            float share = 100.0f * p->dot[i][c] / most;
            v->dot[i][c] = (signed char)(isfinite(share) ? lroundf(share) : 0);
        }
}

static void report_delay(const es_trim *t, const es_trim_snapshot *s, es_pair_view *v)
{
    const pair_ear *p = t->ear;
    es_transport_class transport = t->config.geometry.transport;
    v->delay_us = isnan(s->error_percent) ? s->live_percent : s->error_percent;
    v->angle_arcmin = es_angle_of_delay(1e-6 * v->delay_us, es_track_spacing_m(transport),
                                        t->config.geometry.speed_m_s);
    v->phase_10k_deg = es_phase_of_delay_deg(1e-6 * v->delay_us, TREBLE_HZ);
    v->coherence = p->coherence;
    v->turn_known = p->turn_known;
    v->opposed = p->opposed;
    v->phase_count = p->phase_count;
    memcpy(v->phase, p->phase, sizeof v->phase);
}

static void warn_of_turns(const pair_ear *p, es_trim_snapshot *out)
{
    es_text note = es_text_over(out->note, sizeof out->note);
    if (isnan(p->tone_hz))
        es_text_add(&note, "This sound leaves it open whether the delay is a whole turn off: play "
                           "the broadband part of the tape, or a lower tone, first.");
    else
        es_text_add(&note,
                    "A tone of %.0f Hz can't tell delays that are %.0f us apart: it may be a "
                    "whole turn off. Play the broadband part of the tape, or a lower tone, first.",
                    p->tone_hz, 1e6 / p->tone_hz);
}

static double level_of(double power)
{
    return power > SILENT ? dbfs_of(power) : (double)NAN;
}

static void report(const es_trim *t, es_trim_snapshot *out, es_trim_scene *scene)
{
    const pair_ear *p = t->ear;
    double none = (double)NAN;
    out->heard_hz = out->snr_db = out->nominal_hz = out->reference_hz = none;
    out->tape_error_percent = none;
    es_pair_view *v = &out->pair;
    *v = (es_pair_view){.known = p->power[0] > SILENT || p->power[1] > SILENT,
                        .level_dbfs = {level_of(p->power[0]), level_of(p->power[1])},
                        .reference_dbfs = p->reference_dbfs,
                        .channel = needs_both(t) ? 0 : p->channel + 1,
                        .delay_us = none,
                        .angle_arcmin = none,
                        .phase_10k_deg = none,
                        .coherence = none,
                        .tone_hz = p->tone_hz};
    v->balance_db = v->level_dbfs[1] - v->level_dbfs[0]; /* NaN: one is silent */
    v->sum_db = !isnan(v->balance_db) && p->sum_share > 0.0 ? 10.0 * log10(p->sum_share) : none;
    report_dots(p, v);
    if (is_azimuth(t))
        report_delay(t, out, v);
    if (is_azimuth(t) && t->following && !p->turn_known)
        warn_of_turns(p, out);
    scene->right = p->channel;
}

const es_trim_sense es_trim_pair = {.judge = judge,
                                    .create = create,
                                    .destroy = destroy,
                                    .take = take,
                                    .decide = decide,
                                    .gap = gap,
                                    .error = error_of,
                                    .doubt = doubt_of,
                                    .nominal_hz = nominal_of,
                                    .reason = reason_of,
                                    .report = report};
