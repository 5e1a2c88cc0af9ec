#include "command/help_text.h"

#include <string.h>

/* --- shared ----------------------------------------------------------------------------- */

/* Does something for everything that can be run. */
static void each_runnable(FILE *out, void (*write)(FILE *out, const es_verb *verb))
{
    const es_verb *verb, *part;
    for (size_t i = 0; (verb = es_verb_at(i)); i++)
        for (size_t k = 0; (part = es_verb_runnable(verb, k)); k++)
            write(out, part);
}

static void part_words(FILE *out, const es_verb *verb)
{
    for (const es_verb *const *part = verb->parts; *part; part++)
        fprintf(out, " %s", es_verb_word(*part));
}

/* "deck-add": a part's name as one word of a shell. */
static void label(FILE *out, const es_verb *verb)
{
    for (const char *c = verb->name; *c; c++)
        fputc(*c == ' ' ? '-' : *c, out);
}

static void each_verb(FILE *out, const char *format_before, const char *after)
{
    const es_verb *verb;
    for (size_t i = 0; (verb = es_verb_at(i)); i++)
        fprintf(out, "%s%s%s", i ? format_before : "", verb->name, after);
}

static void choice_with_space(void *who, const char *at, size_t length)
{
    fprintf(who, " %.*s", (int)length, at);
}

/* Text between single quotes of a shell. */
static void quoted(FILE *out, const char *text)
{
    for (; *text; text++)
        if (*text == '\'')
            fputs("'\\''", out);
        else
            fputc(*text, out);
}

/* The first sentence, for a list in which there is little room. */
static void first_sentence(FILE *out, const char *text, const char *escape)
{
    for (; *text && !(text[0] == '.' && (text[1] == ' ' || text[1] == '\0')); text++) {
        if (strchr(escape, *text))
            fputc('\\', out);
        char one[2] = {*text, '\0'};
        quoted(out, one);
    }
}

/* --- bash -------------------------------------------------------------------------------- */

static void bash_values(FILE *out, const es_verb *verb)
{
    for (size_t i = 0; i < verb->option_count; i++) {
        const es_option *o = &verb->options[i];
        if (o->kind == ES_OPTION_FLAG)
            continue;
        fputs("    ", out);
        label(out, verb);
        fprintf(out, ":--%s", o->name);
        if (o->letter) {
            fputc('|', out);
            label(out, verb);
            fprintf(out, ":-%c", o->letter);
        }
        fputs(") ", out);
        if (o->kind == ES_OPTION_FILE)
            fputs("COMPREPLY=($(compgen -f -- \"$word\"))", out);
        else if (o->choices) {
            fputs("COMPREPLY=($(compgen -W '", out);
            es_each_choice(o->choices, choice_with_space, out);
            fputs("' -- \"$word\"))", out);
        } else
            fputs("COMPREPLY=()", out);
        fputs("; return ;;\n", out);
    }
}

static void bash_operands(FILE *out, const es_verb *verb)
{
    fputs("    ", out);
    label(out, verb);
    fputs(") ", out);
    if (strcmp(verb->operand_kind, "file") == 0)
        fputs("COMPREPLY=($(compgen -f -- \"$word\"))", out);
    else if (strcmp(verb->operand_kind, "scenario") == 0)
        fputs("COMPREPLY=($(compgen -f -W \"$(evenspool rehearse --list 2>/dev/null | cut -d' ' "
              "-f1)\" -- \"$word\"))",
              out);
    else if (strcmp(verb->operand_kind, "verb") == 0) {
        fputs("COMPREPLY=($(compgen -W '", out);
        each_verb(out, " ", "");
        fputs("' -- \"$word\"))", out);
    } else
        fputs("COMPREPLY=()", out);
    fputs(" ;;\n", out);
}

static void bash_options(FILE *out, const es_verb *verb)
{
    fputs("        ", out);
    label(out, verb);
    fputs(") COMPREPLY=($(compgen -W '", out);
    for (size_t i = 0; i < verb->option_count; i++)
        fprintf(out, "--%s ", verb->options[i].name);
    fputs("--help' -- \"$word\")) ;;\n", out);
}

