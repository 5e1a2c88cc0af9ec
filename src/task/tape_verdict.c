/* One line for each adjustment: leave, adjust, or look first, with a sentence. */
#include "task/tape_inside.h"

#include "evenspool/base/text.h"
#include "evenspool/base/units.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

#define FAR_BALANCE_DB 6.0    /* more than a trimmer is there for; common practice  */
#define FAR_ANGLE_ARCMIN 30.0 /* no screw is that far off; common practice       */

typedef struct bench {
    const es_tape_limits *limits;
    es_tape_result *result;
} bench;

static const char *const side_name[] = {"left", "right"};

static void add(const bench *b, const char *what, es_verdict verdict, const char *source,
                const char *format, ...) __attribute__((format(printf, 5, 6)));

static void add(const bench *b, const char *what, es_verdict verdict, const char *source,
                const char *format, ...)
{
    es_tape_result *r = b->result;
    if (r->verdict_count == ES_TAPE_VERDICTS_MOST)
        return;
    es_tape_verdict *v = &r->verdicts[r->verdict_count++];
    v->verdict = verdict;
    es_text name = es_text_over(v->what, sizeof v->what);
    es_text_add(&name, "%s", what);
    es_text from = es_text_over(v->source, sizeof v->source);
    es_text_add(&from, "%s", source);
    es_text text = es_text_over(v->text, sizeof v->text);
    va_list list;
    va_start(list, format);
    es_text_add_list(&text, format, list);
    va_end(list);
}

static double limit(const bench *b, es_tape_limit_key key)
{
    return b->limits->value[key];
}

static const char *source(const bench *b, es_tape_limit_key key)
{
    return b->limits->source[key];
}

/* --- speed ------------------------------------------------------------------------------ */

static void judge_speed(const bench *b)
{
    const es_tape_result *r = b->result;
    if (!r->speed_known)
        return;
    if (r->recorded_here) {
        es_notes_add(&b->result->warnings, "speed-not-judged",
                     "The deck plays its own recording: its speed error cancels, so this says "
                     "nothing of it.");
        return;
    }
    const es_gate_facts *gate = &r->check.gate;
    const char *why = gate->reasons.count ? gate->reasons.at[0].text : "";
    add(b, "speed", gate->verdict, source(b, ES_LIMIT_SPEED), "%s", why);
}

/* --- azimuth and polarity ----------------------------------------------------------------- */

static void judge_azimuth(const bench *b)
{
    const es_tape_azimuth *a = &b->result->azimuth;
    double most = limit(b, ES_LIMIT_AZIMUTH), us = fabs(a->delay_us), deg = fabs(a->phase_10k_deg);
    double wander_us = fabs(b->result->again.delay_us), deg_per_us = 360.0 * 1e4 * 1e-6;
    const char *from = source(b, ES_LIMIT_AZIMUTH);
    const char *which = a->delay_us < 0.0 ? "earlier" : "later";
    if (!a->known)
        return;
    if (!a->sure)
        add(b, "azimuth", ES_VERDICT_LOOK_FIRST, "",
            "Right is %.1f us %s than left, or whole turns of a tone off from that: play the "
            "broadband section.",
            us, which);
    else if (fabs(a->angle_arcmin) > FAR_ANGLE_ARCMIN)
        add(b, "azimuth", ES_VERDICT_LOOK_FIRST, from,
            "%.0f minutes of arc is farther than a screw goes astray: look whether the head is "
            "loose, and whether tape and heads are of the same kind.",
            fabs(a->angle_arcmin));
    else if (wander_us * deg_per_us > most)
        add(b, "azimuth", ES_VERDICT_LOOK_FIRST, from,
            "The azimuth wanders by %.1f us along the side: look at guides, pinch roller and "
            "shell before turning the screw.",
            wander_us);
    else if (deg + a->u95_us * deg_per_us <= most)
        add(b, "azimuth", ES_VERDICT_LEAVE, from,
            "Right is %.1f us %s than left, %.0f degrees at 10 kHz: within %.0f degrees.", us,
            which, deg, most);
    else
        add(b, "azimuth", ES_VERDICT_ADJUST, from,
            "Right is %.1f us %s than left (%.0f degrees at 10 kHz, %.1f minutes of arc; costs "
            "each track %.1f dB of treble): note where the screw stands, then turn it until this "
            "is near 0.",
            us, which, deg, fabs(a->angle_arcmin), -a->loss_10k_db);
}

