#include "evenspool/task/tape_limits.h"

#include "evenspool/base/text.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define PRACTICE "common practice, no source"
#define DIN "DIN 45500"

/* What is usual, and by whom. [0] cassette, [1] reel. */
typedef struct limit {
    const char *name, *unit;
    double most; /* largest that makes sense in a text */
    double usual[2];
    const char *source;
} limit;

static const limit limits[ES_LIMIT_COUNT] = {
    [ES_LIMIT_SPEED] = {"speed", "%", 10.0, {0.3, 0.3}, PRACTICE},
    [ES_LIMIT_FLUTTER] = {"flutter", "%", 10.0, {0.3, 0.2}, DIN " allows 0.2 % weighted"},
    [ES_LIMIT_AZIMUTH] =
        {"azimuth", "deg", 180.0, {45.0, 45.0}, PRACTICE " (45 degrees at 10 kHz)"},
    [ES_LIMIT_LEVEL] = {"level", "dB", 20.0, {1.0, 1.0}, PRACTICE},
    [ES_LIMIT_BALANCE] = {"balance", "dB", 20.0, {1.0, 1.0}, PRACTICE "; " DIN " allows 2 dB"},
    [ES_LIMIT_RESPONSE] = {"response", "dB", 20.0, {2.0, 2.0}, PRACTICE},
    [ES_LIMIT_RESPONSE_WIDE] = {"response-wide", "dB", 20.0, {3.0, 3.0}, PRACTICE},
    [ES_LIMIT_NOISE] =
        {"noise", "dB", 120.0, {42.0, 46.0}, DIN ": 46 dB under full level, 4 dB above reference"},
    [ES_LIMIT_NOISE_A] = {"noise-a", "dB", 120.0, {48.0, 52.0}, PRACTICE},
    [ES_LIMIT_HUM] = {"hum", "dB", 120.0, {50.0, 54.0}, PRACTICE},
    [ES_LIMIT_DISTORTION] = {"distortion", "%", 30.0, {3.0, 3.0}, DIN ": 3 % at full level"},
    [ES_LIMIT_SEPARATION] = {"separation", "dB", 90.0, {20.0, 20.0}, DIN ": 20 dB at 1 kHz"},
    [ES_LIMIT_SEPARATION_WIDE] =
        {"separation-wide", "dB", 90.0, {15.0, 15.0}, DIN ": 15 dB from 500 to 6300 Hz"},
    [ES_LIMIT_DROPOUTS] = {"dropouts", "/min", 1000.0, {6.0, 6.0}, PRACTICE},
};

static const char *const sets[] = {"cassette", "reel"};
#define SETS (sizeof sets / sizeof *sets)

const char *es_tape_limit_name(es_tape_limit_key key)
{
    return (unsigned)key < ES_LIMIT_COUNT ? limits[key].name : "";
}

const char *es_tape_limit_unit(es_tape_limit_key key)
{
    return (unsigned)key < ES_LIMIT_COUNT ? limits[key].unit : "";
}

const char *es_tape_limits_name(size_t index)
{
    return index < SETS ? sets[index] : "";
}

static void say(char *to, size_t room, const char *what)
{
    es_text text = es_text_over(to, room);
    es_text_add(&text, "%s", what);
}

static void fill(es_tape_limits *out, size_t set)
{
    memset(out, 0, sizeof *out);
    say(out->name, sizeof out->name, sets[set]);
    for (int i = 0; i < ES_LIMIT_COUNT; i++) {
        out->value[i] = limits[i].usual[set];
        say(out->source[i], sizeof out->source[i], limits[i].source);
    }
}

es_status es_tape_limits_named(const char *name, es_tape_limits *out)
{
    size_t i = 0;
    while (i < SETS && strcmp(sets[i], name) != 0)
        i++;
    fill(out, i < SETS ? i : 0);
    return i < SETS ? ES_OK : ES_ERR_ARG;
}

void es_tape_limits_usual(const char *transport, es_tape_limits *out)
{
    fill(out, strncmp(transport, "reel", 4) == 0);
}

/* --- own sets --------------------------------------------------------------------------- */

typedef struct word {
    const char *at;
    size_t length;
} word;

typedef struct place {
    const char *line;
    int number;
    es_error *error;
} place;

static word next_word(const char **at, const char *end)
{
    while (*at < end && isblank((unsigned char)**at))
        (*at)++;
    word w = {*at, 0};
    while (*at < end && !isblank((unsigned char)**at))
        (*at)++;
    w.length = (size_t)(*at - w.at);
    return w;
}

static int is(word w, const char *name)
{
    return w.length == strlen(name) && memcmp(w.at, name, w.length) == 0;
}

