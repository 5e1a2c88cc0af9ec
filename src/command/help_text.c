#include "command/help_text.h"

#include "command/say.h"
#include "evenspool/base/text.h"

#include <string.h>

#define OPTION_WIDE 24

void es_each_choice(const char *choices, void (*each)(void *who, const char *at, size_t length),
                    void *who)
{
    while (choices && *choices) {
        size_t length = strcspn(choices, "|");
        each(who, choices, length);
        choices += length + (choices[length] == '|');
    }
}

void es_help_overview(FILE *out)
{
    const es_verb *verb;
    fputs("evenspool: brings a tape deck back to true speed\n\n"
          "    evenspool VERB ...\n\n",
          out);
    for (size_t i = 0; (verb = es_verb_at(i)); i++)
        fprintf(out, "  %-12s %s\n", verb->name, verb->about);
    fputs("\n  --help       this text; after a verb, what that verb can do\n"
          "  --version    which version this is\n\n"
          "Begin with a recording of a test tone, played by the deck:\n\n"
          "    evenspool check capture.wav\n",
          out);
}

static void print_option(FILE *out, const es_option *option)
{
    char first[96], rest[OPTION_WIDE + 1];
    es_text start = es_text_over(first, sizeof first);
    es_text blank = es_text_over(rest, sizeof rest);
    if (option->letter)
        es_text_add(&start, "  -%c, ", option->letter);
    else
        es_text_add(&start, "  ");
    es_text_add(&start, "--%s%s%s", option->name, option->value ? " " : "",
                option->value ? option->value : "");
    es_text_add(&blank, "%*s", OPTION_WIDE, "");
    if (start.length + 2 > OPTION_WIDE) {
        fprintf(out, "%s\n", first);
        es_wrap(out, rest, rest, option->about);
        return;
    }
    es_text_add(&start, "%*s", OPTION_WIDE - (int)start.length, "");
    es_wrap(out, first, rest, option->about);
}

static const es_option help_option = {"help", 'h', ES_OPTION_FLAG, NULL, "This text.", 0.0,
                                      0.0,    NULL};

static void print_options(FILE *out, const es_verb *verb)
{
    fputs("\nOptions\n", out);
    for (size_t i = 0; i < verb->option_count; i++)
        print_option(out, &verb->options[i]);
    print_option(out, &help_option);
}

static void print_parts(FILE *out, const es_verb *verb)
{
    fputs("\nParts; --help after one of them says more\n", out);
    for (const es_verb *const *part = verb->parts; *part; part++)
        fprintf(out, "  %-12s %s\n", es_verb_word(*part), (*part)->about);
}

void es_help_verb(FILE *out, const es_verb *verb)
{
    fprintf(out, "evenspool %s: %s\n\n    evenspool %s %s%s%s\n", verb->name, verb->about,
            verb->name, verb->parts ? "PART ..." : "[OPTION...]", verb->operands[0] ? " " : "",
            verb->operands);
    for (size_t i = 0; verb->details[i]; i++) {
        fputc('\n', out);
        es_wrap(out, "", "", verb->details[i]);
    }
    if (verb->parts)
        print_parts(out, verb);
    else
        print_options(out, verb);
    if (verb->examples[0])
        fputs("\nExamples\n", out);
    for (size_t i = 0; verb->examples[i]; i += 2) {
        fprintf(out, "  %s\n", verb->examples[i]);
        es_wrap(out, "      ", "      ", verb->examples[i + 1]);
    }
    fputs("\nEnds with\n", out);
    for (int code = 0; es_exit_meaning(code); code++)
        fprintf(out, "  %d  %s\n", code, es_exit_meaning(code));
}
