#include "paper/svg_text.h"

#include <pango/pangocairo.h>
#include <stdlib.h>
#include <string.h>

int es_svg_text_add(es_svg_text *text, const unsigned char *bytes, size_t count)
{
    if (text->count + count > text->room) {
        size_t room = 2 * (text->count + count) + 65536;
        char *at = realloc(text->at, room);
        if (!at)
            return 0;
        text->at = at;
        text->room = room;
    }
    memcpy(text->at + text->count, bytes, count);
    text->count += count;
    return 1;
}

void es_svg_text_free(es_svg_text *text)
{
    free(text->at);
    *text = (es_svg_text){0};
}

static int write_part(es_out_file *file, const char *from, const char *to)
{
    return es_out_file_write(file, (const unsigned char *)from, (size_t)(to - from));
}

static int write_words(es_out_file *file, const char *element, const char *words)
{
    char *line = g_markup_printf_escaped("\n<%s>%s</%s>", element, words, element);
    int good = write_part(file, line, line + strlen(line));
    g_free(line);
    return good;
}

static const char *find(const char *from, const char *end, const char *words)
{
    size_t length = strlen(words);
    for (; from < end && (size_t)(end - from) >= length; from++)
        if (memcmp(from, words, length) == 0)
            return from;
    return NULL;
}

/* The body, with id="surface123" as id="surface": nothing refers to it. */
static int write_body(es_out_file *file, const char *from, const char *end)
{
    static const char mark[] = "id=\"surface";
    const char *found;
    int good = 1;
    while (good && (found = find(from, end, mark))) {
        found += strlen(mark);
        good = write_part(file, from, found);
        for (from = found; from < end && *from >= '0' && *from <= '9';)
            from++;
    }
    return good && write_part(file, from, end);
}

int es_svg_text_write(const es_svg_text *text, const char *title, const char *description,
                      es_out_file *file)
{
    const char *from = text->at, *end = text->at + text->count;
    const char *open = find(from, end, "<svg");
    const char *head = open ? find(open, end, ">") : NULL;
    if (!head)
        return write_part(file, from, end);
    head++;
    return write_part(file, from, head) && write_words(file, "title", title) &&
           write_words(file, "desc", description) && write_body(file, head, end);
}