static es_status expected(const place *p, word found, const char *what)
{
    char shown[32];
    es_text text = es_text_over(shown, sizeof shown);
    for (size_t i = 0; i < found.length && i < 24; i++)
        es_text_add(&text, "%c", isprint((unsigned char)found.at[i]) ? found.at[i] : '?');
    int column = 1;
    for (const char *c = p->line; c < found.at; c++)
        column += ((unsigned char)*c & 0xC0) != 0x80;
    return es_fail(p->error, ES_ERR_INPUT, "limits",
                   "Line %d, column %d: expected %s, found %s%s%s.", p->number, column, what,
                   found.length ? "\"" : "", found.length ? shown : "nothing",
                   found.length ? "\"" : "");
}

static es_status expected_key(const place *p, word found)
{
    char list[240];
    es_text text = es_text_over(list, sizeof list);
    es_text_add(&text, "a limit (");
    for (int i = 0; i < ES_LIMIT_COUNT; i++)
        es_text_add(&text, "%s%s", i ? ", " : "", limits[i].name);
    es_text_add(&text, ")");
    return expected(p, found, list);
}

/* Plain decimal notation only. */
static int number_of(word w, double *out)
{
    char room[24];
    if (w.length == 0 || w.length >= sizeof room)
        return 0;
    for (size_t i = 0; i < w.length; i++)
        if (!isdigit((unsigned char)w.at[i]) && w.at[i] != '.')
            return 0;
    memcpy(room, w.at, w.length);
    room[w.length] = '\0';
    char *end;
    *out = strtod(room, &end);
    return *end == '\0' && isdigit((unsigned char)w.at[0]);
}

static es_status take_limit(const place *p, word key, const char **at, const char *end,
                            es_tape_limits *out)
{
    int i = 0;
    while (i < ES_LIMIT_COUNT && !is(key, limits[i].name))
        i++;
    if (i == ES_LIMIT_COUNT)
        return expected_key(p, key);
    char want[80];
    es_text text = es_text_over(want, sizeof want);
    es_text_add(&text, "a number from 0 to %g %s", limits[i].most, limits[i].unit);
    word value = next_word(at, end), unit = next_word(at, end);
    double number;
    if (!number_of(value, &number) || !(number <= limits[i].most))
        return expected(p, value, want);
    if (unit.length && !is(unit, limits[i].unit))
        return expected(p, unit, limits[i].unit);
    out->value[i] = number;
    say(out->source[i], sizeof out->source[i], "your own limits");
    return ES_OK;
}

static es_status take_like(const place *p, const char **at, const char *end, es_tape_limits *out)
{
    word set = next_word(at, end);
    for (size_t i = 0; i < SETS; i++)
        if (is(set, sets[i])) {
            char name[sizeof out->name];
            memcpy(name, out->name, sizeof name);
            fill(out, i);
            memcpy(out->name, name, sizeof name);
            return ES_OK;
        }
    return expected(p, set, "cassette or reel");
}

static es_status take_name(const place *p, const char *at, const char *end, es_tape_limits *out)
{
    word rest = next_word(&at, end);
    rest.length = (size_t)(end - rest.at);
    while (rest.length && isspace((unsigned char)rest.at[rest.length - 1]))
        rest.length--;
    if (rest.length == 0 || rest.length >= sizeof out->name)
        return expected(p, (word){rest.at, 0}, "a name of 1 to 47 letters");
    memcpy(out->name, rest.at, rest.length);
    out->name[rest.length] = '\0';
    return ES_OK;
}

static es_status take_line(const place *p, const char *end, int *limits_given, es_tape_limits *out)
{
    const char *at = p->line, *remark = memchr(at, '#', (size_t)(end - at));
    if (remark)
        end = remark;
    if (end > at && end[-1] == '\r')
        end--;
    word key = next_word(&at, end);
    if (key.length == 0)
        return ES_OK;
    if (is(key, "name"))
        return take_name(p, at, end, out);
    if (is(key, "like")) {
        if (*limits_given)
            return expected(p, key, "\"like\" before the first limit");
    } else {
        *limits_given = 1;
    }
    es_status status =
        is(key, "like") ? take_like(p, &at, end, out) : take_limit(p, key, &at, end, out);
    word more = next_word(&at, end);
    return status == ES_OK && more.length ? expected(p, more, "the end of the line") : status;
}

es_status es_tape_limits_parse(const char *text, size_t length, es_tape_limits *out,
                               es_error *error)
{
    const char *at = text, *end = text + length;
    place p = {at, 0, error};
    int limits_given = 0;
    es_status status = ES_OK;
    fill(out, 0);
    say(out->name, sizeof out->name, "own");
    while (at < end && status == ES_OK) {
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        p.line = at;
        p.number++;
        stop = stop ? stop : end;
        status = take_line(&p, stop, &limits_given, out);
        at = stop < end ? stop + 1 : end;
    }
    if (status != ES_OK)
        fill(out, 0);
    return status;
}
