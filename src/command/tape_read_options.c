#include "command/tape_read_options.h"

#include "command/check_options.h"
#include "command/ledger_use.h"
#include "command/programme_option.h"
#include "command/say.h"
#include "evenspool/base/text.h"
#include "live/small_file.h"
#include "live/text_file.h"
#include "json/tape_json.h"

#include <stdlib.h>
#include <string.h>

#define READING_MOST ((size_t)1 << 20)

const es_option es_tape_read_options[ES_TAPE_READ_OPTIONS] = {
    [ES_TAPE_READ_SOURCE] =
        {"source", 's', ES_OPTION_WORD, "SOURCE",
         "Instead of a capture: listen to device:NAME while the tape plays (evenspool inputs "
         "lists the names; device: alone is the preferred input), or to file:PATH in the "
         "same way, or to rehearse:SCENARIO, an imaginary deck that plays side a of --programme "
         "(evenspool rehearse --list names scenarios).",
         0.0, 0.0, NULL},
    [ES_TAPE_READ_UNPACED] = {"unpaced", 0, ES_OPTION_FLAG, NULL,
                              "With --source file: or rehearse: run it as fast as it goes, not in "
                              "real time.",
                              0.0, 0.0, NULL},
    [ES_TAPE_READ_RECORD] =
        {"record", 0, ES_OPTION_FILE, "FILE",
         "With --source: keep the raw capture, .wav or .flac; written as it comes, at least "
         "once a second.",
         0.0, 0.0, NULL},
    [ES_TAPE_READ_FORCE] = {"force", 0, ES_OPTION_FLAG, NULL,
                            "With --record: replace a file that is there already.", 0.0, 0.0, NULL},
    [ES_TAPE_READ_DECK] =
        {"deck", 'd', ES_OPTION_WORD, "NAME",
         "The deck by its name in the records: the reading is kept there with the capture's "
         "hash, and the deck's sizes help to name the part behind a swing.",
         0.0, 0.0, NULL},
    [ES_TAPE_READ_TAPE] =
        {"tape", 't', ES_OPTION_WORD, "NAME",
         "The tape by the name under which it is kept in the records: its certificate is "
         "taken off the speed.",
         0.0, 0.0, NULL},
    [ES_TAPE_READ_RECORDS] = ES_RECORDS_OPTION,
    [ES_TAPE_READ_TAPE_ERROR] =
        {"tape-error", 0, ES_OPTION_NUMBER, "PERCENT",
         "Instead of --tape: speed error of the deck that recorded it, + for fast.", -50.0, 50.0,
         NULL},
    [ES_TAPE_READ_TAPE_U95] =
        {"tape-u95", 0, ES_OPTION_NUMBER, "PERCENT",
         "Expanded uncertainty (95 %, k = 2) of --tape-error, or of 0 without it.", 0.0, 50.0,
         NULL},
    [ES_TAPE_READ_CLOCK_PPM] =
        {"clock-ppm", 0, ES_OPTION_NUMBER, "PPM",
         "Error of the sound card's clock in millionths, + when it samples fast; taken "
         "off the result.",
         -10000.0, 10000.0, NULL},
    [ES_TAPE_READ_PROGRAMME] =
        {"programme", 'p', ES_OPTION_WORD, "NAME|FILE",
         "Programme of your own that the tape may hold; the built-in ones are known by "
         "their markers. With --source rehearse: the one to play; that of the deck's class "
         "without it.",
         0.0, 0.0, ES_PROGRAMME_CHOICES},
    [ES_TAPE_READ_LIMITS] =
        {"limits", 0, ES_OPTION_WORD, "NAME|FILE",
         "Limits that the figures are held against: cassette, reel, or a file of your own; "
         "without it what is usual for the class.",
         0.0, 0.0, "cassette|reel"},
    [ES_TAPE_READ_LEVEL] =
        {"level", 0, ES_OPTION_NUMBER, "DBFS",
         "What the tape's reference level should read, the peak of the sine against full "
         "scale, by a tape that is known.",
         -80.0, 20.0, NULL},
    [ES_TAPE_READ_RECORDED_RESPONSE] =
        {"recorded-response", 0, ES_OPTION_FILE, "FILE",
         "An earlier reading (--json) of the same tape on a deck that plays "
         "flat: what it shows is the tape's share, which is taken off.",
         0.0, 0.0, NULL},
    [ES_TAPE_READ_RECORDED_HERE] =
        {"recorded-here", 0, ES_OPTION_FLAG, NULL,
         "The deck that plays the tape also recorded it: the figures are those of "
         "recording and playing together.",
         0.0, 0.0, NULL},
    [ES_TAPE_READ_BIAS] =
        {"bias", 0, ES_OPTION_WORD, "NOTE,...",
         "With --recorded-here: your notes of the bias with which each capture was recorded, "
         "as many as captures; they are compared at the end.",
         0.0, 0.0, NULL},
    [ES_TAPE_READ_EXPECT] =
        {"expect", 0, ES_OPTION_WORD, "NAME,...",
         "End with 1 when one of these verdicts is not \"leave\", or not known: speed, "
         "azimuth, level, balance, response, noise, distortion, separation, polarity, "
         "record-level, bias, or all.",
         0.0, 0.0, NULL},
    [ES_TAPE_READ_JSON] = {"json", 0, ES_OPTION_FLAG, NULL,
                           "Print ES_TAPE_READ_JSON instead of the note.", 0.0, 0.0, NULL},
    [ES_TAPE_READ_RAW] =
        {"raw", 0, ES_OPTION_WORD, "CODING,RATE,CHANNELS",
         "The capture is samples without a head, for example s16le,48000,2; evenspool check "
         "--help lists the codings.",
         0.0, 0.0, NULL},
    [ES_TAPE_READ_COLOR] =
        {"color", 0, ES_OPTION_CHOICE, "WHEN",
         "Emphasis in the note: auto (on a terminal, and not with NO_COLOR), always or "
         "never.",
         0.0, 0.0, "auto|always|never"},
};

