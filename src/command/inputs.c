/* evenspool inputs: what can be listened to, and what is heard there. */
#include "live/inputs.h"
#include "command/say.h"
#include "command/verb.h"
#include "evenspool/base/text.h"
#include "evenspool/base/units.h"
#include "json/document.h"

#include <math.h>
#include <stdlib.h>

enum { LISTEN, JSON, OPTIONS };

static const es_option options[OPTIONS] = {
    [LISTEN] = {"listen", 0, ES_OPTION_NUMBER, "SECONDS",
                "How long to listen to each input; 0.3 without it, 0 for not at all.", 0.0, 10.0,
                NULL},
    [JSON] = {"json", 0, ES_OPTION_FLAG, NULL, "Print JSON instead of the list.", 0.0, 0.0, NULL},
};

/* --- text --------------------------------------------------------------------------------- */

static double loudest(const es_live_place *place)
{
    double peak = (double)NAN;
    for (int c = 0; c < place->heard_channels && c < ES_INPUT_CHANNELS_MOST; c++)
        peak = fmax(peak, place->peak_fs[c]); /* fmax passes over NaN */
    return peak;
}

static void say_level(es_text *text, const es_live_place *place)
{
    double peak = loudest(place);
    if (place->trouble.status != ES_OK)
        es_text_add(text, "%s", place->trouble.text);
    else if (!place->heard)
        es_text_add(text, "not listened to");
    else if (isnan(peak))
        es_text_add(text, "%.0f Hz, nothing comes from it", place->rate_hz);
    else if (peak < 0.0005)
        es_text_add(text, "%.0f Hz, nothing is heard", place->rate_hz);
    else
        es_text_add(text, "%.0f Hz, level %.0f dB: %s", place->rate_hz, es_db(peak),
                    es_inputs_level_word(peak));
}

static void print_place(const es_live_place *place, int is_input)
{
    char room[600];
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "%s (%s)%s", place->name, place->system,
                place->preferred ? ", preferred" : "");
    es_wrap(stdout, "  ", "    ", room);
    text = es_text_over(room, sizeof room);
    es_text_add(&text, "%d channel%s", place->channels, place->channels == 1 ? "" : "s");
    if (is_input) {
        es_text_add(&text, "; ");
        say_level(&text, place);
    }
    es_wrap(stdout, "      ", "      ", room);
}

static int print_text(const es_live_places *places, int alone)
{
    puts("Inputs, for --source device:NAME (any part of a name will do that only one has)");
    for (size_t i = 0; i < places->input_count; i++)
        print_place(&places->inputs[i], 1);
    if (places->input_count == 0)
        es_wrap(stdout, "  ", "  ",
                "none. Connect a sound card with a line input; practise meanwhile with evenspool "
                "trim --source rehearse:touchy-trimmer.");
    if (!alone) {
        puts("\nOutputs, for --output NAME");
        for (size_t i = 0; i < places->output_count; i++)
            print_place(&places->outputs[i], 0);
        if (places->output_count == 0)
            puts("  none.");
    }
    return es_end_of_output(ES_EXIT_DONE);
}

/* --- JSON --------------------------------------------------------------------------------- */

static void write_levels(es_json *json, es_json_part *to, const char *key, const double *values,
                         const es_live_place *place)
{
    if (!place->heard) {
        es_json_null(json, to, key);
        return;
    }
    es_json_part *list = es_json_array(json, to, key);
    for (int c = 0; c < place->heard_channels && c < ES_INPUT_CHANNELS_MOST; c++)
        es_json_number(json, list, NULL, values[c]);
}

static void write_place(es_json *json, es_json_part *list, const es_live_place *place, int is_input)
{
    es_json_part *to = es_json_object(json, list, NULL);
    es_json_text(json, to, "name", place->name);
    es_json_text(json, to, "system", place->system);
    es_json_count(json, to, "channels", place->channels);
    es_json_number(json, to, "listed_rate_hz", place->listed_rate_hz);
    es_json_truth(json, to, "preferred", place->preferred);
    if (!is_input)
        return;
    es_json_number(json, to, "rate_hz", place->rate_hz);
    write_levels(json, to, "peak_fs", place->peak_fs, place);
    write_levels(json, to, "rms_fs", place->rms_fs, place);
    es_json_text(json, to, "level", place->heard ? es_inputs_level_word(loudest(place)) : NULL);
    int troubled = place->trouble.status != ES_OK;
    es_json_text(json, to, "trouble", troubled ? place->trouble.code : NULL);
    es_json_text(json, to, "trouble_text", troubled ? place->trouble.text : NULL);
}

static int print_json(const es_live_places *places)
{
    es_json *json;
    char *text = NULL;
    if (es_json_create(&json) == ES_OK) {
        es_json_part *root = es_json_root(json);
        es_json_text(json, root, "schema", "evenspool.inputs/1");
        es_json_text(json, root, "version", ES_VERSION);
        es_json_part *list = es_json_array(json, root, "inputs");
        for (size_t i = 0; i < places->input_count; i++)
            write_place(json, list, &places->inputs[i], 1);
        list = es_json_array(json, root, "outputs");
        for (size_t i = 0; i < places->output_count; i++)
            write_place(json, list, &places->outputs[i], 0);
        es_json_print(json, 1, &text);
        es_json_destroy(json);
    }
    if (!text) {
        es_say(NULL, "There is not enough memory to print the list.");
        return ES_EXIT_AROUND;
    }
    puts(text);
    free(text);
    return es_end_of_output(ES_EXIT_DONE);
}

static int run(const es_arguments *arguments)
{
    static es_live_places places; /* large */
    es_error error = {0};
    const char *only = arguments->operand_count ? arguments->operands[0] : NULL;
    const es_option_value *listen = &arguments->values[LISTEN];
    double seconds = listen->given ? listen->number : 0.3;
    if (seconds > 0.0 && seconds < 0.05) {
        es_say("inputs", "--listen is 0, or 0.05 seconds and more.");
        return ES_EXIT_USAGE;
    }
    es_status status = es_inputs_look(only, seconds, &places, &error);
    if (status != ES_OK) {
        es_say_error(only, &error);
        return es_exit_of(status);
    }
    if (only && places.inputs[0].trouble.status != ES_OK) {
        es_say_error(only, &places.inputs[0].trouble);
        return ES_EXIT_AROUND;
    }
    return arguments->values[JSON].given ? print_json(&places) : print_text(&places, only != NULL);
}

static const char *const details[] = {
    "Lists the computer's sound inputs with what is heard there at the moment, and its outputs. "
    "With NAME, only the input of that name.",
    "A sound server may list more channels than there are, and another rate than the true one; the "
    "rate beside the level is the one that an input was opened at.",
    "That there is no input at all is no error: the list is empty and the program ends with 0. "
    "With "
    "NAME it ends with 4 when there is no such input or it can't be used.",
    NULL};

static const char *const examples[] = {"evenspool inputs", "What there is.",
                                       "evenspool inputs --json line",
                                       "What the input with \"line\" in its name hears.", NULL};

const es_verb es_verb_inputs = {.name = "inputs",
                                .about = "list the sound inputs, and what is heard there",
                                .operands = "[NAME]",
                                .operands_most = 1,
                                .operand_kind = "",
                                .options = options,
                                .option_count = OPTIONS,
                                .details = details,
                                .examples = examples,
                                .run = run};
