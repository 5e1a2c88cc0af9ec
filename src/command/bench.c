/* evenspool bench: the page, served to a browser on this computer or a phone beside the deck. */
#include "command/channel.h"
#include "command/ledger_use.h"
#include "command/say.h"
#include "command/stop_signal.h"
#include "command/verb.h"
#include "evenspool/base/text.h"
#include "serve/inputs.h"
#include "serve/serve.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    SOURCE,
    PORT,
    LAN,
    TONE,
    TAPE_ERROR,
    TAPE_U95,
    CLOCK_PPM,
    TARGET,
    TOLERANCE,
    CHANNEL,
    RECORD,
    FORCE,
    RECORDS,
    OPTIONS
};

static const es_option options[OPTIONS] = {
    [SOURCE] =
        {"source", 's', ES_OPTION_WORD, "SOURCE",
         "What to listen to at once: device:NAME, file:PATH or rehearse:SCENARIO. Without it, the "
         "page asks.",
         0.0, 0.0, NULL},
    [PORT] = {"port", 'p', ES_OPTION_NUMBER, "NUMBER",
              "Port of the page's address; 8417 without it, 0 for any that is free.", 0.0, 65535.0,
              NULL},
    [LAN] =
        {"lan", 0, ES_OPTION_FLAG, NULL,
         "Also serve the network, for a phone beside the deck; it is let in by the code that is "
         "shown.",
         0.0, 0.0, NULL},
    [TONE] = {"tone", 0, ES_OPTION_NUMBER, "HZ",
              "Frequency of the tone as recorded. Without it, the usual test tone nearest to what "
              "is heard.",
              300.0, 153600.0, NULL},
    [TAPE_ERROR] = {"tape-error", 0, ES_OPTION_NUMBER, "PERCENT",
                    "Speed error of the deck that recorded the tape, + for fast; taken off the "
                    "reading.",
                    -50.0, 50.0, NULL},
    [TAPE_U95] = {"tape-u95", 0, ES_OPTION_NUMBER, "PERCENT",
                  "Expanded uncertainty (95 %, k = 2) of --tape-error, or of 0 without it.", 0.0,
                  50.0, NULL},
    [CLOCK_PPM] = {"clock-ppm", 0, ES_OPTION_NUMBER, "PPM",
                   "Error of the sound card's clock in millionths, + when it samples fast; taken "
                   "off the reading.",
                   -10000.0, 10000.0, NULL},
    [TARGET] = {"target", 0, ES_OPTION_NUMBER, "PERCENT",
                "Speed error to be reached; 0 without it.", -10.0, 10.0, NULL},
    [TOLERANCE] = {"tolerance", 0, ES_OPTION_NUMBER, "PERCENT",
                   "How near is near enough, either way; 0.1 without it.", 0.01, 5.0, NULL},
    [CHANNEL] = {"channel", 0, ES_OPTION_WORD, "CHANNEL",
                 "Channel to listen to: left, right, a number from 1, or auto for the better one, "
                 "which is what happens without it.",
                 0.0, 0.0, "left|right|auto"},
    [RECORD] = {"record", 0, ES_OPTION_FILE, "FILE",
                "Keep the raw capture of --source, .wav or .flac.", 0.0, 0.0, NULL},
    [FORCE] = {"force", 0, ES_OPTION_FLAG, NULL, "Replace the file of --record if it is there.",
               0.0, 0.0, NULL},
    [RECORDS] = ES_RECORDS_OPTION,
};

/* --- what is asked for ---------------------------------------------------------------------- */