static const es_option_value *value_of(const es_tape_asked *a, int option)
{
    return &a->arguments->values[option];
}

static const char *what_is_wrong_with_source(const es_tape_asked *a)
{
    const char *source = value_of(a, ES_TAPE_READ_SOURCE)->text,
               *record = value_of(a, ES_TAPE_READ_RECORD)->text;
    int captures = a->arguments->operand_count;
    if (!source && captures == 0)
        return "Name a CAPTURE to read, or with --source what to listen to while the tape plays.";
    if (source && captures > 0)
        return "A CAPTURE and --source don't go together: name one of them.";
    if (!source && (value_of(a, ES_TAPE_READ_UNPACED)->given || record))
        return record ? "--record keeps what --source hears; name one."
                      : "--unpaced goes with --source only.";
    if (value_of(a, ES_TAPE_READ_FORCE)->given && !record)
        return "--force goes with --record only.";
    if (source && value_of(a, ES_TAPE_READ_RAW)->given)
        return "--raw is for a CAPTURE; leave it out with --source.";
    if (source && record && strncmp(source, "file:", 5) == 0 && es_same_file(record, source + 5))
        return "--record names the source itself, which would be lost; name another file.";
    if (source && (!source[0] || strlen(source) >= sizeof a->session.source))
        return "--source wants device:NAME, file:PATH or rehearse:SCENARIO.";
    if (record && strlen(record) >= sizeof a->session.record_path)
        return "--record names a file whose name is too long.";
    return NULL;
}

