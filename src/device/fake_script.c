#include "device/fake_script.h"

#include "evenspool/base/text.h"

#include <stdio.h>
#include <string.h>

#define LINE_ROOM 300

static const struct {
    const char *word;
    int has_amount;
} whats[ES_FAKE_WHATS] = {
    [ES_FAKE_OVERFLOW] = {"overflow", 0}, [ES_FAKE_LOSE] = {"lose", 1},
    [ES_FAKE_STALL] = {"stall", 1},       [ES_FAKE_SILENT] = {"silent", 0},
    [ES_FAKE_UNPLUG] = {"unplug", 0},     [ES_FAKE_PLUG] = {"plug", 0},
    [ES_FAKE_BUSY] = {"busy", 0},         [ES_FAKE_FREE] = {"free", 0},
};

static int read_place(es_fake_script *s, const char *line)
{
    int in, out, from = 0;
    double rate_hz;
    if (s->place_count == ES_FAKE_PLACES ||
        sscanf(line, "place %d %d %lf %n", &in, &out, &rate_hz, &from) != 3 || from == 0 ||
        line[from] == '\0' || in < 0 || out < 0)
        return 0;
    es_place *p = &s->places[s->place_count++];
    *p = (es_place){.inputs = in, .outputs = out, .listed_rate_hz = rate_hz};
    es_text name = es_text_over(p->name, sizeof p->name);
    es_text_add(&name, "%s", line + from);
    es_text system = es_text_over(p->system, sizeof p->system);
    es_text_add(&system, "script");
    return 1;
}

/* The place that an event names, or the first. */
static int place_of(const es_fake_script *s, const char *name, size_t *place)
{
    *place = 0;
    if (name[0] == '\0')
        return s->place_count > 0;
    for (; *place < s->place_count; (*place)++)
        if (strcmp(s->places[*place].name, name) == 0)
            return 1;
    return 0;
}

static int what_of(const char *word, es_fake_what *what)
{
    for (int i = 0; i < ES_FAKE_WHATS; i++)
        if (strcmp(word, whats[i].word) == 0) {
            *what = (es_fake_what)i;
            return 1;
        }
    return 0;
}

static int read_event(es_fake_script *s, const char *line)
{
    double at_s;
    char word[16];
    int from = 0, more = 0;
    es_fake_event e = {0};
    if (s->event_count == ES_FAKE_EVENTS ||
        sscanf(line, "at %lf %15s %n", &at_s, word, &from) != 2 || !(at_s >= 0.0) ||
        !what_of(word, &e.what))
        return 0;
    if (whats[e.what].has_amount) {
        if (sscanf(line + from, "%lf %n", &e.amount, &more) != 1 || !(e.amount > 0.0))
            return 0;
        from += more;
    }
    e.at_ns = (int64_t)(at_s * 1e9 + 0.5);
    if (!place_of(s, line + from, &e.place))
        return 0;
    size_t i = s->event_count++;
    for (; i > 0 && s->events[i - 1].at_ns > e.at_ns; i--)
        s->events[i] = s->events[i - 1];
    s->events[i] = e;
    return 1;
}

static int read_line(es_fake_script *s, const char *line)
{
    if (line[0] == '\0' || line[0] == '#')
        return 1;
    if (strncmp(line, "place ", 6) == 0)
        return read_place(s, line);
    if (strncmp(line, "at ", 3) == 0)
        return read_event(s, line);
    if (strncmp(line, "only ", 5) == 0)
        return s->place_count > 0 && sscanf(line, "only %lf", &s->only_hz[s->place_count - 1]) == 1;
    if (strncmp(line, "clock ", 6) == 0)
        return s->place_count > 0 &&
               sscanf(line, "clock %lf", &s->clock_ppm[s->place_count - 1]) == 1;
    if (strncmp(line, "raw ", 4) == 0)
        return sscanf(line, "raw %255[^\n]", s->raw) == 1;
    return sscanf(line, "tone %lf %lf", &s->tone_hz, &s->peak) == 2;
}

static void prefer_the_first(es_fake_script *s)
{
    int in = 0, out = 0;
    for (size_t i = 0; i < s->place_count; i++) {
        s->places[i].first_in = !in && s->places[i].inputs > 0;
        s->places[i].first_out = !out && s->places[i].outputs > 0;
        in |= s->places[i].first_in;
        out |= s->places[i].first_out;
    }
}

es_status es_fake_script_read(const char *text, es_fake_script *out, es_error *error)
{
    *out = (es_fake_script){0};
    for (int number = 1; *text; number++) {
        char line[LINE_ROOM];
        size_t length = strcspn(text, "\n");
        if (length >= sizeof line)
            return es_fail(error, ES_ERR_ARG, "script", "Line %d is too long.", number);
        const char *begin = text;
        size_t blank = strspn(begin, " ");
        text += length + (text[length] == '\n');
        blank = blank < length ? blank : length;
        memcpy(line, begin + blank, length - blank);
        line[length - blank] = '\0';
        if (!read_line(out, line))
            return es_fail(error, ES_ERR_ARG, "script", "Line %d can't be understood: %s", number,
                           line);
    }
    prefer_the_first(out);
    return ES_OK;
}
