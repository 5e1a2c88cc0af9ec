#include "trust/anchor_inside.h"

#include "evenspool/base/text.h"
#include "evenspool/base/units.h"

#include <math.h>
#include <string.h>

/* --- answers -------------------------------------------------------------------------------- */

static int is_choice(const es_anchor_question *q, double answer)
{
    for (size_t i = 0; i < ES_CHOICES_MOST && q->choice[i].text; i++)
        if (answer == q->choice[i].value)
            return 1;
    return 0;
}

static es_status settle(const es_anchor_question *q, double answer, double *out, es_error *error)
{
    *out = isnan(answer) ? q->standard : answer;
    if (isnan(*out) && !q->needed)
        return ES_OK;
    if (isnan(*out))
        return es_fail(error, ES_ERR_INPUT, "missing-answer", "%s (%s) needs an answer.", q->text,
                       q->key);
    if (!(*out >= q->low && *out <= q->high))
        return es_fail(error, ES_ERR_INPUT, "impossible-answer",
                       "%s %g %s can't be right; give %s between %g and %g.", q->text, *out,
                       q->unit, q->key, q->low, q->high);
    if (q->only && !is_choice(q, *out))
        return es_fail(error, ES_ERR_INPUT, "impossible-answer",
                       "%s %s must be one of the answers offered.", q->text, q->key);
    return ES_OK;
}

/* --- budget --------------------------------------------------------------------------------- */

static void add_with_dof(es_anchor *a, const char *what, const char *formula, const char *source,
                         es_shape shape, double limit, double dof)
{
    es_budget_add(&a->budget, (es_budget_part){.what = what,
                                               .formula = formula,
                                               .source = source,
                                               .shape = shape,
                                               .u = es_u_from_limit(shape, limit),
                                               .dof = dof});
}

/* limit: relative to the speed; the parts are scaled to the error's unit at the end. */
static void add(es_anchor *a, const char *what, const char *formula, const char *source,
                es_shape shape, double limit)
{
    add_with_dof(a, what, formula, source, shape, limit, (double)INFINITY);
}

/* ratio: true speed / nominal speed. */
static es_status finish(es_anchor *a, double ratio, es_error *error)
{
    if (!(ratio > 0.5 && ratio < 2.0))
        return es_fail(
            error, ES_ERR_INPUT, "impossible-speed",
            "These answers make the deck's speed %.3g times the nominal speed; check the "
            "figures and their units.",
            ratio);
    for (size_t i = 0; i < a->budget.count; i++)
        a->budget.at[i].u *= ratio;
    a->estimate = es_budget_total(&a->budget, ratio - 1.0, ES_LEVEL_95);
    if (isinf(a->estimate.dof))
        a->u95_by_shape = es_budget_expanded_by_shape(&a->budget, ES_LEVEL_95);
    return ES_OK;
}

static void caution(es_anchor *a, const char *text)
{
    es_text t = es_text_over(a->caution, sizeof a->caution);
    es_text_add(&t, "%s", text);
}

#define PERCENT(x) ((x) / 100.0)
#define PPM(x) ((x) / 1e6)

/* --- without a recorded signal -------------------------------------------------------------- */

/* Largest error of a class II rule [mm]; its length counts in whole metres. */
static double class_two_mm(double length_m)
{
    return 0.3 + 0.2 * ceil(length_m);
}

static void add_repeat(es_anchor *a, double runs, double spread_percent)
{
    if (isnan(spread_percent))
        add(a, "repeat", "0.02 % taken", "working practice, no source", ES_SHAPE_NORMAL, 0.0002);
    else
        add_with_dof(a, "repeat", "spread / sqrt(runs), runs - 1 degrees of freedom",
                     "JCGM 100 4.2.3", ES_SHAPE_NORMAL,
                     es_u_of_mean(PERCENT(spread_percent), (size_t)runs), runs - 1.0);
}

