#include "evenspool/task/sound.h"

#include "evenspool/base/units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LEVEL_S 0.006 /* two of them in a row shape every rise and fall: done in 20 to 30 ms */
#define GLIDE_S 0.015 /* of a frequency                                              */
#define LIVE_S 0.3    /* of the live trace, so that flutter doesn't shake the guide  */
#define SNAPSHOT_S 0.05
#define TICK_S 0.05
#define PAIR_S 0.12 /* from tick to tick of a pair                                 */
#define SOFT_EVERY_S 2.0
#define TICK 0.5           /* of the level, so that a tick and a note fit under it         */
#define SOFT 0.25          /* of the level: markers that are no reading                   */
#define TICKS_LEAST_HZ 1.0 /* at the tolerance; fewer can't be told from a pause          */
#define TICKS_MOST_HZ 8.0  /* more run together (common practice, no source)              */
#define TICKS_FAR 60.0     /* tolerances off: as fast as it gets                          */
#define ENLARGED_MOST 0.5  /* the moving tone stays within half of the fixed one          */
#define INAUDIBLE 1e-7

typedef struct voice { /* a tone that can come and go */
    double phase;      /* [cycles]                    */
    double hz, hz_wanted;
    double gain, gain_between, gain_wanted;
} voice;

typedef enum { REFERENCE, FIXED, MOVING, NOTE, FIFTH, VOICES } voice_name;

struct es_sounder {
    double rate_hz;
    double level_keep, glide_keep; /* per sample */
    es_sounder_kind kind;
    double level;
    es_trim_snapshot now;
    int steered;
    double off; /* from the target [fraction], smoothed while it is live; NaN: not known */
    voice voices[VOICES];

    double until_tick;           /* samples */
    size_t tick_at, tick_length; /* samples into the tick; at == length: silence */
    double tick_hz, tick_phase, tick_level;
    int pair_due;
};

/* --- life ------------------------------------------------------------------------------- */

es_status es_sounder_create(double rate_hz, es_sounder **out)
{
    *out = NULL;
    if (!(rate_hz >= 8000.0 && rate_hz <= 384000.0))
        return ES_ERR_ARG;
    es_sounder *s = calloc(1, sizeof *s);
    if (!s)
        return ES_ERR_NOMEM;
    s->rate_hz = rate_hz;
    s->level_keep = exp(-1.0 / (LEVEL_S * rate_hz));
    s->glide_keep = exp(-1.0 / (GLIDE_S * rate_hz));
    s->off = (double)NAN;
    s->tick_at = s->tick_length = (size_t)(TICK_S * rate_hz);
    *out = s;
    return ES_OK;
}

void es_sounder_destroy(es_sounder *s)
{
    free(s);
}

/* --- what is to be heard ---------------------------------------------------------------- */

static void want(voice *v, double hz, double gain)
{
    v->gain_wanted = hz > 0.0 ? gain : 0.0; /* false for NaN */
    if (!(hz > 0.0))
        return;
    v->hz_wanted = hz;
    if (v->gain < INAUDIBLE)
        v->hz = hz; /* nobody hears it glide */
}

static int is_there(const es_sounder *s)
{
    return s->steered && s->now.state == ES_TRIM_THERE;
}

static void arrange(es_sounder *s)
{
    const es_trim_snapshot *n = &s->now;
    double level = s->level;
    int guide = s->kind == ES_SOUNDER_GUIDE && is_there(s);
    int beat = s->kind == ES_SOUNDER_BEAT && !isnan(s->off);
    double larger = ES_SOUNDER_ENLARGED * s->off;
    larger = fmin(fmax(larger, -ENLARGED_MOST), ENLARGED_MOST);
    int known = s->steered && s->kind == ES_SOUNDER_REFERENCE;
    want(&s->voices[REFERENCE], known ? n->reference_hz : 0.0, level);
    want(&s->voices[FIXED], ES_SOUNDER_BEAT_HZ, beat ? 0.5 * level : 0.0);
    want(&s->voices[MOVING], beat ? ES_SOUNDER_BEAT_HZ * (1.0 + larger) : 0.0, 0.5 * level);
    want(&s->voices[NOTE], ES_SOUNDER_THERE_HZ, guide ? 0.3 * level : 0.0);
    want(&s->voices[FIFTH], 1.5 * ES_SOUNDER_THERE_HZ, guide && n->final ? 0.2 * level : 0.0);
}

void es_sounder_set(es_sounder *s, es_sounder_kind kind, double level)
{
    int sound = (int)kind >= 0 && kind < ES_SOUNDER_KIND_COUNT && level > 0.0;
    s->kind = sound ? kind : ES_SOUNDER_NONE;
    s->level = sound ? fmin(level, ES_SOUNDER_CEILING) : 0.0;
    arrange(s);
}