/* A verb with parts: the part's word, and then the part in place of the verb. */
static void bash_parts(FILE *out)
{
    const es_verb *verb;
    for (size_t i = 0; (verb = es_verb_at(i)); i++) {
        if (!verb->parts)
            continue;
        fprintf(out,
                "    if [[ $verb == %s ]]; then\n        if [[ $COMP_CWORD -eq 2 ]]; then\n"
                "            COMPREPLY=($(compgen -W '",
                verb->name);
        part_words(out, verb);
        fputs(" --help' -- \"$word\"))\n            return\n        fi\n"
              "        verb+=-${COMP_WORDS[2]}\n    fi\n",
              out);
    }
}

static void bash(FILE *out)
{
    fputs("# Completion for bash, made by `evenspool help --completion bash`.\n"
          "_evenspool() {\n"
          "    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]}\n"
          "    local verb=${COMP_WORDS[1]}\n"
          "    if [[ $COMP_CWORD -eq 1 ]]; then\n"
          "        COMPREPLY=($(compgen -W '",
          out);
    each_verb(out, " ", "");
    fputs(" --help --version' -- \"$word\"))\n        return\n    fi\n", out);
    bash_parts(out);
    fputs("    case $verb:$before in\n", out);
    each_runnable(out, bash_values);
    fputs("    esac\n    if [[ $word == -* ]]; then\n        case $verb in\n", out);
    each_runnable(out, bash_options);
    fputs("        esac\n        return\n    fi\n    case $verb in\n", out);
    each_runnable(out, bash_operands);
    fputs("    esac\n}\ncomplete -o filenames -F _evenspool evenspool\n", out);
}

/* --- zsh --------------------------------------------------------------------------------- */

static void zsh_option(FILE *out, const es_option *o)
{
    if (o->letter)
        fprintf(out, "                {-%c,--%s}", o->letter, o->name);
    else
        fprintf(out, "                --%s", o->name);
    fputs(o->value ? "'=[" : "'[", out);
    first_sentence(out, o->about, "[]:");
    fputc(']', out);
    if (o->value) {
        fputc(':', out);
        quoted(out, o->value);
        fputc(':', out);
    }
    if (o->kind == ES_OPTION_FILE)
        fputs("_files", out);
    if (o->choices) {
        fputc('(', out);
        es_each_choice(o->choices, choice_with_space, out);
        fputs(" )", out);
    }
    fputs("' \\\n", out);
}

static void zsh_operands(FILE *out, const es_verb *verb)
{
    if (strcmp(verb->operand_kind, "file") == 0)
        fputs(" \\\n                '*:capture:_files'", out);
    else if (strcmp(verb->operand_kind, "scenario") == 0)
        fputs(" \\\n                '1:scenario:_evenspool_scenarios'", out);
    else if (strcmp(verb->operand_kind, "verb") == 0) {
        fputs(" \\\n                '1:verb:(", out);
        each_verb(out, " ", "");
        fputs(")'", out);
    }
    fputc('\n', out);
}

static void zsh_verb(FILE *out, const es_verb *verb)
{
    fputs("        ", out);
    label(out, verb);
    fputs(")\n            _arguments \\\n", out);
    for (size_t i = 0; i < verb->option_count; i++)
        zsh_option(out, &verb->options[i]);
    fputs("                '(-h --help)'{-h,--help}'[what it can do]'", out);
    zsh_operands(out, verb);
    fputs("            ;;\n", out);
}

static void zsh_described(FILE *out, const char *word, const char *about)
{
    fprintf(out, "        '%s:", word);
    quoted(out, about);
    fputs("'\n", out);
}

static void zsh_parts(FILE *out)
{
    const es_verb *verb;
    for (size_t i = 0; (verb = es_verb_at(i)); i++) {
        if (!verb->parts)
            continue;
        fprintf(out, "    if [[ $verb == %s ]]; then\n        parts=(\n", verb->name);
        for (const es_verb *const *part = verb->parts; *part; part++) {
            fputs("    ", out);
            zsh_described(out, es_verb_word(*part), (*part)->about);
        }
        fputs("        )\n        if (( CURRENT == 2 )); then\n            _describe part parts\n"
              "            return\n        fi\n        verb+=-$words[2]\n        shift words\n"
              "        (( CURRENT-- ))\n    fi\n",
              out);
    }
}

