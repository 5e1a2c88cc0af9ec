#include "command/options.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define WORD_MOST 32

/* --- values ------------------------------------------------------------------------- */

int es_number_read(const char *text, double *out)
{
    *out = (double)NAN;
    if (text[0] == '\0' || text[strspn(text, "+-.0123456789eE")] != '\0')
        return 0; /* strtod alone would also take hexadecimal, "inf" and "nan" */
    char *stop;
    double value = strtod(text, &stop);
    if (*stop != '\0' || !isfinite(value))
        return 0;
    *out = value;
    return 1;
}

static es_status read_number(const es_option *option, es_option_value *value, es_error *error)
{
    if (es_number_read(value->text, &value->number) && value->number >= option->low &&
        value->number <= option->high)
        return ES_OK;
    const char *hint = strchr(value->text, ',') ? " (with a point, as in 0.4)" : "";
    return es_fail(error, ES_ERR_ARG, "usage",
                   "--%s wants a number from %.10g to %.10g%s, not \"%.60s\".", option->name,
                   option->low, option->high, hint, value->text);
}

static es_status read_choice(const es_option *option, const es_option_value *value, es_error *error)
{
    size_t length = strlen(value->text);
    for (const char *at = option->choices; length > 0;) {
        size_t here = strcspn(at, "|");
        if (here == length && strncmp(at, value->text, here) == 0)
            return ES_OK;
        if (at[here] == '\0')
            break;
        at += here + 1;
    }
    return es_fail(error, ES_ERR_ARG, "usage", "--%s is one of %s, not \"%.60s\".", option->name,
                   option->choices, value->text);
}

static es_status take_value(const es_option *option, es_option_value *value, es_error *error)
{
    if (option->kind == ES_OPTION_NUMBER)
        return read_number(option, value, error);
    if (option->kind == ES_OPTION_CHOICE)
        return read_choice(option, value, error);
    if (value->text[0] == '\0')
        return es_fail(error, ES_ERR_ARG, "usage", "--%s wants a value that is not empty: --%s %s.",
                       option->name, option->name, option->value);
    return ES_OK;
}

/* --- the command line ----------------------------------------------------------------- */

typedef struct line {
    const es_option *table;
    size_t count;
    int argc, at; /* at: next word */
    char **argv;
    es_arguments *out;
    es_error *error;
} line;

static es_status unknown(const line *l, const char *word, size_t length)
{
    const char *names[ES_OPTIONS_MOST + 1];
    char bare[WORD_MOST] = "";
    for (size_t i = 0; i < l->count; i++)
        names[i] = l->table[i].name;
    names[l->count] = "help";
    if (length > 2 && length - 2 < sizeof bare)
        memcpy(bare, word + 2, length - 2);
    const char *near = es_nearest_word(bare, names, l->count + 1);
    return es_fail(l->error, ES_ERR_ARG, "usage",
                   "There is no option %.*s%s%s%s; --help lists them.",
                   length > 60 ? 60 : (int)length, word, near ? " (did you mean --" : "",
                   near ? near : "", near ? "?)" : "");
}

static es_status take_option(line *l, size_t index, const char *joined)
{
    const es_option *option = &l->table[index];
    es_option_value *value = &l->out->values[index];
    if (option->kind == ES_OPTION_FLAG) {
        value->given = 1;
        return joined ? es_fail(l->error, ES_ERR_ARG, "usage", "--%s takes no value.", option->name)
                      : ES_OK;
    }
    const char *text = joined ? joined : l->at < l->argc ? l->argv[l->at++] : NULL;
    if (!text || (!joined && text[0] == '-' && text[1] == '-'))
        return es_fail(l->error, ES_ERR_ARG, "usage", "--%s wants a value: --%s %s.", option->name,
                       option->name, option->value);
    *value = (es_option_value){.given = 1, .text = text, .number = (double)NAN};
    return take_value(option, value, l->error);
}

static es_status take_long(line *l, const char *word)
{
    size_t length = strcspn(word, "=");
    const char *joined = word[length] ? word + length + 1 : NULL;
    for (size_t i = 0; i < l->count; i++)
        if (strlen(l->table[i].name) == length - 2 &&
            strncmp(l->table[i].name, word + 2, length - 2) == 0)
            return take_option(l, i, joined);
    if (length == 6 && strncmp(word, "--help", 6) == 0 && !joined) {
        l->out->help = 1;
        return ES_OK;
    }
    return unknown(l, word, length);
}

static es_status take_short(line *l, const char *word)
{
    for (size_t i = 0; i < l->count; i++)
        if (l->table[i].letter == word[1])
            return take_option(l, i, word[2] ? word + 2 : NULL);
    if (strcmp(word, "-h") == 0) {
        l->out->help = 1;
        return ES_OK;
    }
    return unknown(l, word, strlen(word));
}

es_status es_options_read(const es_option *table, size_t count, int argc, char **argv,
                          es_arguments *out, es_error *error)
{
    line l = {table, count, argc, 0, argv, out, error};
    int ended = 0;
    *out = (es_arguments){.operands = argv};
    for (size_t i = 0; i < count; i++)
        out->values[i].number = (double)NAN;
    while (l.at < argc) {
        char *word = argv[l.at++];
        es_status status = ES_OK;
        if (ended || word[0] != '-' || word[1] == '\0')
            argv[out->operand_count++] = word;
        else if (strcmp(word, "--") == 0)
            ended = 1;
        else
            status = word[1] == '-' ? take_long(&l, word) : take_short(&l, word);
        if (status != ES_OK)
            return status;
    }
    return ES_OK;
}
