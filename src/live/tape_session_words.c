/* What a tape session says of its sections, for every face alike. */
#include "evenspool/base/text.h"
#include "live/tape_session.h"

#include <math.h>

/* --- state ------------------------------------------------------------------------------ */

es_tape_state es_tape_state_of(const es_tape_listening *now, size_t at)
{
    const es_tape_section *s = &now->so_far.sections[at];
    if (now->ending == ES_TAPE_GOES_ON && at == now->index)
        return ES_TAPE_NOW;
    if (s->found)
        return s->steps_heard == s->step_count ? ES_TAPE_HEARD : ES_TAPE_IN_PART;
    if (now->ending == ES_TAPE_GOES_ON && at > now->index)
        return ES_TAPE_TO_COME;
    return ES_TAPE_MISSED;
}

const char *es_tape_ending_words(es_tape_ending ending)
{
    static const char *const words[] = {
        [ES_TAPE_GOES_ON] = "",
        [ES_TAPE_END_MARKER] = "The side is over.",
        [ES_TAPE_TIME_OVER] = "The side's time is over; its end marker was not heard.",
        [ES_TAPE_FELL_SILENT] = "Nothing was heard for 30 seconds, so listening has ended.",
        [ES_TAPE_SOURCE_OVER] = "The source is over.",
        [ES_TAPE_STOPPED] = "Stopped. What was heard until then is measured."};
    return words[ending];
}

/* --- figures ----------------------------------------------------------------------------- */

/* Without "-0.00". */
static double rounded(double value, int decimals)
{
    double unit = pow(10.0, -decimals);
    return fabs(value) < 0.5 * unit ? 0.0 : value;
}

/* "-12.10 dB" of one channel, "-12.10 and -12.31 dB" of two. */
static void add_pair(es_text *text, const es_tape_result *r, const double value[ES_TAPE_CHANNELS],
                     int decimals, const char *unit)
{
    for (size_t c = 0; c < r->channel_count; c++) {
        es_text_add(text, c ? " and " : "");
        if (isfinite(value[c]))
            es_text_add(text, "%+.*f", decimals, rounded(value[c], decimals));
        else
            es_text_add(text, "-");
    }
    es_text_add(text, " %s", unit);
}

static int any(const es_tape_result *r, const double value[ES_TAPE_CHANNELS])
{
    for (size_t c = 0; c < r->channel_count; c++)
        if (isfinite(value[c]))
            return 1;
    return 0;
}

/* A figure of each channel, when there is any. */
static void say_pair(es_text *text, const es_tape_result *r, const char *before, double left,
                     double right, int decimals, const char *unit)
{
    double value[ES_TAPE_CHANNELS] = {left, right};
    if (!any(r, value))
        return;
    es_text_add(text, "%s", before);
    add_pair(text, r, value, decimals, unit);
}

static void say_azimuth(es_text *text, const es_tape_result *r)
{
    if (!r->azimuth.known)
        return;
    es_text_add(text, "right later by %+.2f us", rounded(r->azimuth.delay_us, 2));
    if (isfinite(r->azimuth.u95_us))
        es_text_add(text, ", +- %.2f", fmax(r->azimuth.u95_us, 0.01));
}

/* The least of them, where it is not known to be more. */
static void say_separation(es_text *text, const es_tape_channel *c)
{
    double least = (double)INFINITY, hz = 0.0;
    for (size_t i = 0; i < c->separation_count; i++)
        if (c->separation[i].db < least) { /* false for NaN */
            least = c->separation[i].db;
            hz = c->separation[i].hz;
        }
    if (isfinite(least))
        es_text_add(text, "separation %.1f dB at least (%g Hz)", least, hz);
}

static double percent_near_0(const es_tape_channel *c, double *level_db)
{
    double percent = (double)NAN, best = (double)INFINITY;
    for (size_t i = 0; i < c->third_harmonic_count; i++)
        if (fabs(c->third_harmonic[i].level_db) < best) {
            best = fabs(c->third_harmonic[i].level_db);
            *level_db = c->third_harmonic[i].level_db;
            percent = c->third_harmonic[i].percent;
        }
    return percent;
}

static void say_distortion(es_text *text, const es_tape_result *r)
{
    double at_db = 0.0, value[ES_TAPE_CHANNELS];
    for (size_t c = 0; c < ES_TAPE_CHANNELS; c++)
        value[c] = percent_near_0(&r->channels[c], &at_db);
    if (!any(r, value))
        return;
    es_text_add(text, "third harmonic ");
    add_pair(text, r, value, 2, "%");
    es_text_add(text, " at %+g dB", at_db);
}

/* Which hearing of its kind the section is, of those that were heard. */
static size_t nth_of_kind(const es_tape_result *r, size_t at)
{
    size_t nth = 0;
    for (size_t i = 0; i < at; i++)
        nth += r->sections[i].kind == r->sections[at].kind && r->sections[i].found;
    return nth;
}

static void say_first(es_text *text, const es_tape_result *r, es_section_kind kind)
{
    const es_tape_channel *left = &r->channels[0], *right = &r->channels[1];
    switch (kind) {
    case ES_SECTION_LEVEL:
        say_pair(text, r, "level ", left->level_db, right->level_db, 2, "dB full scale");
        break;
    case ES_SECTION_AZIMUTH_TONES:
    case ES_SECTION_AZIMUTH_BROADBAND:
        say_azimuth(text, r);
        break;
    case ES_SECTION_RESPONSE:
        say_pair(text, r, "treble ", r->treble_db[0], r->treble_db[1], 2, "dB");
        break;
    case ES_SECTION_LEFT_ONLY:
        say_separation(text, left);
        break;
    case ES_SECTION_RIGHT_ONLY:
        say_separation(text, right);
        break;
    case ES_SECTION_SILENCE:
        say_pair(text, r, "noise ", left->noise.a, right->noise.a, 1, "dB, A-weighted");
        break;
    case ES_SECTION_DISTORTION:
        say_distortion(text, r);
        break;
    default:
        break;
    }
}

/* Near the side's end, what is there twice. */
static void say_again(es_text *text, const es_tape_result *r, es_section_kind kind)
{
    const es_tape_again *again = &r->again;
    if (kind == ES_SECTION_LEVEL)
        say_pair(text, r, "level since then ", again->level_db[0], again->level_db[1], 2, "dB");
    if (kind == ES_SECTION_RESPONSE)
        say_pair(text, r, "treble since then ", again->treble_db[0], again->treble_db[1], 2, "dB");
    if ((kind == ES_SECTION_AZIMUTH_TONES || kind == ES_SECTION_AZIMUTH_BROADBAND) &&
        isfinite(again->delay_us))
        es_text_add(text, "right later since then by %+.2f us", rounded(again->delay_us, 2));
}

void es_tape_section_words(const es_tape_result *r, size_t at, char *room, size_t size)
{
    es_text text = es_text_over(room, size);
    const es_tape_section *s = &r->sections[at];
    if (s->kind == ES_SECTION_SPEED && isfinite(s->error_percent))
        es_text_add(&text, "speed %+.3f %%", rounded(s->error_percent, 3));
    if (s->kind == ES_SECTION_SPEED || !s->found)
        return;
    if (nth_of_kind(r, at) == 0)
        say_first(&text, r, s->kind);
    else
        say_again(&text, r, s->kind);
}