static void judge_polarity(const bench *b)
{
    if (b->result->polarity == ES_POLARITY_SAME)
        add(b, "polarity", ES_VERDICT_LEAVE, "", "Both channels have the same polarity.");
    if (b->result->polarity == ES_POLARITY_OPPOSED)
        add(b, "polarity", ES_VERDICT_LOOK_FIRST, "",
            "One channel is upside down: look at the wires of the head and at the cables, on the "
            "recording deck too.");
}

/* --- level and balance ------------------------------------------------------------------------ */

static void judge_level(const bench *b)
{
    const es_tape_result *r = b->result;
    double worst = 0.0, most = limit(b, ES_LIMIT_LEVEL);
    size_t at = 0, known = 0;
    for (size_t c = 0; c < r->channel_count; c++) {
        double off = r->channels[c].level_error_db;
        if (isnan(off))
            continue;
        known++;
        if (fabs(off) >= fabs(worst)) {
            worst = off;
            at = c;
        }
    }
    const char *what = r->recorded_here ? "record-level" : "level";
    if (known == 0) {
        if (!isnan(r->channels[0].level_db))
            es_notes_add(&b->result->warnings, "level-not-judged",
                         "What the reference level should read is not known, so the %slevel is "
                         "not judged; tell it with --level.",
                         r->recorded_here ? "record " : "");
        return;
    }
    es_verdict verdict = fabs(worst) <= most              ? ES_VERDICT_LEAVE
                         : fabs(worst) > 3.0 * most + 3.0 ? ES_VERDICT_LOOK_FIRST
                                                          : ES_VERDICT_ADJUST;
    add(b, what, verdict, source(b, ES_LIMIT_LEVEL),
        verdict == ES_VERDICT_LOOK_FIRST
            ? "The %s channel is off by %+.1f dB at reference level (limit %.1f): clean the head "
              "and look for a fault first."
            : "The %s channel is off by %+.1f dB at reference level (limit %.1f).",
        side_name[at], worst, most);
}

static void judge_balance(const bench *b)
{
    double off = b->result->balance_db, most = limit(b, ES_LIMIT_BALANCE);
    if (isnan(off))
        return;
    const char *louder = off < 0.0 ? "left" : "right", *from = source(b, ES_LIMIT_BALANCE);
    if (fabs(off) <= most)
        add(b, "balance", ES_VERDICT_LEAVE, from, "The channels differ by %.2f dB.", fabs(off));
    else if (fabs(off) <= FAR_BALANCE_DB)
        add(b, "balance", ES_VERDICT_ADJUST, from,
            "The %s channel is louder by %.1f dB: set the playback level of one channel, if the "
            "tape "
            "was recorded alike in both.",
            louder, fabs(off));
    else
        add(b, "balance", ES_VERDICT_LOOK_FIRST, from,
            "The %s channel is louder by %.1f dB: so much is dirt on the head, a cable or a "
            "fault.",
            louder, fabs(off));
}

/* --- response ---------------------------------------------------------------------------------- */

/* No "-0.0" in a sentence. */
static double tenths(double db)
{
    return fabs(db) < 0.05 ? 0.0 : db;
}

typedef struct deviation {
    double db, hz;
    size_t channel;
    double over; /* of its limit; > 1: outside */
} deviation;

static void widen(deviation *worst, const es_tape_point *p, size_t c, double most)
{
    if (!isnan(p->db) && fabs(p->db) > worst->over * most)
        *worst = (deviation){p->db, p->hz, c, fabs(p->db) / most};
}

static deviation worst_response(const bench *b)
{
    deviation worst = {0.0, 0.0, 0, 0.0};
    for (size_t c = 0; c < b->result->channel_count; c++)
        for (size_t i = 1; i < b->result->channels[c].response_count; i++) {
            const es_tape_point *p = &b->result->channels[c].response[i];
            if (p->hz >= 63.0 && p->hz <= 10000.0)
                widen(&worst, p, c, limit(b, ES_LIMIT_RESPONSE));
            else if (p->hz >= 40.0 && p->hz <= 12500.0)
                widen(&worst, p, c, limit(b, ES_LIMIT_RESPONSE_WIDE));
        }
    return worst;
}

