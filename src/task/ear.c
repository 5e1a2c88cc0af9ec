#include "task/ear.h"

#include "evenspool/base/text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ALIKE 0.05 /* of frequency, from frame to frame: strong wow, but less than a semitone */
#define STREAK 3
#define CLEANER_DB 1.0 /* less is no reason to prefer a channel      */
#define LOUDER_DB 3.0  /* the same, among channels that are as clean */

typedef struct channel {
    es_finding last;
    int streak;
} channel;

struct es_ear {
    es_ear_config config;
    es_finder *finder;
    size_t frame, filled;
    float *frames; /* one finder frame of all channels, interleaved */
    channel *channel;
    es_ear_tally tally;
};

es_status es_ear_create(const es_ear_config *config, es_ear **out)
{
    *out = NULL;
    es_ear *e = calloc(1, sizeof *e);
    if (!e)
        return ES_ERR_NOMEM;
    e->config = *config;
    es_status status = es_finder_create(config->rate_hz, &e->finder);
    if (status == ES_OK) {
        size_t channels = (size_t)config->channels;
        e->frame = es_finder_frame(e->finder);
        e->frames = calloc(e->frame * channels, sizeof *e->frames);
        e->channel = calloc(channels, sizeof *e->channel);
        if (!e->frames || !e->channel)
            status = ES_ERR_NOMEM;
    }
    if (status != ES_OK) {
        es_ear_destroy(e);
        return status;
    }
    *out = e;
    return ES_OK;
}

void es_ear_destroy(es_ear *e)
{
    if (!e)
        return;
    es_finder_destroy(e->finder);
    free(e->frames);
    free(e->channel);
    free(e);
}

void es_ear_settle_on(es_ear *e, int number, double low_hz, double high_hz)
{
    e->config.channel = number;
    for (int c = 0; c < e->config.channels; c++)
        if (c + 1 != number)
            e->channel[c].streak = 0;
    e->config.low_hz = low_hz;
    e->config.high_hz = high_hz;
}

void es_ear_restart(es_ear *e)
{
    e->filled = 0;
    for (int c = 0; c < e->config.channels; c++)
        e->channel[c].streak = 0;
}

static int inside(const es_ear *e, double hz)
{
    return hz >= e->config.low_hz && hz <= e->config.high_hz;
}

static void look(es_ear *e, int c)
{
    channel *ch = &e->channel[c];
    double before_hz = ch->last.hz;
    ch->last = es_finder_look(e->finder, e->frames + c, (size_t)e->config.channels, 0.0, HUGE_VAL);
    int tone = ch->last.sound == ES_SOUND_TONE;
    int alike = ch->streak == 0 || fabs(ch->last.hz / before_hz - 1.0) < ALIKE;
    if (tone && inside(e, ch->last.hz))
        ch->streak = alike ? ch->streak + 1 : 1;
    else
        ch->streak = 0;
}

/* A chord that changes is music: only the pair that stays for most of the time counts (majority vote
 * of Boyer and Moore). */
static void vote(es_ear_tally *t, double hz)
{
    if (t->tones == 0)
        t->tones_hz = hz;
    if (fabs(hz / t->tones_hz - 1.0) < ALIKE)
        t->tones++;
    else
        t->tones--;
}

/* What the loudest of the channels listened to had to say. */
static void count(es_ear *e)
{
    const channel *loudest = NULL;
    for (int c = 0; c < e->config.channels; c++)
        if ((!e->config.channel || e->config.channel == c + 1) &&
            (!loudest || e->channel[c].last.rms_fs > loudest->last.rms_fs))
            loudest = &e->channel[c];
    es_ear_tally *t = &e->tally;
    t->frames++;
    t->silent += loudest->last.sound == ES_SOUND_SILENCE;
    if (loudest->last.sound == ES_SOUND_TONES)
        vote(t, loudest->last.hz);
    t->other += loudest->last.sound == ES_SOUND_OTHER;
    if (loudest->last.sound == ES_SOUND_TONE && !inside(e, loudest->last.hz)) {
        t->astray++;
        t->astray_hz = loudest->last.hz;
    }
}

