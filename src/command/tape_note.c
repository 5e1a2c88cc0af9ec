#include "command/tape_note.h"

#include "command/figure.h"
#include "command/say.h"
#include "evenspool/base/cue_sheet.h"
#include "evenspool/base/text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define ROW_ROOM 160

static void heading(const es_paint *paint, const char *text)
{
    fputc('\n', paint->out);
    es_paint_text(paint, ES_STRONG, text);
    fputc('\n', paint->out);
}

/* --- rows ---------------------------------------------------------------------------------- */

/* "  name                 -0.12    +0.10 dB   remark": one figure for each channel. */
static void row(const es_paint *paint, const char *name, const double *value, size_t count,
                int decimals, int sign, const char *unit, const char *remark)
{
    char room[ROW_ROOM];
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "  %-22s", name);
    for (size_t c = 0; c < count; c++) {
        es_text_add(&text, " ");
        if (isfinite(value[c]))
            es_figure_add(&text, value[c], decimals, sign);
        else
            es_text_add(&text, "%8s", "-");
    }
    es_text_add(&text, " %s", unit);
    if (remark[0])
        es_text_add(&text, "   %s", remark);
    fprintf(paint->out, "%s\n", room);
}

static void row1(const es_paint *paint, const char *name, double value, int decimals, int sign,
                 const char *unit, const char *remark)
{
    row(paint, name, &value, 1, decimals, sign, unit, remark);
}

static const char *plus_minus(char *room, size_t size, double u95, int decimals, const char *more)
{
    es_text text = es_text_over(room, size);
    double least = pow(10.0, -decimals);
    if (isfinite(u95))
        es_text_add(&text, u95 < 0.5 * least ? "+- < %.*f%s%s" : "+- %.*f%s%s", decimals,
                    u95 < 0.5 * least ? least : u95, more[0] ? ", " : "", more);
    else
        es_text_add(&text, "%s", more);
    return room;
}

/* --- verdicts -------------------------------------------------------------------------------- */

static void print_verdicts(const es_paint *paint, const es_tape_result *r)
{
    static const char *const words[] = {[ES_VERDICT_LOOK_FIRST] = "look first",
                                        [ES_VERDICT_ADJUST] = "ADJUST",
                                        [ES_VERDICT_LEAVE] = "leave"};
    heading(paint, "What to do");
    for (size_t i = 0; i < r->verdict_count; i++) {
        const es_tape_verdict *v = &r->verdicts[i];
        char first[64];
        es_text text = es_text_over(first, sizeof first);
        es_text_add(&text, "  %-13s %-11s ", v->what, words[v->verdict]);
        es_wrap(paint->out, first, "                            ", v->text);
    }
}

static int to_adjust(const es_tape_result *r, const char *what)
{
    for (size_t i = 0; i < r->verdict_count; i++)
        if (r->verdicts[i].verdict == ES_VERDICT_ADJUST &&
            (!what || strcmp(r->verdicts[i].what, what) == 0))
            return 1;
    return 0;
}

static void print_cautions(const es_paint *paint, const es_tape_result *r)
{
    if (!to_adjust(r, NULL))
        return;
    heading(paint, "Before you open the deck");
    es_wrap(paint->out, "  ", "  ",
            "Mains voltage may be a finger's breadth from what you turn. Use a tool that does not "
            "conduct, keep one hand away, and make small turns. The rules where you live come "
            "first: where they ask for a licensed person, or where you are unsure, let such a "
            "person do it.");
    if (to_adjust(r, "azimuth"))
        es_wrap(paint->out, "  ", "  ",
                "The azimuth screw stands beside the head: use a driver that is not magnetic, note "
                "where the screw stands before the first turn, turn a little at a time, and seal "
                "it afterwards.");
}

/* --- figures ----------------------------------------------------------------------------------- */

