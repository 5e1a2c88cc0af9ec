#include "command/trim_text.h"

#include "command/say.h"

#include <math.h>
#include <string.h>

#define NAME_WIDE 12

int es_trim_has_figure(const es_trim_snapshot *now)
{
    return (now->state == ES_TRIM_READING || now->state == ES_TRIM_THERE) &&
           !isnan(now->error_percent);
}

/* Two decimals more than the tolerance has worth. */
int es_trim_decimals(const es_trim_snapshot *now)
{
    const es_adjust_facts *f = es_adjust_facts_of(now->adjust);
    return f->decimals + (now->tolerance_percent < 0.5 * f->tolerance);
}

static void give_or_take(es_text *out, const es_adjust_facts *f, double u95)
{
    if (isnan(u95))
        es_text_add(out, ", how surely is not known");
    else
        es_text_add(out, ", give or take %.*f %s", f->decimals + 1, u95, f->unit);
}

void es_trim_say_direction(es_text *out, const es_trim_snapshot *now)
{
    if (!es_trim_has_figure(now))
        return;
    double off = now->error_percent - now->target_percent;
    const es_adjust_facts *f = es_adjust_facts_of(now->adjust);
    int decimals = es_trim_decimals(now);
    if (fabs(off) <= now->tolerance_percent)
        es_text_add(out, "on target: ");
    if (fabs(off) < 0.5 * pow(10.0, -decimals))
        es_text_add(out, "%s", f->even);
    else
        es_text_add(out, "%s by %.*f %s", off > 0.0 ? f->high : f->low, decimals, fabs(off),
                    f->unit);
    if (now->target_percent != 0.0)
        es_text_add(out, " against the target of %+.*f %s", f->decimals, now->target_percent,
                    f->unit);
    give_or_take(out, f, now->u95_percent);
}

const char *es_trim_state_words(const es_trim_snapshot *now, const es_session_facts *facts)
{
    static const char *const words[] = {
        [ES_TRIM_LISTENING] = "listening",  [ES_TRIM_UNSTEADY] = "not steady yet",
        [ES_TRIM_TURNING] = "turning",      [ES_TRIM_SETTLING] = "settling",
        [ES_TRIM_READING] = "reading",      [ES_TRIM_THERE] = "there",
        [ES_TRIM_LOOK_FIRST] = "look first"};
    return facts->standing.phase == ES_SESSION_WAITING ? "no input" : words[now->state];
}

static const char *const sounds[] = {"none", "reference", "beat", "guide"};
enum { SOUNDS = sizeof sounds / sizeof *sounds };

const char *es_trim_sound_name(int kind)
{
    return kind >= 0 && kind < SOUNDS ? sounds[kind] : "";
}

int es_trim_sound_named(const char *name)
{
    for (int i = 0; i < SOUNDS; i++)
        if (strcmp(name, sounds[i]) == 0)
            return i;
    return -1;
}

void es_trim_say_time(es_text *out, double seconds)
{
    int whole = seconds > 0.0 ? (int)seconds : 0;
    es_text_add(out, "%d:%02d", whole / 60, whole % 60);
}

void es_trim_say_nudge(es_text *out, es_adjust adjust, const es_nudge *nudge)
{
    const es_adjust_facts *f = es_adjust_facts_of(adjust);
    if (isnan(nudge->size_percent)) {
        es_text_add(out, "-");
        return;
    }
    es_text_add(out, "%+.*f %s", f->decimals, nudge->size_percent, f->unit);
    double beyond = fabs(nudge->overshoot * nudge->size_percent);
    if (beyond >= 0.1 * f->tolerance)
        es_text_add(out, " (went %.*f %s too far on the way)", f->decimals, beyond, f->unit);
}

/* --- summary -------------------------------------------------------------------------- */

static void row(FILE *out, const char *name, const char *text)
{
    char first[NAME_WIDE + 4], rest[NAME_WIDE + 4];
    es_text start = es_text_over(first, sizeof first);
    es_text_add(&start, "%-*s ", NAME_WIDE, name);
    es_text blank = es_text_over(rest, sizeof rest);
    es_text_add(&blank, "%*s ", NAME_WIDE, "");
    es_wrap(out, first, rest, text);
}

static void print_reading(FILE *out, const char *name, es_adjust adjust,
                          const es_trim_reading *reading, int final, const char *why_not)
{
    const es_adjust_facts *f = es_adjust_facts_of(adjust);
    int decimals = f->decimals + 1;
    char room[200];
    es_text text = es_text_over(room, sizeof room);
    if (isnan(reading->error_percent)) {
        es_text_add(&text, "- (%s)", why_not);
    } else {
        double size = fabs(reading->error_percent);
        es_text_add(&text, "%+.*f %s", decimals, reading->error_percent, f->unit);
        if (!isnan(reading->u95_percent))
            es_text_add(&text, " +- %.*f %s", decimals, reading->u95_percent, f->unit);
        es_text_add(&text, ", %s, at ",
                    size < 0.5 * pow(10.0, -decimals) ? f->even
                    : reading->error_percent > 0.0    ? f->high
                                                      : f->low);
        es_trim_say_time(&text, reading->time_s);
        es_text_add(&text, "%s", final ? ": the final reading" : "");
    }
    row(out, name, room);
}