void es_sounder_steer(es_sounder *s, const es_trim_snapshot *n)
{
    double scale = es_adjust_scale(n->adjust);
    double off = (n->error_percent - n->target_percent) / scale;
    if (isnan(off) && n->state != ES_TRIM_LOOK_FIRST) { /* no figure: follow the live trace */
        double live = (n->live_percent - n->target_percent) / scale;
        double share = 1.0 - exp(-SNAPSHOT_S / LIVE_S);
        off = isnan(s->off) ? live : s->off + share * (live - s->off);
    }
    s->off = n->state == ES_TRIM_LISTENING ? (double)NAN : off;
    s->now = *n;
    s->steered = 1;
    arrange(s);
}

/* --- ticks ------------------------------------------------------------------------------ */

static void start_tick(es_sounder *s, double hz, double level)
{
    s->tick_at = 0;
    s->tick_hz = hz;
    s->tick_level = level;
    s->tick_phase = 0.0;
}

/* Ticks per second for so many tolerances off. */
static double tick_rate(double tolerances)
{
    double share = log(fmax(tolerances, 1.0)) / log(TICKS_FAR);
    return TICKS_LEAST_HZ + (TICKS_MOST_HZ - TICKS_LEAST_HZ) * fmin(share, 1.0);
}

/* The next tick, and the wait [s] until the one after it. */
static double next_tick(es_sounder *s)
{
    if (isnan(s->off)) {
        int pair = s->now.state == ES_TRIM_LOOK_FIRST && !s->pair_due;
        s->pair_due = pair;
        start_tick(s, ES_SOUNDER_SOFT_HZ, SOFT * TICK * s->level);
        return pair ? PAIR_S : SOFT_EVERY_S;
    }
    s->pair_due = 0;
    start_tick(s, s->off > 0.0 ? ES_SOUNDER_FAST_HZ : ES_SOUNDER_SLOW_HZ, TICK * s->level);
    return 1.0 /
           tick_rate(es_adjust_scale(s->now.adjust) * fabs(s->off) / s->now.tolerance_percent);
}

static double tick_sample(es_sounder *s)
{
    if (s->until_tick > 0.0)
        s->until_tick -= 1.0;
    int silent = s->tick_at == s->tick_length;
    if (silent && s->until_tick <= 0.0 && s->kind == ES_SOUNDER_GUIDE && !is_there(s)) {
        s->until_tick += next_tick(s) * s->rate_hz;
        silent = 0;
    }
    if (silent)
        return 0.0;
    double share = ((double)s->tick_at + 0.5) / (double)s->tick_length;
    double envelope = 0.5 - 0.5 * cos(ES_TWO_PI * share);
    double sample = s->tick_level * envelope * sin(ES_TWO_PI * s->tick_phase);
    s->tick_phase += s->tick_hz / s->rate_hz;
    s->tick_at++;
    return sample;
}

/* --- samples ---------------------------------------------------------------------------- */

static double voice_sample(const es_sounder *s, voice *v)
{
    v->gain_between = v->gain_wanted + s->level_keep * (v->gain_between - v->gain_wanted);
    v->gain = v->gain_between + s->level_keep * (v->gain - v->gain_between);
    if (v->gain < INAUDIBLE)
        return 0.0;
    v->hz = v->hz_wanted + s->glide_keep * (v->hz - v->hz_wanted);
    double sample = v->gain * sin(ES_TWO_PI * v->phase);
    v->phase += v->hz / s->rate_hz;
    v->phase -= floor(v->phase);
    return sample;
}

void es_sounder_render(es_sounder *s, float *mono, size_t frames)
{
    for (size_t i = 0; i < frames; i++) {
        double sum = tick_sample(s);
        for (int k = 0; k < VOICES; k++)
            sum += voice_sample(s, &s->voices[k]);
        mono[i] = (float)sum;
    }
}

/* --- names ------------------------------------------------------------------------------ */

static const char *const names[] = {"none", "reference", "beat", "guide"};
_Static_assert(sizeof names / sizeof *names == ES_SOUNDER_KIND_COUNT, "a name for each kind");

const char *es_sounder_kind_name(es_sounder_kind kind)
{
    return (int)kind >= 0 && kind < ES_SOUNDER_KIND_COUNT ? names[kind] : "";
}

es_status es_sounder_kind_from_name(const char *name, es_sounder_kind *out)
{
    *out = ES_SOUNDER_NONE;
    for (int i = 0; i < ES_SOUNDER_KIND_COUNT; i++)
        if (strcmp(name, names[i]) == 0) {
            *out = (es_sounder_kind)i;
            return ES_OK;
        }
    return ES_ERR_ARG;
}