static void print_speed(const es_paint *paint, const es_tape_result *r)
{
    char more[64];
    heading(paint, "Speed");
    if (!r->speed_known) {
        fprintf(paint->out, "  Not known: no section for speed was heard.\n");
        return;
    }
    const es_speed_facts *s = &r->check.speed;
    const es_flutter_facts *f = &r->check.flutter;
    row1(
        paint, "error", s->error_percent, 3, 1, "%",
        plus_minus(more, sizeof more, s->u95_percent, 3, s->error_percent < 0.0 ? "slow" : "fast"));
    row1(paint, "drift", s->drift_percent_per_min, 3, 1, "%/min", "");
    row1(paint, "at the start", s->start_percent, 3, 1, "%", "");
    row1(paint, "at the end", s->end_percent, 3, 1, "%", "");
    row1(paint, "tape's own error", s->tape_error_percent, 3, 1, "%",
         isnan(s->tape_error_percent) ? "not given (--tape, --tape-error)" : "taken off");
    row1(paint, "wow and flutter", f->weighted_two_sigma_percent, 3, 0, "%",
         f->reliable ? "weighted, two-sigma" : "weighted, two-sigma; not reliable");
    row1(paint, "", f->weighted_quasi_peak_percent, 3, 0, "%", "weighted, quasi-peak");
    row1(paint, "", f->unweighted_rms_percent, 3, 0, "%", "unweighted, rms");
}

static void print_azimuth(const es_paint *paint, const es_tape_result *r)
{
    static const char *const polarity[] = {"not known", "the same", "opposed"};
    const es_tape_azimuth *a = &r->azimuth;
    char more[64];
    if (r->channel_count < 2)
        return;
    heading(paint, "Azimuth");
    if (!a->known) {
        fprintf(paint->out, "  Not known: its sections were not heard in both channels.\n");
        return;
    }
    row1(paint, "right is later by", a->delay_us, 2, 1, "us",
         plus_minus(more, sizeof more, a->u95_us, 2, a->sure ? "" : "or whole turns off"));
    row1(paint, "angle", a->angle_arcmin, 2, 1, "arcmin",
         plus_minus(more, sizeof more, a->u95_arcmin, 2, ""));
    row1(paint, "phase at 10 kHz", a->phase_10k_deg, 1, 1, "deg", "");
    row1(paint, "loss at 10 kHz", a->loss_10k_db, 2, 0, "dB", "in each track");
    row1(paint, "", a->sum_loss_10k_db, 2, 0, "dB", "in the sum of both");
    fprintf(paint->out, "  polarity                %s\n", polarity[r->polarity]);
}

typedef double figure_of(const es_tape_channel *channel);

static double level(const es_tape_channel *c)
{
    return c->level_db;
}
static double level_error(const es_tape_channel *c)
{
    return c->level_error_db;
}
static double unweighted(const es_tape_channel *c)
{
    return c->noise.unweighted;
}
static double a_weighted(const es_tape_channel *c)
{
    return c->noise.a;
}
static double itu468(const es_tape_channel *c)
{
    return c->noise.itu468;
}
static double itu468_peak(const es_tape_channel *c)
{
    return c->noise.itu468_peak;
}
static double level_3_percent(const es_tape_channel *c)
{
    return c->level_3_percent_db;
}

static void channels_row(const es_paint *paint, const es_tape_result *r, const char *name,
                         figure_of *of, int decimals, int sign, const char *unit,
                         const char *remark)
{
    double value[ES_TAPE_CHANNELS];
    for (size_t c = 0; c < r->channel_count; c++)
        value[c] = of(&r->channels[c]);
    row(paint, name, value, r->channel_count, decimals, sign, unit, remark);
}

/* "Response (dB ...)" and, over the figures, which column is which. */
static void channels_heading(const es_paint *paint, const es_tape_result *r, const char *text)
{
    heading(paint, text);
    if (r->channel_count == 2)
        fprintf(paint->out, "  %-22s     left    right\n", "");
}

static void print_levels(const es_paint *paint, const es_tape_result *r)
{
    char more[64];
    channels_heading(paint, r, "Level");
    channels_row(paint, r, "reference level", level, 2, 1, "dB", "re full scale, peak of the sine");
    channels_row(paint, r, "against what it should", level_error, 2, 1, "dB",
                 isnan(r->channels[0].level_error_db) ? "not given (--level)" : "");
    if (r->channel_count == 2)
        row1(paint, "right louder by", r->balance_db, 2, 1, "dB",
             plus_minus(more, sizeof more, r->balance_u95_db, 2, ""));
}

