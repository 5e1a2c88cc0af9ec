/* evenspool help: the texts about the program, and the files made from its tables. */
#include "command/help_text.h"
#include "command/say.h"
#include "command/verb.h"

#include <string.h>

enum { MAN, COMPLETION, OPTIONS };

static const es_option options[OPTIONS] = {
    [MAN] = {"man", 0, ES_OPTION_FLAG, NULL, "Print the manual page (mdoc) in place of the text.",
             0.0, 0.0, NULL},
    [COMPLETION] = {"completion", 0, ES_OPTION_CHOICE, "SHELL",
                    "Print the completion script of a shell: bash, zsh or fish.", 0.0, 0.0,
                    "bash|zsh|fish"},
};

static int run(const es_arguments *arguments)
{
    const char *name = arguments->operand_count > 0 ? arguments->operands[0] : NULL;
    const es_verb *verb = name ? es_verb_named(name) : NULL;
    if (verb && arguments->operand_count > 1) {
        const char *part = arguments->operands[1];
        verb = es_verb_part(verb, part);
        if (!verb) {
            es_say(NULL, "%s has no part \"%.60s\" to explain; evenspool %s --help tells of it.",
                   name, part, name);
            return ES_EXIT_USAGE;
        }
    }
    if (name && !verb) {
        es_say(NULL, "There is no verb \"%.60s\" to explain; evenspool --help lists them.", name);
        return ES_EXIT_USAGE;
    }
    if (arguments->values[COMPLETION].given)
        es_completion(stdout, arguments->values[COMPLETION].text);
    else if (arguments->values[MAN].given)
        es_man_page(stdout, verb);
    else if (verb)
        es_help_verb(stdout, verb);
    else
        es_help_overview(stdout);
    return es_end_of_output(ES_EXIT_DONE);
}

static const char *const details[] = {
    "Explains the program or one of its verbs. The manual pages and the completion scripts that "
    "are installed with the program are made by this verb.",
    NULL};

static const char *const examples[] = {"evenspool help check", "What check can do.",
                                       "evenspool help --man check | man -l -",
                                       "The same as a manual page.", NULL};

const es_verb es_verb_help = {.name = "help",
                              .about = "explain the program or a verb",
                              .operands = "[VERB [PART]]",
                              .operands_most = 2,
                              .operand_kind = "verb",
                              .options = options,
                              .option_count = OPTIONS,
                              .details = details,
                              .examples = examples,
                              .run = run};