static es_status judge(const es_option_value *v, const es_session_config *c, es_error *error)
{
    if (v[PORT].given && v[PORT].number != floor(v[PORT].number))
        return es_fail(error, ES_ERR_ARG, "usage", "--port is a whole number.");
    if (v[SOURCE].given && strlen(v[SOURCE].text) >= sizeof c->source)
        return es_fail(error, ES_ERR_ARG, "usage", "--source is too long.");
    if (v[RECORD].given && strlen(v[RECORD].text) >= sizeof c->record_path)
        return es_fail(error, ES_ERR_ARG, "usage", "--record is too long.");
    if (v[RECORD].given && !v[SOURCE].given)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--record is for a --source; without one, the page records.");
    if (v[FORCE].given && !v[RECORD].given)
        return es_fail(error, ES_ERR_ARG, "usage", "--force is for --record.");
    return ES_OK;
}

static void copy(char *to, size_t room, const char *from)
{
    es_text text = es_text_over(to, room);
    es_text_add(&text, "%s", from ? from : "");
}

static es_status ask(const es_option_value *v, es_serve_config *out, es_error *error)
{
    *out = es_serve_defaults();
    es_session_config *c = &out->session;
    es_status status = judge(v, c, error);
    if (status != ES_OK)
        return status;
    if (v[PORT].given)
        out->port = (int)v[PORT].number;
    out->lan = v[LAN].given;
    out->records = v[RECORDS].text;
    if (v[TONE].given)
        c->nominal_hz = v[TONE].number;
    c->tape_error_percent = v[TAPE_ERROR].number;
    c->tape_u95_percent = v[TAPE_U95].number;
    c->clock_ppm = v[CLOCK_PPM].number;
    if (v[TARGET].given)
        c->target_percent = v[TARGET].number;
    if (v[TOLERANCE].given)
        c->tolerance_percent = v[TOLERANCE].number;
    copy(c->source, sizeof c->source, v[SOURCE].text);
    copy(c->record_path, sizeof c->record_path, v[RECORD].text);
    c->record_replace = v[FORCE].given;
    return es_channel_read(v[CHANNEL].text, &c->channel, error);
}

/* --- running ------------------------------------------------------------------------------- */

static void announce(const es_serve *serve, int lan)
{
    char *code;
    printf("The bench is open: %s\n", es_serve_address(serve));
    if (lan && es_serve_pairing_text(serve, &code) == ES_OK) {
        printf("\nFor a phone in this network, scan this or open %s\n\n%s\n"
               "Whoever has this address can use the bench: show it to nobody else.\n",
               es_serve_pairing_address(serve), code);
        free(code);
    }
    puts("Ctrl-C ends it.");
    fflush(stdout);
}

static int run(const es_arguments *arguments)
{
    es_serve_config config;
    es_serve *serve;
    es_error error = {0};
    es_status status = ask(arguments->values, &config, &error);
    if (status != ES_OK) {
        es_say_error("bench", &error);
        return ES_EXIT_USAGE;
    }
    config.inputs = es_serve_list_inputs;
    es_stop_watch(NULL);
    status = es_serve_start(&config, &serve, &error);
    if (status != ES_OK) {
        es_say_error("bench", &error);
        return es_exit_of(status);
    }
    announce(serve, config.lan);
    es_stop_wait();
    es_serve_stop(serve);
    return es_end_of_output(ES_EXIT_DONE);
}

static const char *const details[] = {
    "Serves the bench as a page to a browser on this computer, at the address that is printed, "
    "until "
    "Ctrl-C. Nothing is fetched from anywhere else, and nothing is sent anywhere else.",
    "With --lan the page can also be opened on a phone beside the deck. The code and address that "
    "are then shown let in whoever has them; each start makes new ones.",
    NULL};

static const char *const examples[] = {"evenspool bench", "Open the page and choose there.",
                                       "evenspool bench --source rehearse:touchy-trimmer --lan",
                                       "Practice, with a phone as the screen.", NULL};

const es_verb es_verb_bench = {.name = "bench",
                               .about = "serve the bench as a page to a browser",
                               .operands = "",
                               .operand_kind = "",
                               .options = options,
                               .option_count = OPTIONS,
                               .details = details,
                               .examples = examples,
                               .run = run};