static void points_row(const es_paint *paint, const es_tape_result *r, size_t i, int separation)
{
    double value[ES_TAPE_CHANNELS], hz = (double)NAN;
    char name[32];
    int least = 0;
    for (size_t c = 0; c < r->channel_count; c++) {
        const es_tape_channel *ch = &r->channels[c];
        const es_tape_point *p = separation ? &ch->separation[i] : &ch->response[i];
        int there = i < (separation ? ch->separation_count : ch->response_count);
        value[c] = there ? p->db : (double)NAN;
        if (there) {
            hz = p->hz;
            least |= p->limit;
        }
    }
    es_text text = es_text_over(name, sizeof name);
    es_text_add(&text, "%8g Hz", hz);
    row(paint, name, value, r->channel_count, separation ? 1 : 2, !separation, "dB",
        least ? "or more: only noise was heard" : "");
}

static void print_response(const es_paint *paint, const es_tape_result *r)
{
    if (r->channels[0].response_count == 0)
        return;
    channels_heading(paint, r, "Response (against the first tone)");
    for (size_t i = 0; i < r->channels[0].response_count; i++)
        points_row(paint, r, i, 0);
    es_wrap(paint->out, "  ", "  ", r->tape_share);
    if (r->equalisation_hint[0])
        es_wrap(paint->out, "  ", "  ", r->equalisation_hint);
}

static void print_noise(const es_paint *paint, const es_tape_result *r)
{
    if (isnan(r->channels[0].noise.a) && isnan(r->channels[1].noise.a))
        return;
    channels_heading(paint, r, "Noise (against the reference level)");
    channels_row(paint, r, "unweighted", unweighted, 1, 1, "dB", "20 Hz to 20 kHz, rms");
    channels_row(paint, r, "A-weighted", a_weighted, 1, 1, "dB", "IEC 61672-1, rms");
    channels_row(paint, r, "468-weighted", itu468, 1, 1, "dB", "ITU-R BS.468, rms");
    channels_row(paint, r, "", itu468_peak, 1, 1, "dB", "the same, quasi-peak");
    for (size_t c = 0; c < r->channel_count; c++)
        for (size_t i = 0; i < r->channels[c].hum_count && i < 3; i++) {
            const char *side = c == 0 ? "left" : "right";
            const es_tape_hum *h = &r->channels[c].hum[i];
            fprintf(paint->out, "  hum, %-5s %10.1f Hz %+8.1f dB   %d x %g Hz mains\n", side, h->hz,
                    h->db, h->multiple, h->mains_hz);
        }
}

static void print_distortion(const es_paint *paint, const es_tape_result *r)
{
    if (r->channels[0].third_harmonic_count == 0)
        return;
    channels_heading(paint, r, "Third harmonic (levels against the reference level)");
    for (size_t i = 0; i < r->channels[0].third_harmonic_count; i++) {
        double value[ES_TAPE_CHANNELS];
        char name[32];
        int under = 0;
        es_text text = es_text_over(name, sizeof name);
        es_text_add(&text, "%+8g dB", r->channels[0].third_harmonic[i].level_db);
        for (size_t c = 0; c < r->channel_count; c++) {
            const es_tape_harmonic *h = &r->channels[c].third_harmonic[i];
            int noise = isnan(h->percent) && isfinite(h->floor_percent);
            value[c] = noise ? h->floor_percent : h->percent;
            under |= noise;
        }
        row(paint, name, value, r->channel_count, 2, 0, "%",
            under ? "or less: only noise was heard" : "");
    }
    channels_row(paint, r, "3 % at", level_3_percent, 1, 1, "dB",
                 isnan(r->channels[0].level_3_percent_db) ? "not reached" : "");
}

