#include "command/help_text.h"

#include <string.h>

/* --- shared ----------------------------------------------------------------------------- */

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
        fprintf(out, "    %s:--%s", verb->name, o->name);
        if (o->letter)
            fprintf(out, "|%s:-%c", verb->name, o->letter);
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

static void bash(FILE *out)
{
    const es_verb *verb;
    fputs("# Completion for bash, made by `evenspool help --completion bash`.\n"
          "_evenspool() {\n"
          "    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]}\n"
          "    local verb=${COMP_WORDS[1]}\n"
          "    if [[ $COMP_CWORD -eq 1 ]]; then\n"
          "        COMPREPLY=($(compgen -W '",
          out);
    each_verb(out, " ", "");
    fputs(" --help --version' -- \"$word\"))\n        return\n    fi\n    case $verb:$before in\n",
          out);
    for (size_t i = 0; (verb = es_verb_at(i)); i++)
        bash_values(out, verb);
    fputs("    esac\n    if [[ $word == -* ]]; then\n        case $verb in\n", out);
    for (size_t i = 0; (verb = es_verb_at(i)); i++) {
        fprintf(out, "        %s) COMPREPLY=($(compgen -W '", verb->name);
        for (size_t k = 0; k < verb->option_count; k++)
            fprintf(out, "--%s ", verb->options[k].name);
        fputs("--help' -- \"$word\")) ;;\n", out);
    }
    fputs("        esac\n        return\n    fi\n    case $verb in\n", out);
    for (size_t i = 0; (verb = es_verb_at(i)); i++) {
        fprintf(out, "    %s) ", verb->name);
        bash_operands(out, verb);
    }
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

static void zsh(FILE *out)
{
    const es_verb *verb;
    fputs("#compdef evenspool\n# Completion for zsh, made by `evenspool help --completion zsh`.\n"
          "_evenspool_scenarios() {\n    local -a names\n"
          "    names=(${(f)\"$(evenspool rehearse --list 2>/dev/null | cut -d' ' -f1)\"})\n"
          "    _alternative \"names:name:($names)\" 'files:file:_files'\n}\n\n"
          "_evenspool() {\n    local -a verbs\n    verbs=(\n",
          out);
    for (size_t i = 0; (verb = es_verb_at(i)); i++) {
        fprintf(out, "        '%s:", verb->name);
        quoted(out, verb->about);
        fputs("'\n", out);
    }
    fputs("        '--help:what it can do'\n        '--version:which version this is'\n    )\n"
          "    if (( CURRENT == 2 )); then\n        _describe verb verbs\n        return\n    fi\n"
          "    local verb=$words[2]\n    shift words\n    (( CURRENT-- ))\n    case $verb in\n",
          out);
    for (size_t i = 0; (verb = es_verb_at(i)); i++) {
        fprintf(out, "        %s)\n            _arguments \\\n", verb->name);
        for (size_t k = 0; k < verb->option_count; k++)
            zsh_option(out, &verb->options[k]);
        fputs("                '(-h --help)'{-h,--help}'[what it can do]'", out);
        zsh_operands(out, verb);
        fputs("            ;;\n", out);
    }
    fputs("    esac\n}\n_evenspool \"$@\"\n", out);
}

/* --- fish -------------------------------------------------------------------------------- */

static void fish_option(FILE *out, const es_verb *verb, const es_option *o)
{
    fprintf(out, "complete -c evenspool -n '__fish_seen_subcommand_from %s' -l %s", verb->name,
            o->name);
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

static void fish(FILE *out)
{
    const es_verb *verb;
    fputs("# Completion for fish, made by `evenspool help --completion fish`.\n"
          "complete -c evenspool -n __fish_use_subcommand -f\n"
          "complete -c evenspool -n __fish_use_subcommand -l version -d 'Which version this is'\n"
          "complete -c evenspool -s h -l help -d 'What it can do'\n",
          out);
    for (size_t i = 0; (verb = es_verb_at(i)); i++) {
        fprintf(out, "complete -c evenspool -n __fish_use_subcommand -f -a %s -d '", verb->name);
        quoted(out, verb->about);
        fputs("'\n", out);
        for (size_t k = 0; k < verb->option_count; k++)
            fish_option(out, verb, &verb->options[k]);
        fish_operands(out, verb);
    }
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
