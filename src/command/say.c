#include "command/say.h"

#include "command/verb.h"
#include "evenspool/base/text.h"

#include <errno.h>
#include <stdarg.h>
#include <string.h>

#define BLANKS " \n\t\r" /* between words */

/* Bytes of a control character at `at`, of the ASCII set or of the next (C2 80 .. C2 9F); else 0. */
static size_t control(const unsigned char *at)
{
    if (at[0] < 0x20 || at[0] == 0x7F)
        return 1;
    return at[0] == 0xC2 && at[1] >= 0x80 && at[1] < 0xA0 ? 2 : 0;
}

const char *es_shown(const char *name, char *room, size_t size)
{
    es_text text = es_text_over(room, size);
    for (const char *at = name; *at && !text.cut;) {
        size_t bytes = control((const unsigned char *)at);
        es_text_add(&text, "%c", bytes ? '?' : *at);
        at += bytes ? bytes : 1;
    }
    return room;
}

const char *es_input_name(const char *file)
{
    return strcmp(file, "-") == 0 ? "standard input" : file;
}

int es_is_new(const char *text, char *kept, size_t room)
{
    if (strcmp(text, kept) == 0)
        return 0;
    es_text copy = es_text_over(kept, room);
    es_text_add(&copy, "%s", text);
    return text[0] != '\0';
}

void es_say(const char *about, const char *format, ...)
{
    char sentence[1024], shown[1024];
    es_text text = es_text_over(sentence, sizeof sentence);
    va_list list;
    va_start(list, format);
    es_text_add_list(&text, format, list);
    va_end(list);
    fflush(stdout); /* keeps the order when both go to one place */
    fputs("evenspool: ", stderr);
    if (about)
        fprintf(stderr, "%s: ", es_shown(about, shown, sizeof shown));
    fprintf(stderr, "%s\n", es_shown(sentence, shown, sizeof shown));
}

void es_say_error(const char *about, const es_error *error)
{
    es_say(about, "%s", error->text);
}

/* Characters, not bytes: names may hold some outside ASCII. */
static size_t columns(const char *text, size_t bytes)
{
    size_t count = 0;
    for (size_t i = 0; i < bytes; i++)
        count += ((unsigned char)text[i] & 0xC0) != 0x80;
    return count;
}

/* What a terminal would obey becomes a question mark, as in es_shown(). */
static void put_word(FILE *out, const char *word, size_t length)
{
    for (const char *at = word; at < word + length;) {
        size_t bytes = control((const unsigned char *)at);
        fputc(bytes ? '?' : *at, out);
        at += bytes ? bytes : 1;
    }
}

void es_wrap(FILE *out, const char *first, const char *rest, const char *text)
{
    size_t at = columns(first, strlen(first)), used = 0;
    fputs(first, out);
    while (*text) {
        size_t word = strcspn(text, BLANKS), wide = columns(text, word);
        if (used && at + 1 + wide > ES_LINE) {
            fprintf(out, "\n%s", rest);
            at = columns(rest, strlen(rest));
        } else if (used) {
            fputc(' ', out);
            at++;
        }
        put_word(out, text, word);
        at += wide;
        used = 1;
        text += word + strspn(text + word, BLANKS);
    }
    fputc('\n', out);
}

int es_end_of_output(int code)
{
    errno = 0;
    int broken = ferror(stdout);
    if (fflush(stdout) == 0 && !broken)
        return code;
    es_say(NULL, "Standard output can't be written (%s); free some space or send it elsewhere.",
           errno ? strerror(errno) : "a write failed");
    return code > ES_EXIT_AROUND ? code : ES_EXIT_AROUND;
}
