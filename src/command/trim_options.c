#include "command/trim_options.h"

#include "command/channel.h"
#include "command/ledger_use.h"
#include "command/trim_text.h"
#include "live/text_file.h"

#include <math.h>
#include <string.h>

const es_option es_trim_options[ES_TRIM_OPTIONS] = {
    [ES_TRIM_SOURCE] =
        {"source", 's', ES_OPTION_WORD, "SOURCE",
         "What to listen to: device:NAME (evenspool inputs lists the names; device: alone is the "
         "preferred input), file:PATH, or rehearse:SCENARIO for an imaginary deck.",
         0.0, 0.0, NULL},
    [ES_TRIM_ADJUST] = {"adjust", 0, ES_OPTION_CHOICE, "WHAT",
                        "What is turned: speed, as without it; azimuth, the tilt of the head, from "
                        "both channels of "
                        "a broadband section or a tone; level, the playback level of one channel; "
                        "balance, that of "
                        "the right channel against the left.",
                        0.0, 0.0, "speed|azimuth|level|balance"},
    [ES_TRIM_CLASS] =
        {"class", 0, ES_OPTION_CHOICE, "CLASS",
         "Kind of machine: cassette, microcassette, or reel with its speed in cm/s; without it "
         "that of --deck, or cassette. An azimuth's angle depends on its tracks.",
         0.0, 0.0, "cassette|microcassette|reel-4.76|reel-9.5|reel-19|reel-38|reel-76"},
    [ES_TRIM_TONE] =
        {"tone", 0, ES_OPTION_NUMBER, "HZ",
         "Frequency of the tone as recorded. Without it, the usual test tone nearest to "
         "what is heard.",
         300.0, 153600.0, NULL},
    [ES_TRIM_TAPE_ERROR] = {"tape-error", 0, ES_OPTION_NUMBER, "PERCENT",
                            "Speed error of the deck that recorded the tape, + for fast; taken off "
                            "the reading.",
                            -50.0, 50.0, NULL},
    [ES_TRIM_TAPE_U95] = {"tape-u95", 0, ES_OPTION_NUMBER, "PERCENT",
                          "Expanded uncertainty (95 %, k = 2) of --tape-error, or of 0 without it.",
                          0.0, 50.0, NULL},
    [ES_TRIM_TAPE] =
        {"tape", 0, ES_OPTION_WORD, "NAME",
         "The tape by its name in the records (evenspool trust tape): its certificate is taken off "
         "the reading in place of --tape-error, and its tone is known.",
         0.0, 0.0, NULL},
    [ES_TRIM_DECK] = {"deck", 0, ES_OPTION_WORD, "NAME",
                      "The deck by its name in the records: what was found, the turns and what was "
                      "left are kept "
                      "there as a job; once its speed was turned, that is a new unknown.",
                      0.0, 0.0, NULL},
    [ES_TRIM_ASKED] = {"asked", 0, ES_OPTION_WORD, "TEXT",
                       "What the deck came for, kept with the job.", 0.0, 0.0, NULL},
    [ES_TRIM_RECORDS] = ES_RECORDS_OPTION,
    [ES_TRIM_CLOCK_PPM] = {"clock-ppm", 0, ES_OPTION_NUMBER, "PPM",
                           "Error of the sound card's clock in millionths, + when it samples fast; "
                           "taken off the reading.",
                           -10000.0, 10000.0, NULL},
    [ES_TRIM_TARGET] = {"target", 0, ES_OPTION_NUMBER, "NUMBER",
                        "What is to be reached: speed error in per cent, -10 to 10; delay of the "
                        "right channel in us, -200 to 200; dB, -20 to 20. 0 without it.",
                        -200.0, 200.0, NULL},
    [ES_TRIM_TOLERANCE] = {"tolerance", 0, ES_OPTION_NUMBER, "NUMBER",
                           "How near is near enough, either way: per cent, 0.01 to 5; us, 0.5 to "
                           "100; dB, 0.05 to 6. Without it 0.1 per cent, 5 us, 0.5 dB.",
                           0.01, 100.0, NULL},
    [ES_TRIM_REFERENCE] =
        {"reference", 0, ES_OPTION_NUMBER, "DBFS",
         "With --adjust level: what counts as 0 dB, as the level of a sine. Without "
         "it, what is heard first.",
         -80.0, 20.0, NULL},
    [ES_TRIM_CHANNEL] =
        {"channel", 0, ES_OPTION_WORD, "CHANNEL",
         "Channel to listen to: left, right, a number from 1, or auto for the better "
         "one, which is what happens without it. With --adjust level the channel whose trimmer is "
         "turned, left without it; azimuth and balance take both.",
         0.0, 0.0, "left|right|auto"},
    [ES_TRIM_SECONDS] = {"seconds", 0, ES_OPTION_NUMBER, "SECONDS",
                         "End after so much of the source. Without it, a file or scenario ends "
                         "where it does (a rehearsal in real time not before half an hour), and a "
                         "device goes on.",
                         0.1, 86400.0, NULL},
    [ES_TRIM_UNTIL] = {"until", 0, ES_OPTION_CHOICE, "WHEN",
                       "When to end. there: once the final reading stands, with 1 when it never "
                       "came to that; end: "
                       "when the source does, as without it.",
                       0.0, 0.0, "there|end"},
    [ES_TRIM_UNPACED] = {"unpaced", 0, ES_OPTION_FLAG, NULL,
                         "Run a file or rehearsal as fast as it goes, not in real time.", 0.0, 0.0,
                         NULL},
    [ES_TRIM_RECORD] =
        {"record", 0, ES_OPTION_FILE, "FILE",
         "Keep the raw capture, .wav or .flac; written as it comes, at least once a second.", 0.0,
         0.0, NULL},
    [ES_TRIM_SESSION] = {"session", 0, ES_OPTION_FILE, "FILE",
                         "Write what was found, the turns, the course and what was left as JSON at "
                         "the end.",
                         0.0, 0.0, NULL},
    [ES_TRIM_FORCE] = {"force", 0, ES_OPTION_FLAG, NULL, "Replace files that are there already.",
                       0.0, 0.0, NULL},
    [ES_TRIM_SOUND] =
        {"sound", 0, ES_OPTION_CHOICE, "SOUND",
         "By ear: reference is the tone that the tape would give on a true deck; beat is the "
         "error, "
         "enlarged ten times, as beats; guide ticks slower the nearer it is, high for fast and low "
         "for slow, a steady note means there; none, as without it.",
         0.0, 0.0, "none|reference|beat|guide"},
    [ES_TRIM_SOUND_LEVEL] = {"sound-level", 0, ES_OPTION_NUMBER, "DB",
                             "How loud that is, in dB of full scale; -24 without it.", -80.0, -12.0,
                             NULL},
    [ES_TRIM_OUTPUT] = {"output", 0, ES_OPTION_WORD, "NAME",
                        "Where it is heard; the preferred output without it.", 0.0, 0.0, NULL},
    [ES_TRIM_JSON] = {"json", 0, ES_OPTION_FLAG, NULL,
                      "Print one snapshot a line as JSON, 20 a second of the source's time.", 0.0,
                      0.0, NULL},
    [ES_TRIM_COLOR] = {"color", 0, ES_OPTION_CHOICE, "WHEN",
                       "Emphasis on the screen: auto (not with NO_COLOR), always or never.", 0.0,
                       0.0, "auto|always|never"},
};

