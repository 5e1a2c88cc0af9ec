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

static int no_such_verb(const char *word)
{
    const char *names[32];
    size_t count = 0;
    for (const es_verb *verb; count < 32 && (verb = es_verb_at(count)); count++)
        names[count] = verb->name;
    const char *near = es_nearest_word(word, names, count);
    es_say(NULL, "There is no verb \"%.60s\"%s%s%s; evenspool --help lists them.", word,
           near ? " (did you mean " : "", near ? near : "", near ? "?)" : "");
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
    return verb ? run_verb(verb, argc - 2, argv + 2) : no_such_verb(argv[1]);
}