static es_status read_source(es_tape_asked *a, es_error *error)
{
    const char *wrong = what_is_wrong_with_source(a);
    const char *source = value_of(a, ES_TAPE_READ_SOURCE)->text,
               *record = value_of(a, ES_TAPE_READ_RECORD)->text;
    if (wrong)
        return es_fail(error, ES_ERR_ARG, "usage", "%s", wrong);
    a->session.unpaced = value_of(a, ES_TAPE_READ_UNPACED)->given;
    a->session.record_replace = value_of(a, ES_TAPE_READ_FORCE)->given;
    if (source)
        memcpy(a->session.source, source, strlen(source) + 1);
    if (record)
        memcpy(a->session.record_path, record, strlen(record) + 1);
    return ES_OK;
}

static es_status read_biases(es_tape_asked *a, es_error *error)
{
    const char *at = value_of(a, ES_TAPE_READ_BIAS)->text;
    size_t captures = a->captures;
    if (!at)
        return ES_OK;
    if (!a->settings.recorded_here)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--bias belongs to the deck's own recordings; write --recorded-here with "
                       "it.");
    while (at && a->bias_count < ES_TAPE_BIASES_MOST) {
        const char *comma = strchr(at, ',');
        size_t length = comma ? (size_t)(comma - at) : strlen(at);
        if (length == 0 || length >= sizeof a->bias[0])
            return es_fail(error, ES_ERR_ARG, "usage",
                           "--bias wants notes of 1 to %zu letters with commas between them.",
                           sizeof a->bias[0] - 1);
        memcpy(a->bias[a->bias_count], at, length);
        a->bias[a->bias_count++][length] = '\0';
        at = comma ? comma + 1 : NULL;
    }
    if (at || a->bias_count != captures)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--bias has to hold as many notes as there are captures (%zu, at most %d).",
                       captures, ES_TAPE_BIASES_MOST);
    return ES_OK;
}

static es_status read_recorded(es_tape_asked *a, es_error *error)
{
    const char *path = value_of(a, ES_TAPE_READ_RECORDED_RESPONSE)->text;
    char *text;
    size_t length;
    if (!path)
        return ES_OK;
    if (a->settings.recorded_here)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--recorded-here and --recorded-response contradict each other; write one.");
    es_status status = es_small_file_read(path, READING_MOST, &text, &length, error);
    if (status != ES_OK)
        return status;
    status = es_tape_from_json(text, length, &a->recorded, error);
    free(text);
    a->settings.recorded = &a->recorded;
    return status;
}

static es_status look_at_records(const es_tape_asked *a, es_error *error)
{
    if (a->records && !a->tape_name && !a->deck)
        return es_fail(error, ES_ERR_ARG, "usage", "--records is for --tape and --deck; name one.");
    if (a->tape_name &&
        (value_of(a, ES_TAPE_READ_TAPE_ERROR)->given || value_of(a, ES_TAPE_READ_TAPE_U95)->given))
        return es_fail(error, ES_ERR_ARG, "usage",
                       "The records know the error of a tape that is named; leave out --tape-error "
                       "and --tape-u95.");
    return ES_OK;
}

/* --- verdicts that are expected --------------------------------------------------------------- */

static const char *const verdict_names[] = {"speed",    "azimuth",      "level",      "balance",
                                            "response", "noise",        "distortion", "separation",
                                            "polarity", "record-level", "bias"};
#define VERDICT_NAMES (sizeof verdict_names / sizeof *verdict_names)

/* Is `name` among the names with commas between them? */
static int lists(const char *list, const char *name)
{
    size_t length = strlen(name);
    for (const char *at = list; at; at = strchr(at, ',')) {
        at += *at == ',';
        if (strncmp(at, name, length) == 0 && (at[length] == ',' || at[length] == '\0'))
            return 1;
    }
    return 0;
}

static es_status look_at_expected(const es_tape_asked *a, es_error *error)
{
    for (const char *at = a->expect; at; at = strchr(at, ',')) {
        char name[24];
        at += *at == ',';
        es_text text = es_text_over(name, sizeof name);
        es_text_add(&text, "%.*s", (int)strcspn(at, ","), at);
        size_t i = 0;
        while (i < VERDICT_NAMES && strcmp(verdict_names[i], name) != 0)
            i++;
        if (i == VERDICT_NAMES && strcmp(name, "all") != 0)
            return es_fail(error, ES_ERR_ARG, "usage",
                           "--expect knows no verdict \"%s\"; evenspool tape read --help lists "
                           "them.",
                           name);
    }
    return ES_OK;
}