static void print_separation(const es_paint *paint, const es_tape_result *r)
{
    size_t count = r->channels[0].separation_count;
    if (r->channel_count == 2 && r->channels[1].separation_count > count)
        count = r->channels[1].separation_count;
    if (count == 0)
        return;
    heading(paint, "Separation");
    fprintf(paint->out, "  %-22s  left to right to\n  %-22s    right     left\n", "", "");
    for (size_t i = 0; i < count; i++)
        points_row(paint, r, i, 1);
}

static void print_course(const es_paint *paint, const es_tape_result *r)
{
    const es_tape_again *again = &r->again;
    double dropouts[ES_TAPE_CHANNELS];
    for (size_t c = 0; c < r->channel_count; c++)
        dropouts[c] = r->channels[c].dropouts.count;
    channels_heading(paint, r, "Along the side");
    if (isfinite(again->level_db[0]))
        row(paint, "level, later", again->level_db, r->channel_count, 2, 1, "dB", "");
    if (isfinite(again->treble_db[0]))
        row(paint, "treble, later", again->treble_db, r->channel_count, 2, 1, "dB", "");
    if (isfinite(again->delay_us))
        row1(paint, "azimuth, later", again->delay_us, 2, 1, "us", "");
    row(paint, "dropouts", dropouts, r->channel_count, 0, 0, "", "");
}

/* --- what was heard ------------------------------------------------------------------------------- */

static void print_sections(const es_paint *paint, const es_tape_result *r)
{
    heading(paint, "Sections");
    for (size_t i = 0; i < r->section_count; i++) {
        const es_tape_section *s = &r->sections[i];
        char times[40] = "";
        es_text text = es_text_over(times, sizeof times);
        if (s->kind == ES_SECTION_LEADER)
            continue;
        if (isfinite(s->start_s))
            es_text_add(&text, "%8.1f to %8.1f s", s->start_s, s->end_s);
        fprintf(paint->out, "  %-24s %-22s %s%s\n", s->name, times,
                !s->found                         ? "not heard"
                : s->steps_heard == s->step_count ? "heard"
                                                  : "heard in part",
                s->found && !s->marker ? ", its marker not" : "");
    }
}

static void print_warnings(const es_paint *paint, const es_notes *warnings)
{
    if (warnings->count)
        heading(paint, "Mind");
    for (size_t i = 0; i < warnings->count; i++)
        es_wrap(paint->out, "  * ", "    ", warnings->at[i].text);
}

void es_tape_note_print(const es_paint *paint, const char *file, const es_tape_result *r)
{
    char shown[1024];
    es_paint_text(paint, ES_STRONG, es_shown(es_input_name(file), shown, sizeof shown));
    fprintf(paint->out, "\n\n  Programme %s, side %c.%s%s\n", r->programme,
            es_side_letter((size_t)r->side - 1), r->bias[0] ? " Bias: " : "", r->bias);
    print_verdicts(paint, r);
    print_cautions(paint, r);
    print_warnings(paint, &r->warnings);
    print_speed(paint, r);
    print_azimuth(paint, r);
    print_levels(paint, r);
    print_response(paint, r);
    print_noise(paint, r);
    print_distortion(paint, r);
    print_separation(paint, r);
    print_course(paint, r);
    print_sections(paint, r);
}

/* --- bias -------------------------------------------------------------------------------------------- */

static double treble_of(const es_tape_result *r)
{
    double left = r->treble_db[0], right = r->channel_count == 2 ? r->treble_db[1] : (double)NAN;
    return isnan(right) ? left : isnan(left) ? right : 0.5 * (left + right);
}

void es_tape_note_bias(const es_paint *paint, const es_tape_result *const *results, size_t count)
{
    const es_tape_result *best = NULL;
    heading(paint, "Bias: treble against the first tone");
    fprintf(paint->out, "  %-22s     left    right\n", "");
    for (size_t i = 0; i < count; i++) {
        const es_tape_result *r = results[i];
        row(paint, r->bias, r->treble_db, r->channel_count, 2, 1, "dB", "");
        double treble = fabs(treble_of(r));
        if (isfinite(treble) && (!best || treble < fabs(treble_of(best))))
            best = r;
    }
    if (best)
        fprintf(paint->out, "  Nearest to flat: %s. More bias takes treble away.\n", best->bias);
}
