/* What the person must know beside the figures: warnings, whose share is whose, what it looks like. */
#include "task/tape_report.h"

#include "evenspool/base/cue_sheet.h"
#include "evenspool/base/text.h"
#include "evenspool/base/units.h"

#include <math.h>
#include <string.h>

#define HINT_LEAST_DB 1.5 /* deviations smaller than this give no hint              */
#define HINT_BETTER 0.4   /* a mismatch must leave no more than this of the rms     */
#define QUIET_DBFS (-40.0)
#define CLIPPED_PERCENT 0.001

/* --- tape's share --------------------------------------------------------------------------- */

static void say_share(es_tape_result *result)
{
    es_text text = es_text_over(result->tape_share, sizeof result->tape_share);
    if (result->tape_share_known)
        es_text_add(&text, "What the recording deck did to the tape is taken off, by the earlier "
                           "reading: the response is this deck's alone.");
    else if (result->recorded_here)
        es_text_add(&text, "This deck recorded the tape: response, level and distortion are those "
                           "of recording and playing together, and its speed error cancels.");
    else
        es_text_add(&text, "Whose share is whose is not known: response, level, azimuth and "
                           "distortion are those of the recording deck, the tape and this deck "
                           "together. Compare with a reading of the same tape on a deck that is "
                           "known to be flat (--recorded-response).");
}

/* --- equalisation ------------------------------------------------------------------------------ */

static double rms_against(const es_tape_channel *channel, const es_equalisation *tape,
                          const es_equalisation *played)
{
    double sum = 0.0, ref_hz = channel->response[0].hz;
    size_t count = 0;
    for (size_t i = 1; i < channel->response_count; i++) {
        const es_tape_point *p = &channel->response[i];
        double model = es_equalisation_mismatch_db(*tape, *played, p->hz, ref_hz);
        if (isnan(p->db) || p->hz > 12500.0)
            continue;
        sum += (p->db - model) * (p->db - model);
        count++;
    }
    return count ? sqrt(sum / (double)count) : (double)NAN;
}

/* The replay equalisation, of those a machine of the class may have, that explains the response best. */
static void hint_at_equalisation(es_tape_result *result)
{
    const es_tape_channel *channel = &result->channels[0];
    es_equalisation tape;
    if (channel->response_count == 0 ||
        es_equalisation_from_name(result->equalisation, &tape) != ES_OK)
        return;
    int cassette = strcmp(result->transport, "cassette") == 0;
    double flat = rms_against(channel, &tape, &tape), least = HINT_BETTER * flat;
    const char *name = NULL;
    for (size_t i = 0; i < es_equalisation_count(); i++) {
        es_equalisation e;
        const char *other = es_equalisation_name(i);
        int for_cassette = strcmp(other, "120") == 0 || strcmp(other, "70") == 0;
        if (for_cassette != cassette || es_equalisation_from_name(other, &e) != ES_OK)
            continue;
        double rms = rms_against(channel, &tape, &e);
        if (rms < least) {
            least = rms;
            name = other;
        }
    }
    if (!name || !(flat > HINT_LEAST_DB))
        return;
    es_text text = es_text_over(result->equalisation_hint, sizeof result->equalisation_hint);
    es_text_add(&text,
                "The response looks like a tape made for %s that is played with the equalisation "
                "%s: look at the tape type switch, on the recording deck too.",
                result->equalisation, name);
}

/* --- warnings ----------------------------------------------------------------------------------- */

static void warn_of_markers(const es_tape_read *r, es_notes *to)
{
    if (r->config.programme && es_programme_id(&r->given) != r->course.id)
        es_notes_add(to, "other-programme",
                     "The tape holds the programme %s, not %s that was named; it was measured by "
                     "what it holds.",
                     r->course.programme.name, r->given.name);
    if (r->label[0] && strcmp(r->label, r->course.programme.name) != 0)
        es_notes_add(
            to, "other-tape",
            "The records say that this tape holds the programme %s, but it holds %s: is it "
            "the tape that was named?",
            r->label, r->course.programme.name);
    if (r->foreign || r->strange)
        es_notes_add(to, "foreign-marker",
                     "%d marker%s of another programme %s heard as well and left out.",
                     r->foreign + r->strange, r->foreign + r->strange == 1 ? "" : "s",
                     r->foreign + r->strange == 1 ? "was" : "were");
    if (r->other_side)
        es_notes_add(to, "other-side",
                     "The other side of the tape was heard as well; only side %c was measured: "
                     "capture each side by itself.",
                     es_side_letter(r->course.side));
    if (r->jumps)
        es_notes_add(to, "interrupted",
                     "The tape did not run through: it was stopped or wound %s. What was heard is "
                     "measured.",
                     r->jumps == 1 ? "once" : "more than once");
}

