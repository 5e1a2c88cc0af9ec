#include "evenspool/task/gate.h"

#include "task/nominal.h"

#include <math.h>
#include <string.h>

es_gate_limits es_gate_defaults(void)
{
    return (es_gate_limits){
        /* below most listeners' notice without a reference beside it (tempo and pitch
         * differences reported in JASA and by Parncutt and Cohen 1995); common practice */
        .tolerance_percent = 0.3,
        .u95_percent = 0.15,          /* half the tolerance; common practice, no source         */
        .drift_percent_per_min = 0.3, /* common practice, no source                             */
        .spread_percent = 0.5,        /* start against end: 0.3 .. 0.5 %, common practice        */
        .flutter_percent = 0.3,       /* DIN 45500 allows 0.2 % weighted; half as much again    */
        /* one part alone, near what DIN 45500 allows for the whole (0.2 %); common practice */
        .component_percent = 0.15,
        .range_percent = 6.0,    /* trimmers seldom reach farther; common practice         */
        .snr_db = 15.0,          /* what the tracker promises its accuracy for             */
        .dropouts_per_min = 6.0, /* common practice, no source                             */
        .duration_s = 10.0,      /* DIN 45500 averages speed over 30 s; a third is accepted */
        /* decks arrive that far off now and then: which way to turn would be a guess; common
         * practice, no source */
        .tone_doubt_percent = 3.5,
    };
}

static const char *direction(double error_percent)
{
    return error_percent < 0.0 ? "slow" : "fast";
}

/* A slow deck with a 3150 Hz tape can be a fast one with a 3000 Hz tape: no hand may follow a guess. */
static void look_at_tone(const es_gate_limits *l, const es_check_result *r, es_notes *why)
{
    const es_tone_facts *tone = &r->tone;
    if (tone->nominal_source != ES_NOMINAL_NEAREST || isnan(r->speed.error_percent))
        return;
    double other_hz = es_second_nominal(tone->measured_hz, tone->nominal_hz);
    double other = (100.0 + r->speed.error_percent) * tone->nominal_hz / other_hz - 100.0;
    if (fabs(other) < l->tone_doubt_percent)
        es_notes_add(why, "tone-unsure",
                     "Which tone the tape carries is not known: with %.0f Hz the deck runs %.2f %% "
                     "%s, with %.0f Hz %.2f %% %s. Say which with --tone HZ.",
                     tone->nominal_hz, fabs(r->speed.error_percent),
                     direction(r->speed.error_percent), other_hz, fabs(other), direction(other));
}

static void look_at_capture(const es_gate_limits *l, double good_s, const es_check_result *r,
                            es_notes *why)
{
    if (isnan(r->speed.error_percent))
        es_notes_add(
            why, "speed-unknown",
            "The speed can't be known, since the recorded tone is not; name it with --tone.");
    if (good_s < l->duration_s)
        es_notes_add(
            why, "too-short",
            "Only %.1f s of steady tone: too short to tell a setting from a fault; play at "
            "least %.0f s.",
            good_s, l->duration_s);
    if (isnan(r->tone.snr_db))
        es_notes_add(
            why, "noise-unknown",
            "How far the tone stands above the noise can't be told: play it again, longer.");
    else if (r->tone.snr_db < l->snr_db)
        es_notes_add(why, "noisy",
                     "The tone stands only %.0f dB above the noise: clean the head, check the tape "
                     "and the cable.",
                     r->tone.snr_db);
}

static void look_at_losses(const es_gate_limits *l, double good_s, const es_check_result *r,
                           es_notes *why)
{
    double per_min = 60.0 * (double)r->tone.dropouts / fmax(good_s, 1.0);
    if (r->tone.dropouts >= 3 && per_min > l->dropouts_per_min)
        es_notes_add(
            why, "dropouts",
            "The tone drops out %.0f times a minute: clean head and path, check the pad and "
            "the tape.",
            per_min);
}