size_t es_ear_push(es_ear *e, const float *frames, size_t frame_count)
{
    size_t channels = (size_t)e->config.channels, completed = 0;
    while (frame_count > 0) {
        size_t room = e->frame - e->filled, take = frame_count < room ? frame_count : room;
        memcpy(e->frames + e->filled * channels, frames, take * channels * sizeof *frames);
        e->filled += take;
        frames += take * channels;
        frame_count -= take;
        if (e->filled < e->frame)
            break;
        for (int c = 0; c < e->config.channels; c++)
            if (!e->config.channel || e->config.channel == c + 1)
                look(e, c);
        count(e);
        e->filled = 0;
        completed++;
    }
    return completed;
}

static void add_name(const es_ear *e, int c, es_text *why)
{
    if (e->config.channels == 2)
        es_text_add(why, "the %s channel", c ? "right" : "left");
    else
        es_text_add(why, "channel %d", c + 1);
}

/* --- which channel ------------------------------------------------------------------------ */

static int carries(const es_ear *e, int c)
{
    return e->channel[c].streak >= STREAK - 1;
}

static double snr_db(const es_ear *e, int c)
{
    return e->channel[c].last.snr_db;
}

static double level_dbfs(const es_ear *e, int c)
{
    return 20.0 * log10(e->channel[c].last.amplitude_fs);
}

/* The most of what carries the tone with an SNR of at least `snr_least_db`, but for one channel. */
static double most(const es_ear *e, double (*figure)(const es_ear *, int), double snr_least_db,
                   int but)
{
    double value = -HUGE_VAL;
    for (int c = 0; c < e->config.channels; c++)
        if (c != but && carries(e, c) && snr_db(e, c) >= snr_least_db)
            value = fmax(value, figure(e, c));
    return value;
}

/* The cleanest; of those as clean the loudest; of those as loud the first. -1: none has it. */
static int choose(const es_ear *e)
{
    double clean_db = most(e, snr_db, -HUGE_VAL, -1) - CLEANER_DB;
    double loud_dbfs = most(e, level_dbfs, clean_db, -1) - LOUDER_DB;
    for (int c = 0; c < e->config.channels; c++)
        if (carries(e, c) && snr_db(e, c) >= clean_db && level_dbfs(e, c) >= loud_dbfs)
            return c;
    return -1;
}

static void say_rank(const es_ear *e, int best, es_text *why)
{
    double clean_db = most(e, snr_db, -HUGE_VAL, -1) - CLEANER_DB;
    double cleaner_db = snr_db(e, best) - most(e, snr_db, -HUGE_VAL, best);
    double louder_db = level_dbfs(e, best) - most(e, level_dbfs, clean_db, best);
    if (isinf(cleaner_db)) {
        es_text_add(why, "only ");
        add_name(e, best, why);
        es_text_add(why, " carries the tone");
    } else if (cleaner_db > CLEANER_DB) {
        add_name(e, best, why);
        es_text_add(why, " is the cleaner by %.0f dB", cleaner_db);
    } else if (louder_db > LOUDER_DB) {
        add_name(e, best, why);
        es_text_add(why, " is as clean and louder by %.0f dB", louder_db);
    } else if (best == 0)
        es_text_add(why, "the channels are alike; the first was taken");
    else {
        es_text_add(why, "no other is clearly cleaner or louder than ");
        add_name(e, best, why);
    }
}

int es_ear_pick_now(const es_ear *e, es_ear_pick *pick)
{
    int ready = 0;
    for (int c = 0; c < e->config.channels; c++)
        ready |= e->channel[c].streak >= STREAK;
    int best = ready ? choose(e) : -1;
    if (best < 0)
        return 0;
    pick->channel = best + 1;
    pick->finding = e->channel[best].last;
    es_text why = es_text_over(pick->why, sizeof pick->why);
    if (e->config.channels == 1)
        es_text_add(&why, "the only one");
    else if (e->config.channel)
        es_text_add(&why, "as asked for");
    else
        say_rank(e, best, &why);
    return 1;
}

es_finding es_ear_last(const es_ear *e, int number)
{
    return e->channel[number - 1].last;
}

double es_ear_frame_s(const es_ear *e)
{
    return (double)e->frame / e->config.rate_hz;
}

es_ear_tally es_ear_tally_of(const es_ear *e)
{
    return e->tally;
}