static es_status tape_length(const double *x, es_anchor *a, es_error *error)
{
    double length = x[LENGTH_M], time = x[LENGTH_TIME_S];
    double rule = isnan(x[LENGTH_RULE_MM]) ? class_two_mm(length) : x[LENGTH_RULE_MM];
    if (!isnan(x[LENGTH_SPREAD_PERCENT]) && x[LENGTH_RUNS] < 2.0)
        return es_fail(error, ES_ERR_INPUT, "too-few-runs",
                       "A spread between runs needs at least two runs; give runs.");
    if (x[LENGTH_RUNS] != floor(x[LENGTH_RUNS]))
        return es_fail(error, ES_ERR_INPUT, "impossible-answer",
                       "The number of runs must be whole.");
    add(a, "rule", "limit / length / sqrt(3); class II: 0.3 mm + 0.2 mm per metre begun",
        "JCGM 100 4.3.7; European rule classes, from memory", ES_SHAPE_RECTANGULAR,
        rule / 1000.0 / length);
    add(a, "marks", "limit / length / sqrt(3)", "JCGM 100 4.3.7", ES_SHAPE_RECTANGULAR,
        x[LENGTH_MARKS_MM] / 1000.0 / length);
    add(a, "timing clock", "limit / sqrt(3)", "JCGM 100 4.3.7", ES_SHAPE_RECTANGULAR,
        PPM(x[LENGTH_CLOCK_PPM]));
    if (x[LENGTH_TIMER] == TIMER_WATCH) {
        add(a, "pressing the watch", "sqrt(2) * reaction / time", "JCGM 100 5.1.2", ES_SHAPE_NORMAL,
            sqrt(2.0) * x[LENGTH_REACTION_S] / time);
        if (time < 600.0)
            caution(a, "With a watch, time a length of ten minutes or more.");
    }
    add(a, "stretch under tension", "as answered", "working practice, no source", ES_SHAPE_NORMAL,
        PERCENT(x[LENGTH_STRETCH_PERCENT]));
    add_repeat(a, x[LENGTH_RUNS], x[LENGTH_SPREAD_PERCENT]);
    return finish(a, length / (time * x[LENGTH_NOMINAL_CM_S] / 100.0), error);
}

static es_status counter(const double *x, es_anchor *a, es_error *error)
{
    double time = x[COUNTER_WATCH_S];
    add(a, "counter's reckoning", "limit / sqrt(3)", "working practice, no source; JCGM 100 4.3.7",
        ES_SHAPE_RECTANGULAR, PERCENT(x[COUNTER_LIMIT_PERCENT]));
    add(a, "reading the counter twice", "sqrt(2) * limit / time / sqrt(3)", "JCGM 100 4.3.7, 5.1.2",
        ES_SHAPE_NORMAL, sqrt(2.0 / 3.0) * x[COUNTER_READING_S] / time);
    add(a, "pressing the watch", "sqrt(2) * reaction / time", "JCGM 100 5.1.2", ES_SHAPE_NORMAL,
        sqrt(2.0) * x[COUNTER_REACTION_S] / time);
    caution(a, "A counter reckons time from the turns of a reel and a tape thickness that it takes "
               "for granted; it is a rough check and no reference.");
    return finish(a, x[COUNTER_S] / time, error);
}

static es_status capstan(const double *x, es_anchor *a, es_error *error)
{
    double around = x[CAPSTAN_DIAMETER_MM] + x[CAPSTAN_THICKNESS_UM] / 1000.0; /* [mm] */
    double speed = ES_PI * x[CAPSTAN_RATE_RPM] / 60.0 * around / 10.0;         /* [cm/s] */
    add(a, "capstan diameter", "limit / (diameter + thickness) / sqrt(3)", "JCGM 100 4.3.7",
        ES_SHAPE_RECTANGULAR, x[CAPSTAN_DIAMETER_LIMIT_UM] / 1000.0 / around);
    add(a, "tape thickness", "limit / (diameter + thickness) / sqrt(3)", "JCGM 100 4.3.7",
        ES_SHAPE_RECTANGULAR, x[CAPSTAN_THICKNESS_LIMIT_UM] / 1000.0 / around);
    add(a, "turning rate", "limit / sqrt(3)", "JCGM 100 4.3.7", ES_SHAPE_RECTANGULAR,
        PERCENT(x[CAPSTAN_RATE_LIMIT_PERCENT]));
    add(a, "slip of the tape", "as answered", "working practice, no source", ES_SHAPE_NORMAL,
        PERCENT(x[CAPSTAN_CREEP_PERCENT]));
    caution(a,
            "Measure the diameter with the deck unplugged; near an open deck that runs, keep clear "
            "of turning parts and of mains wiring, or leave it to someone qualified.");
    return finish(a, speed / x[CAPSTAN_NOMINAL_CM_S], error);
}