static void judge_response(const bench *b)
{
    const es_tape_result *r = b->result;
    deviation worst = worst_response(b);
    if (worst.hz == 0.0)
        return;
    const char *from = source(b, ES_LIMIT_RESPONSE), *channel = side_name[worst.channel];
    int azimuth = r->azimuth.known && r->azimuth.loss_10k_db < -0.5 && worst.hz > 3000.0;
    double other = r->channel_count > 1 ? fabs(r->treble_db[0] - r->treble_db[1]) : 0.0;
    if (worst.over <= 1.0)
        add(b, "response", ES_VERDICT_LEAVE, from,
            "Farthest off: %+.1f dB at %g Hz (%s), within the limit.", tenths(worst.db), worst.hz,
            channel);
    else if (r->equalisation_hint[0])
        add(b, "response", ES_VERDICT_LOOK_FIRST, from, "%s", r->equalisation_hint);
    else if (azimuth)
        add(b, "response", ES_VERDICT_LOOK_FIRST, from,
            "%+.1f dB at %g Hz (%s): set the azimuth first, then read again.", worst.db, worst.hz,
            channel);
    else if (other > limit(b, ES_LIMIT_RESPONSE))
        add(b, "response", ES_VERDICT_LOOK_FIRST, from,
            "%+.1f dB at %g Hz (%s), and the channels differ by %.1f dB in the treble: clean the "
            "head and look how the tape lies on it.",
            worst.db, worst.hz, channel, other);
    else if (!r->tape_share_known && !r->recorded_here)
        add(b, "response", ES_VERDICT_LOOK_FIRST, from,
            "%+.1f dB at %g Hz (%s), but the recording deck may have made it: compare with a deck "
            "that is known (--recorded-response).",
            worst.db, worst.hz, channel);
    else
        add(b, "response", ES_VERDICT_ADJUST, from,
            "%+.1f dB at %g Hz (%s): set the %s equalisation, if the deck has one.", worst.db,
            worst.hz, channel, r->recorded_here ? "recording" : "playback");
}

/* --- noise, distortion, separation -------------------------------------------------------------- */

static const es_tape_hum *loudest_hum(const es_tape_result *r)
{
    const es_tape_hum *worst = NULL;
    for (size_t c = 0; c < r->channel_count; c++)
        if (r->channels[c].hum_count && (!worst || r->channels[c].hum[0].db > worst->db))
            worst = &r->channels[c].hum[0];
    return worst;
}

static void judge_noise(const bench *b)
{
    const es_tape_result *r = b->result;
    double most = -HUGE_VAL, most_a = -HUGE_VAL;
    for (size_t c = 0; c < r->channel_count; c++)
        if (!isnan(r->channels[c].noise.a)) {
            most = fmax(most, r->channels[c].noise.unweighted);
            most_a = fmax(most_a, r->channels[c].noise.a);
        }
    if (!isfinite(most_a))
        return;
    const es_tape_hum *hum = loudest_hum(r);
    if (hum && hum->db > -limit(b, ES_LIMIT_HUM))
        add(b, "noise", ES_VERDICT_LOOK_FIRST, source(b, ES_LIMIT_HUM),
            "Hum: %.0f Hz, %d times the mains frequency, at %.0f dB: look at cables, earth and "
            "power supply.",
            hum->hz, hum->multiple, hum->db);
    else if (most > -limit(b, ES_LIMIT_NOISE) || most_a > -limit(b, ES_LIMIT_NOISE_A))
        add(b, "noise", ES_VERDICT_LOOK_FIRST,
            source(b, most_a > -limit(b, ES_LIMIT_NOISE_A) ? ES_LIMIT_NOISE_A : ES_LIMIT_NOISE),
            "%.1f dB unweighted, %.1f dB A-weighted: clean and demagnetise the heads, then "
            "compare with the deck's own noise when no tape runs.",
            most, most_a);
    else
        add(b, "noise", ES_VERDICT_LEAVE, source(b, ES_LIMIT_NOISE_A),
            "%.1f dB unweighted, %.1f dB A-weighted.", most, most_a);
}

