#include "command/check_options.h"

#include "command/channel.h"
#include "command/ledger_use.h"
#include "live/picture.h"
#include "live/text_file.h"

#include <string.h>
#include <unistd.h>

#define HOURS_24 86400.0

const es_option es_check_options[ES_CHECK_OPTIONS] = {
    [ES_CHECK_TONE] =
        {"tone", 0, ES_OPTION_NUMBER, "HZ",
         "Frequency of the tone as recorded. Without it, the usual test tone nearest to "
         "what is heard.",
         300.0, 153600.0, NULL},
    [ES_CHECK_TAPE_ERROR] =
        {"tape-error", 0, ES_OPTION_NUMBER, "PERCENT",
         "Speed error of the deck that recorded the tape, + for fast; taken off "
         "the result.",
         -50.0, 50.0, NULL},
    [ES_CHECK_TAPE_U95] =
        {"tape-u95", 0, ES_OPTION_NUMBER, "PERCENT",
         "Expanded uncertainty (95 %, k = 2) of --tape-error, or of 0 without it.", 0.0, 50.0,
         NULL},
    [ES_CHECK_TAPE] =
        {"tape", 0, ES_OPTION_WORD, "NAME",
         "The tape by its name in the records (evenspool trust tape): its certificate is taken off "
         "the result in place of --tape-error, and its tone is known.",
         0.0, 0.0, NULL},
    [ES_CHECK_DECK] =
        {"deck", 0, ES_OPTION_WORD, "NAME",
         "The deck by its name in the records: the reading is kept there with the capture's hash, "
         "and the deck's class and sizes help to name the part behind a swing.",
         0.0, 0.0, NULL},
    [ES_CHECK_RECORDS] = ES_RECORDS_OPTION,
    [ES_CHECK_CLOCK_PPM] =
        {"clock-ppm", 0, ES_OPTION_NUMBER, "PPM",
         "Error of the sound card's clock in millionths, + when it samples fast; "
         "taken off the result.",
         -10000.0, 10000.0, NULL},
    [ES_CHECK_CHANNEL] =
        {"channel", 0, ES_OPTION_WORD, "CHANNEL",
         "Channel to measure: left, right, a number from 1, or auto for the better "
         "one, which is what happens without it.",
         0.0, 0.0, "left|right|auto"},
    [ES_CHECK_START] = {"start", 0, ES_OPTION_NUMBER, "SECONDS",
                        "Where the part to measure begins.", 0.0, HOURS_24, NULL},
    [ES_CHECK_END] = {"end", 0, ES_OPTION_NUMBER, "SECONDS", "Where the part to measure ends.", 0.0,
                      HOURS_24, NULL},
    [ES_CHECK_CLASS] =
        {"class", 0, ES_OPTION_CHOICE, "CLASS",
         "Kind of machine, for naming the part behind a swing: cassette (also without "
         "it), microcassette, or reel with its speed in cm/s.",
         0.0, 0.0, "cassette|microcassette|reel-4.76|reel-9.5|reel-19|reel-38|reel-76"},
    [ES_CHECK_CAPSTAN] = {"capstan", 0, ES_OPTION_NUMBER, "MM",
                          "Diameter of the deck's capstan, for the same.", 0.5, 100.0, NULL},
    [ES_CHECK_TOLERANCE] = {"tolerance", 0, ES_OPTION_NUMBER, "PERCENT",
                            "Speed error that may be left alone.", 0.001, 20.0, NULL},
    [ES_CHECK_EXPECT] = {"expect", 0, ES_OPTION_WORD, "NAME=LIMIT,...",
                         "End with 1 when a figure is larger than its limit, or not known.", 0.0,
                         0.0, NULL},
    [ES_CHECK_JSON] = {"json", 0, ES_OPTION_FLAG, NULL, "Print JSON instead of the note.", 0.0, 0.0,
                       NULL},
    [ES_CHECK_PICTURE] =
        {"picture", 0, ES_OPTION_FILE, "FILE",
         "Also draw speed against time, the flutter's spectrum and the figures; the "
         "ending says how: .png, .svg or .pdf. For one capture at a time.",
         0.0, 0.0, NULL},
    [ES_CHECK_CSV] =
        {"csv", 0, ES_OPTION_FILE, "FILE",
         "Also write the speed error from instant to instant, about 1200 a second, as a "
         "table; - for standard output in place of the note. For one capture at a time.",
         0.0, 0.0, NULL},
    [ES_CHECK_RAW] =
        {"raw", 0, ES_OPTION_WORD, "CODING,RATE,CHANNELS",
         "The capture is samples without a head, for example s16le,48000,2. Codings: s8 "
         "u8 s16le s16be s24le s24be s32le s32be f32le f32be f64le f64be alaw ulaw.",
         0.0, 0.0, NULL},
    [ES_CHECK_COLOR] =
        {"color", 0, ES_OPTION_CHOICE, "WHEN",
         "Emphasis in the note: auto (on a terminal, and not with NO_COLOR), always or "
         "never.",
         0.0, 0.0, "auto|always|never"},
};