static void print_nudges(FILE *out, const es_trim_session *session)
{
    char room[ES_NUDGES_MOST * 48 + 64];
    es_text text = es_text_over(room, sizeof room);
    size_t kept = session->nudge_count < ES_NUDGES_MOST ? session->nudge_count : ES_NUDGES_MOST;
    es_text_add(&text, "%zu", session->nudge_count);
    if (kept < session->nudge_count)
        es_text_add(&text, " (the last %zu)", kept);
    for (size_t i = 0; i < kept; i++) {
        es_text_add(&text, "%s ", i ? "," : ":");
        es_trim_say_nudge(&text, session->adjust, &session->nudges[i]);
    }
    row(out, "Turns", room);
}

static void print_conditions(FILE *out, const es_trim_session *session)
{
    char room[200];
    es_text text = es_text_over(room, sizeof room);
    if (session->adjust != ES_ADJUST_SPEED)
        return;
    if (!isnan(session->nominal_hz))
        es_text_add(&text, "%g Hz as recorded; ", session->nominal_hz);
    if (isnan(session->tape_error_percent))
        es_text_add(&text, "the tape is taken to be right.");
    else
        es_text_add(&text, "the tape's own error of %+.3f %% is taken off.",
                    session->tape_error_percent);
    row(out, "Tone", room);
}

static void print_losses(FILE *out, const es_session_standing *at)
{
    char room[120];
    if (at->gaps == 0)
        return;
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "%llu times, %llu frames that are known of", (unsigned long long)at->gaps,
                (unsigned long long)at->lost_frames);
    row(out, "Input lost", room);
}

void es_trim_print_summary(FILE *out, const es_trim_session *session, const es_session_facts *facts)
{
    const es_session_standing *at = &facts->standing;
    print_reading(out, "As found", session->adjust, &session->as_found, 0,
                  "no steady reading before the first turn");
    print_nudges(out, session);
    print_reading(out, "As left", session->adjust, &session->as_left, session->final,
                  "no steady reading");
    print_conditions(out, session);
    print_losses(out, at);
    if (at->record_path[0])
        row(out, "Recording", at->record_sentence[0] ? at->record_sentence : at->record_path);
}

/* --- cautions ------------------------------------------------------------------------- */

const char *es_trim_caution(int line)
{
    static const char *const lines[] = {
        "With the covers off, mains can be within reach of the trimmer, with the deck",
        "switched off too. Insulated tool, one hand, small turns. Where the rules ask",
        "for a licensed person, or you are unsure, stop and have one do this.",
    };
    return line >= 0 && (size_t)line < sizeof lines / sizeof *lines ? lines[line] : NULL;
}

const char *es_trim_head_caution(es_adjust adjust, int line)
{
    static const char *const heads[] = {
        "Note where the screw stands before you turn it, and seal it afterwards.",
        "No magnetised tool near the head, and no finger on its face.",
    };
    static const char *const levels[] = {
        "Note where the trimmer stands before you turn it, and seal it afterwards."};
    if (adjust == ES_ADJUST_SPEED || line < 0)
        return NULL;
    if (adjust == ES_ADJUST_AZIMUTH)
        return (size_t)line < sizeof heads / sizeof *heads ? heads[line] : NULL;
    return (size_t)line < sizeof levels / sizeof *levels ? levels[line] : NULL;
}

/* --- both channels -------------------------------------------------------------------- */

void es_trim_say_pair(es_text *out, const es_trim_snapshot *now)
{
    const es_pair_view *p = &now->pair;
    if (!p->known)
        return;
    if (now->adjust == ES_ADJUST_AZIMUTH && !isnan(p->delay_us))
        es_text_add(out, "Head %+.1f arcmin, %+.0f deg at 10 kHz, mono %+.1f dB; ", p->angle_arcmin,
                    p->phase_10k_deg, p->sum_db);
    for (int i = 0; i < 2; i++)
        if (isnan(p->level_dbfs[i]))
            es_text_add(out, "%s%s silent", i ? ", " : "", i ? "R" : "L");
        else
            es_text_add(out, "%s%s %.1f dBFS", i ? ", " : "", i ? "R" : "L", p->level_dbfs[i]);
    if (now->adjust == ES_ADJUST_LEVEL && !isnan(p->reference_dbfs))
        es_text_add(out, "; the %s is read against %.1f dBFS", p->channel == 2 ? "right" : "left",
                    p->reference_dbfs);
}
