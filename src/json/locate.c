#include "json/locate.h"

#include <string.h>

typedef struct walker {
    const char *at, *end;
} walker;

static void skip_space(walker *w)
{
    while (w->at < w->end && memchr(" \t\r\n", *w->at, 4))
        w->at++;
}

/* Past the string that begins here. */
static void skip_string(walker *w)
{
    for (w->at++; w->at < w->end && *w->at != '"'; w->at++)
        if (*w->at == '\\' && w->at + 1 < w->end)
            w->at++;
    if (w->at < w->end)
        w->at++;
}

/* Past the value that begins here. */
static void skip_value(walker *w)
{
    size_t deep = 0;
    do {
        char c = *w->at;
        if (c == '"') {
            skip_string(w);
            continue;
        }
        if (c == '{' || c == '[')
            deep++;
        else if ((c == '}' || c == ']') && deep-- <= 1)
            deep = 0;
        w->at++;
    } while (w->at < w->end && (deep > 0 || !memchr(",}] \t\r\n", *w->at, 7)));
}

/* On to what follows a comma; 0: there is no more. */
static int next_element(walker *w)
{
    skip_space(w);
    if (w->at >= w->end || *w->at != ',')
        return 0;
    w->at++;
    skip_space(w);
    return w->at < w->end;
}

/* Into the container that begins here; 0: it is none, or empty. */
static int enter(walker *w, char opening, char closing)
{
    if (w->at >= w->end || *w->at != opening)
        return 0;
    w->at++;
    skip_space(w);
    return w->at < w->end && *w->at != closing;
}

/* To the value under key; *key_at is where the key begins. */
static int to_member(walker *w, const char *key, const char **key_at)
{
    size_t length = strlen(key);
    for (int more = enter(w, '{', '}'); more && *w->at == '"'; more = next_element(w)) {
        const char *begin = w->at;
        skip_string(w);
        int is_it = (size_t)(w->at - begin) == length + 2 && memcmp(begin + 1, key, length) == 0;
        skip_space(w);
        if (w->at >= w->end || *w->at != ':')
            return 0;
        w->at++;
        skip_space(w);
        if (w->at >= w->end)
            return 0;
        *key_at = begin;
        if (is_it)
            return 1;
        skip_value(w);
    }
    return 0;
}

static int to_element(walker *w, size_t index)
{
    int more = enter(w, '[', ']');
    for (; more && index > 0; index--) {
        skip_value(w);
        more = next_element(w);
    }
    return more;
}

static es_json_spot spot_of(const char *text, const char *at)
{
    es_json_spot spot = {.line = 1, .column = 1};
    for (; text < at; text++) {
        if (*text == '\n') {
            spot.line++;
            spot.column = 1;
        } else if (((unsigned char)*text & 0xC0) != 0x80) {
            spot.column++;
        }
    }
    return spot;
}

es_json_spot es_json_locate(const char *text, size_t length, const es_json_path *path, int at_key)
{
    walker w = {text, text + length};
    skip_space(&w);
    const char *found = w.at, *key_at = NULL;
    size_t depth = 0;
    for (; depth < path->depth; depth++) {
        const es_json_step *step = &path->step[depth];
        const char *key = NULL;
        if (!(step->key ? to_member(&w, step->key, &key) : to_element(&w, step->index)))
            break;
        found = w.at;
        key_at = key;
    }
    es_json_spot spot = spot_of(text, at_key && key_at ? key_at : found);
    spot.depth = depth;
    return spot;
}