static const es_tape_verdict *verdict_on(const es_tape_result *r, const char *what)
{
    for (size_t i = 0; i < r->verdict_count; i++)
        if (strcmp(r->verdicts[i].what, what) == 0)
            return &r->verdicts[i];
    return NULL;
}

int es_tape_read_judge(const es_tape_asked *a, const es_tape_result *result, const char *file)
{
    int outside = 0;
    for (size_t i = 0; a->expect && i < VERDICT_NAMES; i++) {
        const es_tape_verdict *v = verdict_on(result, verdict_names[i]);
        int named = lists(a->expect, verdict_names[i]);
        if (!named && !(v && lists(a->expect, "all")))
            continue;
        if (v && v->verdict == ES_VERDICT_LEAVE)
            continue;
        es_say(es_input_name(file), "%s: %s", verdict_names[i],
               v ? v->text : "Not known, so not as expected.");
        outside++;
    }
    return outside;
}

/* --- all of it ------------------------------------------------------------------------------------ */

static void take_values(es_tape_asked *a)
{
    es_measure_tape_settings *s = &a->settings;
    *s = es_measure_tape_defaults();
    s->raw = value_of(a, ES_TAPE_READ_RAW)->text;
    s->tape_percent = value_of(a, ES_TAPE_READ_TAPE_ERROR)->number;
    s->tape_u95_percent = value_of(a, ES_TAPE_READ_TAPE_U95)->number;
    s->clock_ppm = value_of(a, ES_TAPE_READ_CLOCK_PPM)->number;
    s->level_dbfs = value_of(a, ES_TAPE_READ_LEVEL)->number;
    s->recorded_here = value_of(a, ES_TAPE_READ_RECORDED_HERE)->given;
    a->deck = value_of(a, ES_TAPE_READ_DECK)->text;
    a->tape_name = value_of(a, ES_TAPE_READ_TAPE)->text;
    a->records = value_of(a, ES_TAPE_READ_RECORDS)->text;
    a->colour = value_of(a, ES_TAPE_READ_COLOR)->text;
    a->expect = value_of(a, ES_TAPE_READ_EXPECT)->text;
    a->json = value_of(a, ES_TAPE_READ_JSON)->given;
    a->captures = value_of(a, ES_TAPE_READ_SOURCE)->given ? 1 : (size_t)a->arguments->operand_count;
}

static es_status take_files(es_tape_asked *a, const char **about, es_error *error)
{
    const char *programme = value_of(a, ES_TAPE_READ_PROGRAMME)->text;
    const char *limits = value_of(a, ES_TAPE_READ_LIMITS)->text;
    es_status status = ES_OK;
    if (programme) {
        *about = programme;
        a->settings.programme = &a->programme;
        status = es_programme_named(programme, &a->programme, error);
    }
    if (status == ES_OK && limits) {
        *about = limits;
        a->settings.limits = &a->limits;
        status = es_limits_load(limits, &a->limits, error);
    }
    if (status == ES_OK) {
        *about = value_of(a, ES_TAPE_READ_RECORDED_RESPONSE)->text;
        status = read_recorded(a, error);
    }
    return status;
}

es_status es_tape_read_ask(const es_arguments *arguments, es_tape_asked *out, const char **about,
                           es_error *error)
{
    out->arguments = arguments;
    *about = NULL;
    take_values(out);
    es_status status = read_source(out, error);
    if (status == ES_OK)
        status = es_captures_check(arguments, error);
    if (status == ES_OK)
        status = read_biases(out, error);
    if (status == ES_OK)
        status = look_at_records(out, error);
    if (status == ES_OK)
        status = look_at_expected(out, error);
    return status == ES_OK ? take_files(out, about, error) : status;
}