static double number_or(const es_option_value *value, double otherwise)
{
    return value->given ? value->number : otherwise;
}

static es_status copy_text(const char *name, const char *from, char *to, size_t room,
                           es_error *error)
{
    size_t length = from ? strlen(from) : 0;
    to[0] = '\0';
    if (length >= room)
        return es_fail(error, ES_ERR_ARG, "usage", "--%s is too long; %zu characters are the most.",
                       name, room - 1);
    if (from)
        memcpy(to, from, length + 1);
    return ES_OK;
}

static es_session_config settings_of(const es_option_value *v)
{
    es_session_config c = es_session_defaults();
    if (v[ES_TRIM_ADJUST].given) /* one of the choices */
        (void)es_adjust_from_name(v[ES_TRIM_ADJUST].text, &c.adjust);
    c.tolerance_percent = es_adjust_facts_of(c.adjust)->tolerance;
    c.reference_dbfs = v[ES_TRIM_REFERENCE].number;
    c.nominal_hz = number_or(&v[ES_TRIM_TONE], 0.0);
    c.tape_error_percent = v[ES_TRIM_TAPE_ERROR].number;
    c.tape_u95_percent = v[ES_TRIM_TAPE_U95].number;
    c.clock_ppm = v[ES_TRIM_CLOCK_PPM].number;
    c.target_percent = number_or(&v[ES_TRIM_TARGET], c.target_percent);
    c.tolerance_percent = number_or(&v[ES_TRIM_TOLERANCE], c.tolerance_percent);
    c.unpaced = v[ES_TRIM_UNPACED].given;
    c.seconds = v[ES_TRIM_SECONDS].number;
    c.record_replace = v[ES_TRIM_FORCE].given;
    return c;
}

static es_status judge_figure(const es_option_value *v, const char *name, double least, double most,
                              const es_adjust_facts *f, es_error *error)
{
    if (!v->given || (v->number >= least && v->number <= most))
        return ES_OK;
    return es_fail(error, ES_ERR_ARG, "usage",
                   "--%s wants a number from %g to %g %s when the %s is adjusted, not %g.", name,
                   least, most, f->unit, f->name, v->number);
}

