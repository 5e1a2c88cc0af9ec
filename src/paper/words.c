#include "paper/words.h"

#include <math.h>

#define DASH "\u2013"
#define MINUS "\u2212"

es_direction es_direction_of(const es_speed_facts *speed)
{
    double e = speed->error_percent;
    if (!isfinite(e))
        return ES_DIRECTION_UNKNOWN;
    if (e == 0.0 || fabs(e) <= speed->u95_percent)
        return ES_DIRECTION_NEITHER;
    return e < 0.0 ? ES_DIRECTION_SLOW : ES_DIRECTION_FAST;
}

const char *es_direction_word(es_direction direction)
{
    static const char *const word[] = {"speed not known", "slow", "fast", "on speed"};
    return word[direction];
}

void es_word_number(es_text *text, double value, int decimals, int sign)
{
    if (!isfinite(value)) {
        es_text_add(text, DASH);
        return;
    }
    double half = 0.5 * pow(10.0, -decimals);
    const char *before = fabs(value) < half ? "" : value < 0.0 ? MINUS : sign ? "+" : "";
    es_text_add(text, "%s%.*f", before, decimals, fabs(value));
}

int es_word_decimals(double uncertainty)
{
    if (!isfinite(uncertainty) || uncertainty < 0.0)
        return 2;
    if (uncertainty < 1e-4)
        return 4;
    return (int)fmax(1.0, fmin(4.0, 1.0 - floor(log10(uncertainty))));
}

static int flutter_decimals(double percent)
{
    double size = fabs(percent);
    return size >= 10.0 ? 1 : size >= 1.0 ? 2 : size >= 0.01 ? 3 : 4;
}

void es_word_flutter(es_text *text, double percent)
{
    es_word_number(text, percent, flutter_decimals(percent), 0);
    if (isfinite(percent))
        es_text_add(text, " %%");
}

void es_word_plus_minus(es_text *text, double u95, int decimals)
{
    es_text_add(text, "± ");
    es_word_number(text, fmax(u95, isfinite(u95) ? pow(10.0, -decimals) : u95), decimals, 0);
}

void es_word_percent(es_text *text, double value, double u95, int most)
{
    int wanted = es_word_decimals(u95), decimals = wanted < most ? wanted : most;
    es_word_number(text, value, decimals, 1);
    if (!isfinite(value))
        return;
    es_text_add(text, " ");
    es_word_plus_minus(text, u95, decimals);
    es_text_add(text, " %%");
}

void es_word_rate(es_text *text, double rate_hz)
{
    int decimals = rate_hz >= 100.0 ? 0 : rate_hz >= 10.0 ? 1 : 2;
    es_word_number(text, rate_hz, decimals, 0);
    es_text_add(text, " Hz");
}

/* --- sentences ------------------------------------------------------------------------------ */

static const char *verdict_words(es_verdict verdict)
{
    switch (verdict) {
    case ES_VERDICT_ADJUST:
        return "Adjust";
    case ES_VERDICT_LEAVE:
        return "Leave as it is";
    case ES_VERDICT_LOOK_FIRST:
        break;
    }
    return "Look first";
}

void es_word_headline(es_text *text, const es_check_result *result)
{
    static const char *const runs[] = {"the speed is not known", "it runs slow", "it runs fast",
                                       "it runs on speed"};
    es_text_add(text, "%s: %s", verdict_words(result->gate.verdict),
                runs[es_direction_of(&result->speed)]);
}

const char *es_word_advice(const es_check_result *result)
{
    switch (result->gate.verdict) {
    case ES_VERDICT_ADJUST:
        return "Steady enough for the speed trimmer to be the cure.";
    case ES_VERDICT_LEAVE:
        return "Nothing to set: the speed is within the tolerance.";
    case ES_VERDICT_LOOK_FIRST:
        break;
    }
    return "Do not turn the trimmer yet: it could hide a fault.";
}

static const char *nominal_words(es_nominal_source source)
{
    switch (source) {
    case ES_NOMINAL_GIVEN:
        return "as given";
    case ES_NOMINAL_TAPE:
        return "from the tape's record";
    case ES_NOMINAL_NEAREST:
        break;
    }
    return "the test tone nearest to what was heard";
}

void es_word_duration(es_text *text, double seconds)
{
    if (!isfinite(seconds) || seconds < 0.0 || seconds > 1e9) {
        es_text_add(text, "unknown length");
        return;
    }
    long s = lround(seconds);
    if (seconds < 120.0)
        es_text_add(text, "%.1f s", seconds);
    else if (s < 7200)
        es_text_add(text, "%ld min %ld s", s / 60, s % 60);
    else
        es_text_add(text, "%ld h %ld min", s / 3600, s / 60 % 60);
}

static void add_capture(es_text *text, const es_capture_facts *capture)
{
    es_text_add(text, " Capture of ");
    es_word_duration(text, capture->duration_s);
    es_text_add(text, " at %d Hz", capture->samplerate_hz);
    if (capture->bits > 0)
        es_text_add(text, ", %d bit", capture->bits);
    es_text_add(text, ", %d channel%s", capture->channels, capture->channels == 1 ? "" : "s");
    if (capture->channel_used > 0)
        es_text_add(text, "; channel %d was used", capture->channel_used);
    if (capture->channel_used > 0 && capture->channel_why[0])
        es_text_add(text, " (%s)", capture->channel_why);
    es_text_add(text, ".");
}

void es_word_method(es_text *text, const es_check_result *result)
{
    if (isfinite(result->tone.nominal_hz)) {
        es_text_add(text, "Measured from a played test tone, nominal ");
        double hz = result->tone.nominal_hz;
        es_word_number(text, hz, hz == floor(hz) ? 0 : 1, 0);
        es_text_add(text, " Hz (%s).", nominal_words(result->tone.nominal_source));
    } else {
        es_text_add(text, "No test tone was found.");
    }
    add_capture(text, &result->capture);
}
