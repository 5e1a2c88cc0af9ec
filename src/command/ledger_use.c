#include "command/ledger_use.h"

#include "command/say.h"
#include "command/verb.h"
#include "evenspool/base/text.h"
#include "json/check_json.h"
#include "json/document.h"

#include <stdlib.h>
#include <string.h>

int es_use_print(es_status status, char *text)
{
    if (status != ES_OK) {
        es_say(NULL, "There is not enough memory to print the result.");
        return ES_EXIT_AROUND;
    }
    puts(text);
    free(text);
    return ES_EXIT_DONE;
}

static int print_error(const es_ledger_use *use, const char *file, int alone, const es_error *error)
{
    char *text;
    if (!use->json)
        return ES_EXIT_DONE;
    es_status status = es_error_to_json(error, file, alone, &text);
    return es_use_print(status, text);
}

int es_use_fail(const es_ledger_use *use, const es_error *error)
{
    char place[ES_LEDGER_PATH_ROOM];
    es_error no_place = {0};
    es_ledger_where(use->path, place, sizeof place, &no_place);
    es_say_error(error->status == ES_ERR_IO && place[0] ? place : NULL, error);
    print_error(use, place, 1, error);
    return es_exit_of(error->status);
}

int es_use_fail_about(const es_ledger_use *use, const char *file, const es_error *error)
{
    es_say_error(file, error);
    print_error(use, file, 1, error);
    return es_exit_of(error->status);
}

int es_use_refuse(const es_ledger_use *use, const char *capture, int alone, const es_error *error)
{
    int of_input = error->status == ES_ERR_ARG || error->status == ES_ERR_IO;
    int code = of_input ? ES_EXIT_INPUT : es_exit_of(error->status);
    es_say_error(es_input_name(capture), error);
    int printed = print_error(use, capture, alone, error);
    return printed > code ? printed : code;
}

es_status es_use_look_up(const char *records, const char *tape_name, es_tape_record *tape,
                         const char *deck_name, es_deck_record *deck, es_ledger **out,
                         es_error *error)
{
    es_status status = ES_OK;
    *out = NULL;
    if (tape_name)
        status = es_ledger_tape_certificate(records, tape_name, tape, error);
    if (status != ES_OK || !deck_name)
        return status;
    status = es_ledger_open(records, ES_LEDGER_WRITE, out, error);
    return status == ES_OK ? es_ledger_deck(*out, deck_name, deck, error) : status;
}

int es_use_keep(const es_ledger_use *use, es_ledger *ledger, const es_reading_entry *entry,
                es_status status, char *document, int told)
{
    es_error error = {0};
    es_reading_entry whole = *entry;
    int64_t id;
    whole.document = document;
    if (status != ES_OK)
        es_fail(&error, status, "no-memory", "There is not enough memory to keep the reading.");
    else
        status = es_ledger_keep_reading(ledger, &whole, &id, &error);
    free(document);
    if (status != ES_OK)
        return es_use_fail(use, &error);
    if (told)
        printf("\nKept as reading %lld of %s.\n", (long long)id, entry->deck);
    return ES_EXIT_DONE;
}

int es_use_open(const es_ledger_use *use, es_ledger_mode mode, es_ledger **out)
{
    es_error error = {0};
    return es_ledger_open(use->path, mode, out, &error) == ES_OK ? ES_EXIT_DONE
                                                                 : es_use_fail(use, &error);
}

int es_use_with(const es_ledger_use *use, es_ledger_mode mode, es_use_work *work,
                const es_arguments *arguments)
{
    es_ledger *l;
    int code = es_use_open(use, mode, &l);
    if (code == ES_EXIT_DONE) {
        code = work(use, l, arguments);
        es_ledger_close(l);
    }
    return es_end_of_output(code);
}

int es_use_begin(const es_ledger_use *use, es_ledger_mode mode, es_ledger **out)
{
    es_error error = {0};
    int code = es_use_open(use, mode, out);
    if (code != ES_EXIT_DONE || es_ledger_begin(*out, &error) == ES_OK)
        return code;
    es_ledger_close(*out);
    *out = NULL;
    return es_use_fail(use, &error);
}

int es_use_end(const es_ledger_use *use, es_ledger *ledger, es_status status, es_error *error)
{
    return es_ledger_end(ledger, status, error) == ES_OK ? ES_EXIT_DONE : es_use_fail(use, error);
}

es_status es_use_text(const char *what, const char *from, char *to, size_t room, es_error *error)
{
    if (!from)
        return ES_OK;
    if (strlen(from) >= room)
        return es_fail(error, ES_ERR_ARG, "too-long", "The %s is too long; %zu bytes are the most.",
                       what, room - 1);
    memcpy(to, from, strlen(from) + 1);
    return ES_OK;
}

int es_use_done(const es_ledger_use *use, const char *format, ...)
{
    char sentence[1024];
    es_text text = es_text_over(sentence, sizeof sentence);
    va_list list;
    va_start(list, format);
    es_text_add_list(&text, format, list);
    va_end(list);
    if (!use->json) {
        es_wrap(stdout, "", "", sentence);
        return ES_EXIT_DONE;
    }
    es_json *json;
    char *document = NULL;
    es_status status = es_json_begin("evenspool.done/1", &json);
    if (status == ES_OK) {
        es_json_text(json, es_json_root(json), "text", sentence);
        status = es_json_end(json, 1, &document);
    }
    return es_use_print(status, document);
}