/* What only the speed has, or only the level. */
static es_status judge_adjust(es_adjust adjust, const es_option_value *v, es_error *error)
{
    static const int of_speed[] = {ES_TRIM_TONE, ES_TRIM_TAPE_ERROR, ES_TRIM_TAPE_U95, ES_TRIM_TAPE,
                                   ES_TRIM_CLOCK_PPM};
    const es_adjust_facts *f = es_adjust_facts_of(adjust);
    for (size_t i = 0; adjust != ES_ADJUST_SPEED && i < sizeof of_speed / sizeof *of_speed; i++)
        if (v[of_speed[i]].given)
            return es_fail(error, ES_ERR_ARG, "usage",
                           "--%s is for the speed; leave it out with "
                           "--adjust %s.",
                           es_trim_options[of_speed[i]].name, f->name);
    if (v[ES_TRIM_REFERENCE].given && adjust != ES_ADJUST_LEVEL)
        return es_fail(error, ES_ERR_ARG, "usage", "--reference is for --adjust level.");
    if (v[ES_TRIM_CHANNEL].given && (adjust == ES_ADJUST_AZIMUTH || adjust == ES_ADJUST_BALANCE))
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--adjust %s takes both channels; leave out --channel.", f->name);
    es_status status =
        judge_figure(&v[ES_TRIM_TARGET], "target", -f->target_most, f->target_most, f, error);
    return status == ES_OK ? judge_figure(&v[ES_TRIM_TOLERANCE], "tolerance", f->tolerance_least,
                                          f->tolerance_most, f, error)
                           : status;
}

static es_status judge_records(const es_option_value *v, es_error *error)
{
    if (v[ES_TRIM_TAPE].given && (v[ES_TRIM_TAPE_ERROR].given || v[ES_TRIM_TAPE_U95].given))
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--tape takes the tape's error from the records; leave out --%s.",
                       v[ES_TRIM_TAPE_ERROR].given ? "tape-error" : "tape-u95");
    if (v[ES_TRIM_RECORDS].given && !v[ES_TRIM_TAPE].given && !v[ES_TRIM_DECK].given)
        return es_fail(error, ES_ERR_ARG, "usage", "--records is for --tape and --deck; name one.");
    if (v[ES_TRIM_ASKED].given && !v[ES_TRIM_DECK].given)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--asked is kept with a deck's job; add --deck.");
    return ES_OK;
}

static es_status judge(const es_trim_asked *asked, const es_option_value *v, es_error *error)
{
    const char *source = asked->session.source;
    const char *record = v[ES_TRIM_RECORD].text, *session = asked->session_path;
    int sound_settings = v[ES_TRIM_SOUND_LEVEL].given || v[ES_TRIM_OUTPUT].given;
    if (!source[0])
        return es_fail(error, ES_ERR_ARG, "usage",
                       "Say what to listen to: --source device:NAME, file:PATH or "
                       "rehearse:SCENARIO.");
    if (asked->sound > 0 && asked->session.unpaced)
        return es_fail(error, ES_ERR_ARG, "usage", "--sound needs real time; leave out --unpaced.");
    if (sound_settings && asked->sound == 0)
        return es_fail(error, ES_ERR_ARG, "usage", "--%s is for a --sound; choose one.",
                       v[ES_TRIM_OUTPUT].given ? "output" : "sound-level");
    if (v[ES_TRIM_FORCE].given && !record && !session)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--force is for --record and --session; name one.");
    if (record && strncmp(source, "file:", 5) == 0 && es_same_file(record, source + 5))
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--record names the source itself, which would be lost; name another file.");
    if (record && session && strcmp(record, session) == 0)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--record and --session name the same file; name two.");
    return ES_OK;
}

es_status es_trim_ask(const es_arguments *a, es_trim_asked *out, es_error *error)
{
    const es_option_value *v = a->values;
    *out = (es_trim_asked){
        .session = settings_of(v),
        .deck = v[ES_TRIM_DECK].text,
        .tape = v[ES_TRIM_TAPE].text,
        .asked = v[ES_TRIM_ASKED].text,
        .records = v[ES_TRIM_RECORDS].text,
        .until_there = v[ES_TRIM_UNTIL].given && strcmp(v[ES_TRIM_UNTIL].text, "there") == 0,
        .json = v[ES_TRIM_JSON].given,
        .sound = v[ES_TRIM_SOUND].given ? es_trim_sound_named(v[ES_TRIM_SOUND].text) : 0,
        .sound_level_db = number_or(&v[ES_TRIM_SOUND_LEVEL], -24.0),
        .output = v[ES_TRIM_OUTPUT].given ? v[ES_TRIM_OUTPUT].text : "",
        .session_path = v[ES_TRIM_SESSION].text,
        .colour = v[ES_TRIM_COLOR].text,
        .force = v[ES_TRIM_FORCE].given};
    es_session_config *c = &out->session;
    es_status status = es_channel_read(v[ES_TRIM_CHANNEL].text, &c->channel, error);
    if (status == ES_OK)
        status = copy_text("source", v[ES_TRIM_SOURCE].text, c->source, sizeof c->source, error);
    if (status == ES_OK)
        status =
            copy_text("class", v[ES_TRIM_CLASS].text, c->transport, sizeof c->transport, error);
    if (status == ES_OK)
        status = copy_text("record", v[ES_TRIM_RECORD].text, c->record_path, sizeof c->record_path,
                           error);
    if (status == ES_OK)
        status = judge_adjust(c->adjust, v, error);
    if (status == ES_OK)
        status = judge_records(v, error);
    return status == ES_OK ? judge(out, v, error) : status;
}