static es_status test_tape(const double *x, es_anchor *a, es_error *error)
{
    add(a, "maker's tolerance", "limit / sqrt(3)", "JCGM 100 4.3.7", ES_SHAPE_RECTANGULAR,
        PERCENT(x[TAPE_TOLERANCE_PERCENT]));
    add(a, "age", "age * change in a year", "working practice, no source", ES_SHAPE_NORMAL,
        PERCENT(x[TAPE_AGE_YEARS] * x[TAPE_AGEING_PERCENT]));
    if (x[TAPE_HISTORY] == HISTORY_UNKNOWN) {
        add(a, "unknown past", "0.3 % taken", "working practice, no source", ES_SHAPE_NORMAL,
            0.003);
        caution(a, "A tape whose past is not known may have been stretched or may be a copy.");
    }
    add(a, "reading", "as answered", "the measurement's own budget", ES_SHAPE_NORMAL,
        PERCENT(x[TAPE_READING_PERCENT]));
    return finish(
        a, (1.0 + PERCENT(x[TAPE_HEARD_PERCENT])) * (1.0 + PERCENT(x[TAPE_STATED_PERCENT])), error);
}

static es_status other(const double *x, es_anchor *a, es_error *error)
{
    double ratio = 1.0 + PERCENT(x[OTHER_ERROR_PERCENT]);
    double u = es_u_from_expanded(PERCENT(x[OTHER_U95_PERCENT]), x[OTHER_K]);
    double dof = isnan(x[OTHER_DOF]) ? (double)INFINITY : x[OTHER_DOF];
    add_with_dof(a, "as stated", "expanded uncertainty / k", "JCGM 100 4.3.3", ES_SHAPE_NORMAL,
                 u / ratio, dof);
    return finish(a, ratio, error);
}

/* --- with a recorded signal ----------------------------------------------------------------- */

/*
 * The parts so far are of the signal itself; reading and clock follow, and with them the play is
 * complete. The recording machine comes last and makes it an anchor.
 */
static es_status finish_signal(const double *x, double heard, es_anchor *a, es_error *error)
{
    if (x[SIGNAL_RECORDER] == RECORDER_THIS)
        return es_fail(
            error, ES_ERR_INPUT, "same-deck",
            "What this deck recorded can't show its own speed, because the error cancels; "
            "use a recording of another machine.");
    add(a, "reading", "as answered", "the measurement's own budget", ES_SHAPE_NORMAL,
        PERCENT(x[SIGNAL_READING_PERCENT]));
    add(a, "sound clock", "limit / sqrt(3)", "JCGM 100 4.3.7", ES_SHAPE_RECTANGULAR,
        PPM(x[SIGNAL_CLOCK_PPM]));
    es_estimate alone = es_budget_total(&a->budget, heard - 1.0, ES_LEVEL_95);
    add(a, "machine that recorded it", "limit / sqrt(3)",
        "JCGM 100 4.3.7; the limit is working practice", ES_SHAPE_RECTANGULAR,
        PERCENT(x[SIGNAL_RECORDER_LIMIT_PERCENT]));
    es_status status = finish(a, heard * (1.0 + PERCENT(x[SIGNAL_RECORDER_PERCENT])), error);
    if (status == ES_OK)
        a->heard = es_estimate_of(alone.value, alone.u * heard, alone.dof, ES_LEVEL_95);
    return status;
}

static es_status mains_hum(const double *x, es_anchor *a, es_error *error)
{
    double mains = x[HUM_MAINS_HZ], harmonic = x[HUM_HARMONIC];
    if (x[HUM_YEAR] < 1965.0)
        return es_fail(error, ES_ERR_INPUT, "mains-too-old",
                       "Before about 1965 the mains frequency is not to be trusted; use another "
                       "method.");
    if (harmonic != floor(harmonic))
        return es_fail(error, ES_ERR_INPUT, "impossible-answer",
                       "The harmonic must be a whole number: 1 for the mains itself, 2 for its "
                       "double.");
    add(a, "mains frequency", "standard deviation 20 mHz of 50 Hz; 0.03 % of 60 Hz",
        "from memory; working practice", ES_SHAPE_NORMAL, mains == 50.0 ? 0.0004 : 0.0003);
    caution(a,
            "Only a recording made on mains power with hum of its own time is of use; hum that the "
            "replay adds shows nothing.");
    return finish_signal(x, x[SIGNAL_HEARD] / (harmonic * mains), a, error);
}