static void judge_distortion(const bench *b)
{
    double most = limit(b, ES_LIMIT_DISTORTION), worst = -1.0;
    for (size_t c = 0; c < b->result->channel_count; c++)
        for (size_t i = 0; i < b->result->channels[c].third_harmonic_count; i++) {
            const es_tape_harmonic *h = &b->result->channels[c].third_harmonic[i];
            double percent = isnan(h->percent) ? h->floor_percent : h->percent;
            if (fabs(h->level_db) < 0.5 && !isnan(percent))
                worst = fmax(worst, percent);
        }
    if (worst < 0.0)
        return;
    const char *from = source(b, ES_LIMIT_DISTORTION);
    if (worst <= most)
        add(b, "distortion", ES_VERDICT_LEAVE, from,
            "Third harmonic at reference level: %.2f %% at most.", worst);
    else
        add(b, "distortion", ES_VERDICT_LOOK_FIRST, from,
            "Third harmonic at reference level: %.1f %% (limit %.1f): too high a recording level, "
            "too little bias, or a magnetised head.",
            worst, most);
}

static void judge_separation(const bench *b)
{
    deviation worst = {0.0, 0.0, 0, -1e9};
    for (size_t c = 0; c < b->result->channel_count; c++)
        for (size_t i = 0; i < b->result->channels[c].separation_count; i++) {
            const es_tape_point *p = &b->result->channels[c].separation[i];
            double least = fabs(p->hz - 1000.0) < 1.0 ? limit(b, ES_LIMIT_SEPARATION)
                                                      : limit(b, ES_LIMIT_SEPARATION_WIDE);
            if (p->hz < 500.0 || p->hz > 6300.0 || isnan(p->db) || (p->limit && p->db < least))
                continue;
            if (least - p->db > worst.over)
                worst = (deviation){p->db, p->hz, c, least - p->db};
        }
    if (worst.hz == 0.0)
        return;
    const char *from = source(b, ES_LIMIT_SEPARATION);
    if (worst.over <= 0.0)
        add(b, "separation", ES_VERDICT_LEAVE, from, "At least %.0f dB (%s, %g Hz).", worst.db,
            side_name[worst.channel], worst.hz);
    else
        add(b, "separation", ES_VERDICT_LOOK_FIRST, from,
            "Only %.0f dB (%s into %s, %g Hz): look at the height of the head and at its wires, on "
            "the recording deck too.",
            worst.db, side_name[worst.channel], side_name[1 - worst.channel], worst.hz);
}

/* --- record side ---------------------------------------------------------------------------------- */

static void judge_bias(const bench *b)
{
    const es_tape_result *r = b->result;
    double most = limit(b, ES_LIMIT_RESPONSE), sum = 0.0;
    size_t count = 0;
    for (size_t c = 0; c < r->channel_count && r->recorded_here; c++)
        if (!isnan(r->treble_db[c])) {
            sum += r->treble_db[c];
            count++;
        }
    if (count == 0)
        return;
    double treble = sum / (double)count;
    if (fabs(treble) <= most)
        add(b, "bias", ES_VERDICT_LEAVE, source(b, ES_LIMIT_RESPONSE),
            "Treble comes back %+.1f dB against the first tone.", tenths(treble));
    else
        add(b, "bias", ES_VERDICT_ADJUST, source(b, ES_LIMIT_RESPONSE),
            "Treble comes back %+.1f dB against the first tone: %s, once playback is right; "
            "record at several settings and compare them (--bias).",
            treble, treble > 0.0 ? "the bias is too low for this tape" : "it is too high");
}

void es_tape_judge(const es_tape_limits *limits, es_tape_result *result)
{
    bench b = {limits, result};
    memcpy(result->limits, limits->name, sizeof result->limits);
    judge_speed(&b);
    judge_azimuth(&b);
    judge_level(&b);
    judge_balance(&b);
    judge_response(&b);
    judge_noise(&b);
    judge_distortion(&b);
    judge_separation(&b);
    judge_polarity(&b);
    judge_bias(&b);
    for (size_t c = 0; c < result->channel_count; c++) {
        const es_tape_dropouts *d = &result->channels[c].dropouts;
        if (d->seconds > 0.0 && d->count * 60.0 > limits->value[ES_LIMIT_DROPOUTS] * d->seconds)
            es_notes_add(&result->warnings, "dropouts",
                         "The %s channel drops out %.0f times a minute: clean heads and path, "
                         "check the pad and the tape.",
                         side_name[c], 60.0 * d->count / d->seconds);
    }
}
