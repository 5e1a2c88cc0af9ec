/* evenspool trust play: recorded on one deck, played on another. */
#include "command/figure.h"
#include "command/say.h"
#include "command/trust.h"
#include "live/measure.h"
#include "json/check_json.h"
#include "json/document.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    RECORDED_ON,
    PLAYED_ON,
    HEARD,
    U95,
    CAPTURE,
    TONE,
    TAPE,
    RECORDED_AT,
    PLAYED_AT,
    RECORDED_EPOCH,
    PLAYED_EPOCH,
    NOTE,
    RECORDS,
    JSON,
    OPTIONS
};

static const es_option options[OPTIONS] = {
    [RECORDED_ON] = {"recorded-on", 0, ES_OPTION_WORD, "DECK", "The deck that recorded the tape.",
                     0.0, 0.0, NULL},
    [PLAYED_ON] = {"played-on", 0, ES_OPTION_WORD, "DECK", "The deck that played it.", 0.0, 0.0,
                   NULL},
    [HEARD] = {"heard", 0, ES_OPTION_NUMBER, "PERCENT",
               "How much too high the tone was heard: 100 x (heard / written - 1).", -50.0, 100.0,
               NULL},
    [U95] = {"u95", 0, ES_OPTION_NUMBER, "PERCENT", "Expanded uncertainty (95 %) of --heard.",
             0.00001, 100.0, NULL},
    [CAPTURE] = {"capture", 0, ES_OPTION_FILE, "FILE",
                 "Measure this capture of the playing in place of --heard and --u95, and keep the "
                 "reading.",
                 0.0, 0.0, NULL},
    [TONE] =
        {"tone", 0, ES_OPTION_NUMBER, "HZ",
         "Frequency of the tone as written, with --capture; without it the tape's, or the usual "
         "test tone nearest to what is heard.",
         300.0, 153600.0, NULL},
    [TAPE] = {"tape", 0, ES_OPTION_WORD, "NAME",
              "The tape, when the records have it (trust tape); it says which deck recorded it.",
              0.0, 0.0, NULL},
    [RECORDED_AT] =
        {"recorded-at", 0, ES_OPTION_WORD, "DAY",
         "When it was recorded, as 2026-05-03; without it the tape's day, or that of the "
         "playing.",
         0.0, 0.0, NULL},
    [PLAYED_AT] = {"played-at", 0, ES_OPTION_WORD, "DAY", "When it was played; today without it.",
                   0.0, 0.0, NULL},
    [RECORDED_EPOCH] =
        {"recorded-epoch", 0, ES_OPTION_NUMBER, "N",
         "Which epoch of the recording deck it was (deck show), when the day does not "
         "say.",
         1.0, 1e6, NULL},
    [PLAYED_EPOCH] = {"played-epoch", 0, ES_OPTION_NUMBER, "N", "The same of the playing deck.",
                      1.0, 1e6, NULL},
    [NOTE] = {"note", 0, ES_OPTION_WORD, "TEXT", "Anything worth remembering.", 0.0, 0.0, NULL},
    [RECORDS] = ES_RECORDS_OPTION,
    [JSON] = ES_RECORDS_JSON_OPTION,
};

/* A play on its way into the records. */
typedef struct job {
    const es_option_value *v;
    es_ledger_use use;
    es_ledger *ledger;
    es_play_entry entry;
    es_check_result measured; /* with --capture */
    int64_t id;
    const char *same_deck; /* a sentence; NULL: two decks */
} job;

/* --- what was asked for ------------------------------------------------------------------------ */