static void look_at_course(const es_gate_limits *l, double good_s, const es_check_result *r,
                           es_notes *why)
{
    const es_speed_facts *s = &r->speed;
    double spread = s->end_percent - s->start_percent;
    int long_enough = good_s >= l->duration_s;
    if (long_enough && fabs(s->drift_percent_per_min) > l->drift_percent_per_min)
        es_notes_add(
            why, "drift",
            "The speed drifts by %+.2f %% a minute: let it warm up and measure again; if it "
            "stays, look at the belt, the roller, the motor and its regulator.",
            s->drift_percent_per_min);
    else if (fabs(spread) > l->spread_percent)
        es_notes_add(
            why, "uneven",
            "The speed changes by %+.2f %% from start to end: look at take-up, back tension "
            "and the roller.",
            spread);
}

static void look_at_flutter(const es_gate_limits *l, const es_check_result *r, es_notes *why)
{
    const es_component *worst = NULL;
    for (size_t i = 0; i < r->component_count && !worst; i++)
        if (r->components[i].peak_percent > l->component_percent)
            worst = &r->components[i];
    if (worst && worst->suspect[0])
        es_notes_add(why, "component",
                     "The speed swings by %.2f %% at %.2f Hz, the rate at which the %s turns: look "
                     "there first.",
                     worst->peak_percent, worst->rate_hz, worst->suspect);
    else if (worst)
        es_notes_add(
            why, "component",
            "The speed swings by %.2f %% at %.2f Hz: find the part that turns at that rate.",
            worst->peak_percent, worst->rate_hz);
    if (r->flutter.weighted_two_sigma_percent > l->flutter_percent)
        es_notes_add(
            why, "flutter",
            "Wow and flutter of %.2f %% (weighted) is more than a trimmer can cure: look at "
            "roller, belt, capstan and bearings.",
            r->flutter.weighted_two_sigma_percent);
}

static void look_at_size(const es_gate_limits *l, const es_check_result *r, es_notes *why)
{
    const es_speed_facts *s = &r->speed;
    if (fabs(s->error_percent) > l->range_percent)
        es_notes_add(why, "far-off",
                     "%.1f %% %s is more than a trimmer usually covers: look at the %s.",
                     fabs(s->error_percent), direction(s->error_percent),
                     s->error_percent < 0.0
                         ? "belt, roller, bearings and motor"
                         : "capstan (dirt), belt and pulley size, and the motor's regulator");
    if (isnan(s->u95_percent))
        es_notes_add(
            why, "unsure",
            "How well the speed is known can't be told: too little to set anything by; play "
            "longer.");
    else if (s->u95_percent > l->u95_percent)
        es_notes_add(why, "unsure",
                     "The speed is known only within %.2f %%: too little to set anything by; play "
                     "longer.",
                     s->u95_percent);
}

static void say_settled(const es_gate_limits *l, es_check_result *r)
{
    const es_speed_facts *s = &r->speed;
    es_notes *why = &r->gate.reasons;
    double size = fabs(s->error_percent);
    if (size + s->u95_percent <= l->tolerance_percent) {
        r->gate.verdict = ES_VERDICT_LEAVE;
        es_notes_add(why, "within-tolerance",
                     "The speed is within %.2f %% of nominal, and known well enough to say so.",
                     l->tolerance_percent);
        return;
    }
    r->gate.verdict = ES_VERDICT_ADJUST;
    if (size > l->tolerance_percent)
        es_notes_add(why, "steady-and-off",
                     "The deck runs %.2f %% %s and is steady: the trimmer is the right cure.", size,
                     direction(s->error_percent));
    else
        es_notes_add(why, "at-the-edge",
                     "The deck runs %.2f %% %s, known within %.2f %%: it may lie outside the "
                     "tolerance of %.2f %%.",
                     size, direction(s->error_percent), s->u95_percent, l->tolerance_percent);
}

void es_gate_judge(const es_gate_limits *l, double good_s, es_check_result *r)
{
    memset(&r->gate, 0, sizeof r->gate);
    es_notes *why = &r->gate.reasons;
    look_at_tone(l, r, why);
    look_at_capture(l, good_s, r, why);
    look_at_losses(l, good_s, r, why);
    look_at_course(l, good_s, r, why);
    look_at_flutter(l, r, why);
    look_at_size(l, r, why);
    r->gate.verdict = ES_VERDICT_LOOK_FIRST;
    if (why->count == 0)
        say_settled(l, r);
}