static void warn_of_other_sound(const es_tape_read *r, const es_tape_result *result, es_notes *to)
{
    for (size_t i = 0; i < result->section_count; i++)
        if (r->part[i].steps_heard && !es_tape_part_is_sound(&r->part[i]))
            es_notes_add(to, "not-as-planned",
                         "Where the section %s should be, something else was heard.",
                         result->sections[i].name);
}

static void list_missing(const es_tape_result *result, es_notes *to)
{
    char list[200];
    es_text text = es_text_over(list, sizeof list);
    size_t missing = 0, partly = 0;
    for (size_t i = 0; i < result->section_count; i++) {
        const es_tape_section *s = &result->sections[i];
        int needs_two =
            s->kind == ES_SECTION_AZIMUTH_TONES || s->kind == ES_SECTION_AZIMUTH_BROADBAND;
        if (s->kind == ES_SECTION_LEADER || (needs_two && result->channel_count < 2))
            continue;
        if (s->found && s->steps_heard < s->step_count)
            partly++;
        if (s->found)
            continue;
        es_text_add(&text, "%s%s", missing ? ", " : "", s->name);
        missing++;
    }
    if (missing)
        es_notes_add(to, "sections-missing", "Not heard: %s.", list);
    if (partly)
        es_notes_add(to, "sections-in-part", "Of %zu section%s only a part was heard.", partly,
                     partly == 1 ? "" : "s");
}

static void warn_of_channels(const es_tape_read *r, const es_tape_level level[ES_TAPE_CHANNELS],
                             const es_tape_result *result, es_notes *to)
{
    static const char *const names[] = {"left", "right"};
    if (r->channels < 2)
        es_notes_add(to, "mono",
                     "The capture has one channel: azimuth, balance, separation and polarity can't "
                     "be seen.");
    for (size_t c = 0; c < r->channels; c++) {
        if (!level[c].known && r->channels == 2 && level[1 - c].known)
            es_notes_add(to, c ? "right-dead" : "left-dead",
                         "Nothing of the programme comes through the %s channel: look at the "
                         "cable, then at the deck.",
                         names[c]);
        if (result->channels[c].clipped_percent > CLIPPED_PERCENT)
            es_notes_add(to, "clipped",
                         "%.2g %% of the samples are at full scale: turn the input down and "
                         "record again.",
                         result->channels[c].clipped_percent);
        if (result->channels[c].level_db < QUIET_DBFS)
            es_notes_add(to, "quiet",
                         "The reference level is only at %.0f dB full scale: turn the input up.",
                         result->channels[c].level_db);
    }
    if (result->swapped)
        es_notes_add(to, "swapped",
                     "Left and right are swapped: what the tape has on the left comes on the "
                     "right. Look at the cables.");
    if (r->config.channels > 2)
        es_notes_add(to, "more-channels", "Of %d channels the first two were measured.",
                     r->config.channels);
}

static void warn_of_reference(const es_tape_read *r, const es_tape_level level[ES_TAPE_CHANNELS],
                              es_notes *to)
{
    for (size_t c = 0; c < r->channels; c++)
        if (level[c].known && level[c].kind != ES_SECTION_LEVEL)
            es_notes_add(to, "reference-elsewhere",
                         "The section for the reference level was not heard: its level was taken "
                         "from %s.",
                         level[c].kind == ES_SECTION_DISTORTION ? "the stepped levels"
                                                                : "the response's first tone");
}

void es_tape_report_words(const es_tape_read *r, const es_tape_level level[ES_TAPE_CHANNELS],
                          es_tape_result *result)
{
    es_notes *to = &result->warnings;
    say_share(result);
    hint_at_equalisation(result);
    warn_of_markers(r, to);
    warn_of_other_sound(r, result, to);
    list_missing(result, to);
    warn_of_channels(r, level, result, to);
    warn_of_reference(r, level, to);
    for (size_t i = 0; result->speed_known && i < result->check.warnings.count; i++) {
        const es_note *note = &result->check.warnings.at[i];
        if (strcmp(note->code, "clipped") != 0 && strcmp(note->code, "quiet") != 0)
            es_notes_add(to, note->code, "%s", note->text);
    }
}