/* A sentence that says what is wrong with the command line, or NULL. */
static const char *what_is_wrong(const es_option_value *v)
{
    if (!v[PLAYED_ON].given)
        return "Say which deck played the tape: --played-on DECK.";
    if (!v[RECORDED_ON].given && !v[TAPE].given)
        return "Say which deck recorded the tape: --recorded-on DECK, or which tape it is: --tape "
               "NAME.";
    if (v[CAPTURE].given && (v[HEARD].given || v[U95].given))
        return "--capture measures what --heard and --u95 would say; give one or the other.";
    if (!v[CAPTURE].given && (!v[HEARD].given || !v[U95].given))
        return "Say what was heard and how sure that is: --heard PERCENT --u95 PERCENT, or "
               "--capture FILE.";
    if (v[TONE].given && !v[CAPTURE].given)
        return "--tone goes with --capture only.";
    if (v[CAPTURE].given && strcmp(v[CAPTURE].text, "-") == 0)
        return "A capture that is kept needs a name; save the stream to a file first.";
    if ((v[RECORDED_EPOCH].given && v[RECORDED_EPOCH].number != floor(v[RECORDED_EPOCH].number)) ||
        (v[PLAYED_EPOCH].given && v[PLAYED_EPOCH].number != floor(v[PLAYED_EPOCH].number)))
        return "The number of an epoch is whole.";
    return NULL;
}

static es_play_entry entry_of(const es_option_value *v)
{
    es_play_entry e = es_ledger_blank_play();
    e.recorded_on = v[RECORDED_ON].text;
    e.played_on = v[PLAYED_ON].text;
    e.recorded_epoch = v[RECORDED_EPOCH].given ? (int64_t)v[RECORDED_EPOCH].number : 0;
    e.played_epoch = v[PLAYED_EPOCH].given ? (int64_t)v[PLAYED_EPOCH].number : 0;
    e.tape = v[TAPE].text;
    e.recorded_at = v[RECORDED_AT].text;
    e.played_at = v[PLAYED_AT].text;
    e.note = v[NOTE].text;
    e.heard_percent = v[HEARD].number;
    e.u_percent = es_ledger_u_of(v[U95].number);
    return e;
}

/* --- a capture --------------------------------------------------------------------------------- */

/* A name that is not there is better known before an hour of tape is measured. */
static es_status look_up(const job *j, es_tape_record *tape, es_error *error)
{
    es_deck_record deck;
    es_status status = es_ledger_deck(j->ledger, j->entry.played_on, &deck, error);
    if (status == ES_OK && j->entry.recorded_on)
        status = es_ledger_deck(j->ledger, j->entry.recorded_on, &deck, error);
    return status == ES_OK && j->entry.tape ? es_ledger_tape(j->ledger, j->entry.tape, tape, error)
                                            : status;
}

/* ES_EXIT_DONE, or the code; what went wrong was said of the capture. */
static int measure(job *j)
{
    const char *capture = j->v[CAPTURE].text;
    es_error error = {0};
    es_tape_record tape;
    es_measure_settings settings = es_measure_defaults();
    settings.tone_hz = j->v[TONE].number;
    if (look_up(j, &tape, &error) != ES_OK)
        return es_use_fail(&j->use, &error);
    if (j->entry.tape) {
        tape.certificate_percent = tape.certificate_u_percent = (double)NAN; /* heard as it is */
        settings.tape = &tape;
    }
    es_status status = es_measure(capture, &settings, &j->measured, &error);
    if (status == ES_OK)
        status = es_ledger_take_heard(&j->measured, &j->entry, &error);
    if (status == ES_OK)
        return ES_EXIT_DONE;
    return es_use_refuse(&j->use, capture, 1, &error);
}

static es_status keep_reading(job *j, es_error *error)
{
    const es_check_result *r = &j->measured;
    char *document;
    es_status status = es_check_to_json(r, j->v[CAPTURE].text, 1, &document);
    if (status != ES_OK)
        return es_fail(error, status, "no-memory", "There is not enough memory to keep it.");
    es_reading_entry entry = {
        .deck = j->entry.played_on,
        .epoch = j->entry.played_epoch,
        .tape = j->entry.tape,
        .taken_at = j->entry.played_at,
        .schema = "evenspool.check/1",
        .document = document,
        .capture = j->v[CAPTURE].text,
        .error_percent = (double)NAN, /* the deck's own follows only from the network */
        .u95_percent = (double)NAN,
        .weighted_quasi_peak_percent = r->flutter.weighted_quasi_peak_percent};
    status = es_ledger_keep_reading(j->ledger, &entry, &j->entry.reading, error);
    free(document);
    return status;
}