static es_status outputs_of(const es_arguments *a, const es_check_asked *asked, es_error *error)
{
    if (!asked->alone && (asked->picture || asked->table))
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--%s is for one capture at a time; name a single one.",
                       asked->picture ? "picture" : "csv");
    if (asked->picture && !es_picture_is_named(asked->picture))
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--picture wants a name that ends with .png, .svg or .pdf, not \"%.60s\".",
                       asked->picture);
    if (asked->table && asked->json && strcmp(asked->table, "-") == 0)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--json and --csv - both want standard output; name a file for the table.");
    if ((asked->picture && es_same_file(asked->picture, a->operands[0])) ||
        (asked->table && es_same_file(asked->table, a->operands[0])))
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--%s names the capture itself, which would be lost; name another file.",
                       asked->table && es_same_file(asked->table, a->operands[0]) ? "csv"
                                                                                  : "picture");
    if (asked->table && asked->picture && strcmp(asked->table, asked->picture) == 0)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--csv and --picture name the same file; name two.");
    return ES_OK;
}

es_status es_captures_check(const es_arguments *a, es_error *error)
{
    int streams = 0;
    for (int i = 0; i < a->operand_count; i++)
        streams += strcmp(a->operands[i], "-") == 0;
    if (streams > 1)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "Standard input can be measured once only; write - once.");
    if (streams && isatty(STDIN_FILENO))
        return es_fail(error, ES_ERR_ARG, "usage",
                       "Standard input is the keyboard; send a capture to it, or name a file.");
    return ES_OK;
}

static es_status records_of(const es_option_value *v, es_error *error)
{
    if (v[ES_CHECK_TAPE].given && (v[ES_CHECK_TAPE_ERROR].given || v[ES_CHECK_TAPE_U95].given))
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--tape takes the tape's error from the records; leave out --%s.",
                       v[ES_CHECK_TAPE_ERROR].given ? "tape-error" : "tape-u95");
    if (v[ES_CHECK_RECORDS].given && !v[ES_CHECK_TAPE].given && !v[ES_CHECK_DECK].given)
        return es_fail(error, ES_ERR_ARG, "usage", "--records is for --tape and --deck; name one.");
    return ES_OK;
}

static es_measure_settings settings_of(const es_option_value *v)
{
    es_measure_settings s = es_measure_defaults();
    s.tone_hz = v[ES_CHECK_TONE].number;
    s.tape_percent = v[ES_CHECK_TAPE_ERROR].number;
    s.tape_u95_percent = v[ES_CHECK_TAPE_U95].number;
    s.clock_ppm = v[ES_CHECK_CLOCK_PPM].number;
    if (v[ES_CHECK_START].given)
        s.start_s = v[ES_CHECK_START].number;
    s.end_s = v[ES_CHECK_END].number;
    s.transport = v[ES_CHECK_CLASS].text;
    s.capstan_mm = v[ES_CHECK_CAPSTAN].number;
    s.tolerance_percent = v[ES_CHECK_TOLERANCE].number;
    s.raw = v[ES_CHECK_RAW].text;
    return s;
}

es_status es_check_ask(const es_arguments *a, es_check_asked *out, es_error *error)
{
    const es_option_value *v = a->values;
    *out = (es_check_asked){.measure = settings_of(v),
                            .json = v[ES_CHECK_JSON].given,
                            .deck = v[ES_CHECK_DECK].text,
                            .tape = v[ES_CHECK_TAPE].text,
                            .records = v[ES_CHECK_RECORDS].text,
                            .alone = a->operand_count == 1,
                            .picture = v[ES_CHECK_PICTURE].text,
                            .table = v[ES_CHECK_CSV].text,
                            .colour = v[ES_CHECK_COLOR].text};
    es_status status = es_channel_read(v[ES_CHECK_CHANNEL].text, &out->measure.channel, error);
    if (status == ES_OK && v[ES_CHECK_EXPECT].given)
        status = es_expect_read(v[ES_CHECK_EXPECT].text, &out->expect, error);
    if (status == ES_OK)
        status = records_of(v, error);
    if (status == ES_OK)
        status = es_measure_check(&out->measure, error);
    if (status == ES_OK)
        status = outputs_of(a, out, error);
    return status == ES_OK ? es_captures_check(a, error) : status;
}