static void zsh(FILE *out)
{
    const es_verb *verb;
    fputs("#compdef evenspool\n# Completion for zsh, made by `evenspool help --completion zsh`.\n"
          "_evenspool_scenarios() {\n    local -a names\n"
          "    names=(${(f)\"$(evenspool rehearse --list 2>/dev/null | cut -d' ' -f1)\"})\n"
          "    _alternative \"names:name:($names)\" 'files:file:_files'\n}\n\n"
          "_evenspool() {\n    local -a verbs parts\n    verbs=(\n",
          out);
    for (size_t i = 0; (verb = es_verb_at(i)); i++)
        zsh_described(out, verb->name, verb->about);
    fputs("        '--help:what it can do'\n        '--version:which version this is'\n    )\n"
          "    if (( CURRENT == 2 )); then\n        _describe verb verbs\n        return\n    fi\n"
          "    local verb=$words[2]\n    shift words\n    (( CURRENT-- ))\n",
          out);
    zsh_parts(out);
    fputs("    case $verb in\n", out);
    each_runnable(out, zsh_verb);
    fputs("    esac\n}\n_evenspool \"$@\"\n", out);
}

/* --- fish -------------------------------------------------------------------------------- */

/* The condition that this is being typed: "deck add" wants both words. */
static void fish_seen(FILE *out, const es_verb *verb)
{
    size_t first = strcspn(verb->name, " ");
    fprintf(out, "__fish_seen_subcommand_from %.*s", (int)first, verb->name);
    if (verb->name[first])
        fprintf(out, "; and __fish_seen_subcommand_from %s", verb->name + first + 1);
}

static void fish_option(FILE *out, const es_verb *verb, const es_option *o)
{
    fputs("complete -c evenspool -n '", out);
    fish_seen(out, verb);
    fprintf(out, "' -l %s", o->name);
    if (o->letter)
        fprintf(out, " -s %c", o->letter);
    if (o->kind == ES_OPTION_FILE)
        fputs(" -r -F", out);
    else if (o->value)
        fputs(" -x", out);
    if (o->choices) {
        fputs(" -a '", out);
        es_each_choice(o->choices, choice_with_space, out);
        fputc('\'', out);
    }
    fputs(" -d '", out);
    first_sentence(out, o->about, "");
    fputs("'\n", out);
}

static void fish_operands(FILE *out, const es_verb *verb)
{
    if (strcmp(verb->operand_kind, "scenario") == 0)
        fputs("complete -c evenspool -n '__fish_seen_subcommand_from rehearse' -a '(evenspool "
              "rehearse --list 2>/dev/null | string split -m1 -f1 \" \")'\n",
              out);
    if (strcmp(verb->operand_kind, "verb") == 0) {
        fprintf(out, "complete -c evenspool -n '__fish_seen_subcommand_from %s' -f -a '",
                verb->name);
        each_verb(out, " ", "");
        fputs("'\n", out);
    }
}

static void fish_runnable(FILE *out, const es_verb *verb)
{
    for (size_t i = 0; i < verb->option_count; i++)
        fish_option(out, verb, &verb->options[i]);
    fish_operands(out, verb);
}

static void fish_word(FILE *out, const char *word, const char *about)
{
    fprintf(out, "' -f -a %s -d '", word);
    quoted(out, about);
    fputs("'\n", out);
}

static void fish_parts(FILE *out, const es_verb *verb)
{
    for (const es_verb *const *part = verb->parts; part && *part; part++) {
        fprintf(out,
                "complete -c evenspool -n '__fish_seen_subcommand_from %s; and not "
                "__fish_seen_subcommand_from",
                verb->name);
        part_words(out, verb);
        fish_word(out, es_verb_word(*part), (*part)->about);
    }
}

static void fish(FILE *out)
{
    const es_verb *verb;
    fputs("# Completion for fish, made by `evenspool help --completion fish`.\n"
          "complete -c evenspool -n __fish_use_subcommand -f\n"
          "complete -c evenspool -n __fish_use_subcommand -l version -d 'Which version this is'\n"
          "complete -c evenspool -s h -l help -d 'What it can do'\n",
          out);
    for (size_t i = 0; (verb = es_verb_at(i)); i++) {
        fputs("complete -c evenspool -n '__fish_use_subcommand", out);
        fish_word(out, verb->name, verb->about);
        fish_parts(out, verb);
    }
    each_runnable(out, fish_runnable);
}

int es_completion(FILE *out, const char *shell)
{
    static const struct {
        const char *name;
        void (*write)(FILE *out);
    } shells[] = {{"bash", bash}, {"zsh", zsh}, {"fish", fish}};
    for (size_t i = 0; i < sizeof shells / sizeof *shells; i++)
        if (strcmp(shells[i].name, shell) == 0) {
            shells[i].write(out);
            return 1;
        }
    return 0;
}