/* --- the whole --------------------------------------------------------------------------------- */

static es_status keep(job *j, es_error *error)
{
    es_status status = j->v[CAPTURE].given ? keep_reading(j, error) : ES_OK;
    return status == ES_OK ? es_ledger_add_play(j->ledger, &j->entry, &j->id, &j->same_deck, error)
                           : status;
}

static int show_json(const job *j)
{
    es_json *json;
    char *text = NULL;
    es_status status = es_json_begin("evenspool.play/1", &json);
    if (status == ES_OK) {
        es_json_part *root = es_json_root(json);
        es_json_count(json, root, "id", j->id);
        es_json_number(json, root, "heard_percent", j->entry.heard_percent);
        es_json_number(json, root, "u_percent", j->entry.u_percent);
        es_json_truth(json, root, "same_deck", j->same_deck != NULL);
        es_json_text(json, root, "text", j->same_deck);
        if (j->entry.reading)
            es_json_count(json, root, "reading", j->entry.reading);
        else
            es_json_null(json, root, "reading");
        status = es_json_end(json, 1, &text);
    }
    return es_use_print(status, text);
}

static int show(const job *j)
{
    char room[2 * ES_NAME_ROOM + 256];
    es_text text = es_text_over(room, sizeof room);
    if (j->use.json)
        return show_json(j);
    es_text_add(&text, "Kept as play %lld: heard ", (long long)j->id);
    es_figure_percent(&text, j->entry.heard_percent);
    es_text_add(&text, " on %s, standard uncertainty %.4f %%.", j->entry.played_on,
                j->entry.u_percent);
    es_wrap(stdout, "", "", room);
    if (j->same_deck)
        es_wrap(stdout, "", "", j->same_deck);
    return ES_EXIT_DONE;
}

static int change(job *j)
{
    es_error error = {0};
    int code = j->v[CAPTURE].given ? measure(j) : ES_EXIT_DONE;
    if (code != ES_EXIT_DONE)
        return code;
    es_status status = es_ledger_begin(j->ledger, &error);
    if (status != ES_OK)
        return es_use_fail(&j->use, &error);
    code = es_use_end(&j->use, j->ledger, keep(j, &error), &error);
    return code == ES_EXIT_DONE ? show(j) : code;
}

static int run(const es_arguments *a)
{
    static job j; /* large */
    j = (job){.v = a->values,
              .use = {a->values[RECORDS].text, a->values[JSON].given},
              .entry = entry_of(a->values)};
    const char *wrong = what_is_wrong(j.v);
    if (wrong) {
        es_say("trust play", "%s", wrong);
        return ES_EXIT_USAGE;
    }
    int code = es_use_open(&j.use, ES_LEDGER_WRITE, &j.ledger);
    if (code == ES_EXIT_DONE) {
        code = change(&j);
        es_ledger_close(j.ledger);
    }
    return es_end_of_output(code);
}

static const char *const details[] = {
    "Enters a comparison: a tone of known frequency was recorded on one deck and heard on another. "
    "What is heard is the difference of both decks' speeds; neither is known from it alone.",
    "With --capture the playing is measured, and the reading is kept with the capture's hash. The "
    "sound clock's uncertainty counts. A tape played on the deck that recorded it is accepted and "
    "explained: it tests drift, not speed.",
    NULL};

static const char *const examples[] = {
    "evenspool trust play --recorded-on Workshop --played-on Attic --heard -1.046 --u95 0.02",
    "3150 Hz from Workshop is heard as 3117 Hz on Attic.",
    "evenspool trust play --tape T1 --played-on Attic --capture attic.wav",
    "The same, measured; the tape says which deck recorded it.", NULL};

const es_verb es_verb_trust_play = {.name = "trust play",
                                    .about = "enter a tape recorded on one deck, played on another",
                                    .operands = "",
                                    .operand_kind = "",
                                    .options = options,
                                    .option_count = OPTIONS,
                                    .details = details,
                                    .examples = examples,
                                    .run = run};