/* Limits [fraction]: a colour broadcast; a set that runs free. */
static es_status line_whistle(const double *x, es_anchor *a, es_error *error)
{
    int european = x[WHISTLE_LINES] == 625.0;
    double line_hz = european ? 15625.0 : 4.5e6 / 286.0;
    double limit = european ? 0.0002 : 10.0 / 3579545.0;
    if (x[WHISTLE_DRIVEN] == DRIVEN_FREE) {
        limit = 0.005;
        caution(a, "Without a broadcast the line frequency runs free and is hardly a reference.");
    }
    add(a, "line frequency", "limit / sqrt(3); 0.02 % or 10 Hz of 3579545 Hz, free 0.5 %",
        "625 lines and free: from memory; 525 lines: colour subcarrier tolerance",
        ES_SHAPE_RECTANGULAR, limit);
    return finish_signal(x, x[SIGNAL_HEARD] / line_hz, a, error);
}

static es_status stereo_pilot(const double *x, es_anchor *a, es_error *error)
{
    add(a, "pilot frequency", "limit / 19000 Hz / sqrt(3)", "47 CFR 73.322: 19 kHz +- 2 Hz",
        ES_SHAPE_RECTANGULAR, x[PILOT_LIMIT_HZ] / 19000.0);
    caution(a, "Some stations' pilots were off by more than they should; a second station tells.");
    return finish_signal(x, x[SIGNAL_HEARD] / 19000.0, a, error);
}

static es_status music(const double *x, es_anchor *a, es_error *error)
{
    add(a, "speed of the copy", "limit / sqrt(3)", "working practice, no source",
        ES_SHAPE_RECTANGULAR, PERCENT(x[MUSIC_COPY_LIMIT_PERCENT]));
    return finish_signal(x, 1.0 + PERCENT(x[SIGNAL_HEARD]), a, error);
}

/* --- door ----------------------------------------------------------------------------------- */

static const struct {
    es_status (*reckon)(const double *, es_anchor *, es_error *);
} ways[ES_ANCHOR_METHOD_COUNT] = {
    [ES_ANCHOR_TAPE_LENGTH] = {tape_length},
    [ES_ANCHOR_COUNTER] = {counter},
    [ES_ANCHOR_CAPSTAN] = {capstan},
    [ES_ANCHOR_TEST_TAPE] = {test_tape},
    [ES_ANCHOR_MAINS_HUM] = {mains_hum},
    [ES_ANCHOR_LINE_WHISTLE] = {line_whistle},
    [ES_ANCHOR_STEREO_PILOT] = {stereo_pilot},
    [ES_ANCHOR_MUSIC] = {music},
    [ES_ANCHOR_OTHER] = {other},
};

static void forget(es_anchor *a)
{
    memset(a, 0, sizeof *a);
    a->estimate = a->heard = es_estimate_unknown();
    a->u95_by_shape = (double)NAN;
}

es_status es_anchor_evaluate(es_anchor_method method, const double *answers, size_t count,
                             es_anchor *out, es_error *error)
{
    double settled[ES_QUESTIONS_MOST];
    size_t wanted;
    const es_anchor_question *question = es_anchor_questions(method, &wanted);
    forget(out);
    if (!question || count != wanted)
        return es_fail(error, ES_ERR_ARG, "wrong-form", "This method asks %zu questions, not %zu.",
                       wanted, count);
    es_status status = ES_OK;
    for (size_t i = 0; i < count && status == ES_OK; i++)
        status = settle(&question[i], answers[i], &settled[i], error);
    if (status == ES_OK)
        status = ways[method].reckon(settled, out, error);
    if (status != ES_OK)
        forget(out);
    return status;
}
