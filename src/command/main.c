/* evenspool: the program. Verbs stand in verbs.c. */
#include "command/help_text.h"
#include "command/say.h"
#include "command/verb.h"

#include <stdio.h>
#include <string.h>

static int version(void)
{
    puts("evenspool " ES_VERSION);
    return es_end_of_output(ES_EXIT_DONE);
}

/* The words one may write there, and the one that was probably meant. */
static int no_such_word(const es_verb *of, const char *word)
{
    const char *names[32];
    size_t count = 0;
    for (const es_verb *verb; count < 32; count++) {
        verb = of ? es_verb_runnable(of, count) : es_verb_at(count);
        if (!verb)
            break;
        names[count] = es_verb_word(verb);
    }
    const char *near = es_nearest_word(word, names, count);
    es_say(of ? of->name : NULL, "There is no %s \"%.60s\"%s%s%s; evenspool %s%s--help lists them.",
           of ? "part" : "verb", word, near ? " (did you mean " : "", near ? near : "",
           near ? "?)" : "", of ? of->name : "", of ? " " : "");
    return ES_EXIT_USAGE;
}

static int wrong_operands(const es_verb *verb, int count)
{
    if (count < verb->operands_least)
        es_say(NULL, "%s wants %s; evenspool %s --help explains.", verb->name, verb->operands,
               verb->name);
    else
        es_say(NULL, "%s takes no more than %d argument%s; evenspool %s --help explains.",
               verb->name, verb->operands_most, verb->operands_most == 1 ? "" : "s", verb->name);
    return ES_EXIT_USAGE;
}

static int run_verb(const es_verb *verb, int argc, char **argv)
{
    es_arguments arguments;
    es_error error = {0};
    es_status status =
        es_options_read(verb->options, verb->option_count, argc, argv, &arguments, &error);
    if (status != ES_OK) {
        es_say(verb->name, "%s", error.text);
        return ES_EXIT_USAGE;
    }
    if (arguments.help) {
        es_help_verb(stdout, verb);
        return es_end_of_output(ES_EXIT_DONE);
    }
    if (arguments.operand_count < verb->operands_least ||
        arguments.operand_count > verb->operands_most)
        return wrong_operands(verb, arguments.operand_count);
    return verb->run(&arguments);
}

static int run_part(const es_verb *verb, int argc, char **argv)
{
    if (argc < 1) {
        es_help_verb(stderr, verb);
        return ES_EXIT_USAGE;
    }
    if (strcmp(argv[0], "--help") == 0 || strcmp(argv[0], "-h") == 0) {
        es_help_verb(stdout, verb);
        return es_end_of_output(ES_EXIT_DONE);
    }
    const es_verb *part = es_verb_part(verb, argv[0]);
    return part ? run_verb(part, argc - 1, argv + 1) : no_such_word(verb, argv[0]);
}

int main(int argc, char **argv)
{
    if (argc < 2) {
        es_help_overview(stderr);
        return ES_EXIT_USAGE;
    }
    if (strcmp(argv[1], "--version") == 0)
        return version();
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        es_help_overview(stdout);
        return es_end_of_output(ES_EXIT_DONE);
    }
    const es_verb *verb = es_verb_named(argv[1]);
    if (!verb)
        return no_such_word(NULL, argv[1]);
    return verb->parts ? run_part(verb, argc - 2, argv + 2) : run_verb(verb, argc - 2, argv + 2);
}
