#include "command/help_text.h"

#include <ctype.h>
#include <string.h>

/* The language's own date would change with every build; this one changes with the texts. */
#define PAGE_DATE "November 25, 2025"

static void upper(FILE *out, const char *text)
{
    for (; *text; text++)
        fputc(toupper((unsigned char)*text), out);
}

/* Text as it is: a line must not begin with a control character, a backslash begins an escape,
 * and a hyphen is to stay one. */
static void plain(FILE *out, const char *text, size_t length)
{
    if (length > 0 && (text[0] == '.' || text[0] == '\''))
        fputs("\\&", out);
    for (size_t i = 0; i < length; i++)
        if (text[i] == '\\')
            fputs("\\e", out);
        else if (text[i] == '-')
            fputs("\\-", out);
        else
            fputc(text[i], out);
}

/* Each sentence on a line of its own, as the pages' language wants it. */
static void sentences(FILE *out, const char *text)
{
    while (*text) {
        const char *stop = text;
        while (*stop && !((*stop == '.' || *stop == ';' || *stop == ':') && stop[1] == ' '))
            stop++;
        size_t length = (size_t)(stop - text) + (*stop != '\0');
        plain(out, text, length);
        fputc('\n', out);
        text += length;
        text += strspn(text, " ");
    }
}

static void option(FILE *out, const es_option *o)
{
    fputs(".It ", out);
    if (o->letter)
        fprintf(out, "Fl %c , ", o->letter);
    fprintf(out, "Fl Fl %s", o->name);
    if (o->value)
        fprintf(out, " Ar %s", o->value);
    fputc('\n', out);
    sentences(out, o->about);
    if (o->kind == ES_OPTION_NUMBER)
        fprintf(out, "From %.10g to %.10g.\n", o->low, o->high);
}

static void exit_codes(FILE *out)
{
    fputs(".Sh EXIT STATUS\n.Bl -tag -width Ds\n", out);
    for (int code = 0; es_exit_meaning(code); code++)
        fprintf(out, ".It %d\n%s\n", code, es_exit_meaning(code));
    fputs(".El\n", out);
}

static void environment(FILE *out)
{
    fputs(".Sh ENVIRONMENT\n.Bl -tag -width Ds\n"
          ".It Ev NO_COLOR\nNot empty: no emphasis on a terminal.\n"
          ".It Ev TERM\nEmpty or\n.Dq dumb :\nthe same.\n.El\n",
          out);
}

static void see_also(FILE *out, const es_verb *self)
{
    const es_verb *verb;
    const char *mark = "";
    fputs(".Sh SEE ALSO\n", out);
    if (self) {
        fputs(".Xr evenspool 1", out);
        mark = " ,\n";
    }
    for (size_t i = 0; (verb = es_verb_at(i)); i++) {
        if (verb == self)
            continue;
        fprintf(out, "%s.Xr evenspool-%s 1", mark, verb->name);
        mark = " ,\n";
    }
    fputc('\n', out);
}

static void head(FILE *out, const es_verb *verb)
{
    fputs(".\\\" Made from the program's own tables by `evenspool help --man`; edit those.\n"
          ".Dd " PAGE_DATE "\n.Dt EVENSPOOL",
          out);
    if (verb) {
        fputc('-', out);
        upper(out, verb->name);
    }
    fputs(" 1\n.Os\n.Sh NAME\n", out);
    if (verb)
        fprintf(out, ".Nm evenspool-%s\n.Nd %s\n", verb->name, verb->about);
    else
        fputs(".Nm evenspool\n.Nd brings a tape deck back to true speed\n", out);
}

static void paragraphs(FILE *out, const char *const *details)
{
    for (size_t i = 0; details[i]; i++) {
        fputs(i ? ".Pp\n" : "", out);
        sentences(out, details[i]);
    }
}

static void options_of(FILE *out, const es_verb *verb)
{
    fputs(".Pp\nThe options are:\n.Bl -tag -width Ds\n", out);
    for (size_t i = 0; i < verb->option_count; i++)
        option(out, &verb->options[i]);
    fputs(".It Fl h , Fl Fl help\nPrint a short form of this page.\n.El\n", out);
}

static void parts_of(FILE *out, const es_verb *verb)
{
    for (const es_verb *const *part = verb->parts; *part; part++) {
        fprintf(out, ".Ss evenspool %s Op Ar option ...", (*part)->name);
        if ((*part)->operands[0])
            fprintf(out, " Ar %s", (*part)->operands);
        fputc('\n', out);
        paragraphs(out, (*part)->details);
        options_of(out, *part);
    }
}

static int has_examples(const es_verb *verb)
{
    const es_verb *part;
    int any = verb->examples[0] != NULL;
    for (size_t i = 0; (part = es_verb_runnable(verb, i)); i++)
        any |= part->examples[0] != NULL;
    return any;
}

static void examples_of(FILE *out, const es_verb *verb)
{
    for (size_t i = 0; verb->examples[i]; i += 2) {
        sentences(out, verb->examples[i + 1]);
        fputs(".Pp\n.Dl ", out);
        plain(out, verb->examples[i], strlen(verb->examples[i]));
        fputs(verb->examples[i + 2] ? "\n.Pp\n" : "\n", out);
    }
}

static void verb_page(FILE *out, const es_verb *verb)
{
    fprintf(out, ".Sh SYNOPSIS\n.Nm evenspool\n.Cm %s\n", verb->name);
    fputs(verb->parts ? ".Ar part\n.Op Ar option ...\n" : ".Op Ar option ...\n", out);
    if (verb->operands[0])
        fprintf(out, ".Ar %s\n", verb->operands);
    fputs(".Sh DESCRIPTION\n", out);
    paragraphs(out, verb->details);
    if (verb->parts)
        parts_of(out, verb);
    else
        options_of(out, verb);
    environment(out);
    exit_codes(out);
    if (has_examples(verb))
        fputs(".Sh EXAMPLES\n", out);
    examples_of(out, verb);
    for (const es_verb *const *part = verb->parts; part && *part; part++) {
        fputs((part != verb->parts || verb->examples[0]) && (*part)->examples[0] ? ".Pp\n" : "",
              out);
        examples_of(out, *part);
    }
}

static void program_page(FILE *out)
{
    const es_verb *verb;
    fputs(".Sh SYNOPSIS\n.Nm\n.Ar verb\n.Op Ar option ...\n.Op Ar argument ...\n.Nm\n"
          ".Fl Fl help | Fl Fl version\n.Sh DESCRIPTION\n"
          "A measuring bench for people who bring tape decks back to true speed.\n"
          "From a recording of a played test tone\n.Nm\n"
          "tells how fast a deck runs, how steadily, what is behind an unsteadiness, and whether "
          "the\n"
          "trimmer is the right cure.\n.Pp\nThe verbs are:\n.Bl -tag -width Ds\n",
          out);
    for (size_t i = 0; (verb = es_verb_at(i)); i++)
        fprintf(out, ".It Cm %s\n%s; see\n.Xr evenspool-%s 1 .\n", verb->name, verb->about,
                verb->name);
    fputs(".El\n", out);
    exit_codes(out);
}

void es_man_page(FILE *out, const es_verb *verb)
{
    head(out, verb);
    if (verb)
        verb_page(out, verb);
    else
        program_page(out);
    see_also(out, verb);
}
