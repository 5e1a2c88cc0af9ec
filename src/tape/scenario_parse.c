#include "evenspool/base/text.h"
#include "evenspool/tape/scenario.h"

#include "tape/number.h"
#include "tape/scenario_keys.h"

#include <math.h>
#include <string.h>

#define KEYS_MOST 128

/* A piece of the text. */
typedef struct piece {
    const char *at;
    size_t length;
} piece;

typedef struct parser {
    es_scenario *scenario;
    es_error *error;
    int line;                /* of the one being read, from 1           */
    piece whole;             /* that line                                */
    int sizes;               /* line on which a size was first given     */
    int first;               /* line of the first key; 0: none yet       */
    int given_on[KEYS_MOST]; /* line on which each key was given; 0: not */
} parser;

/* --- saying what is wrong ---------------------------------------------------------- */

/* Column of a byte in the line, in characters from 1. */
static int column_of(const parser *p, const char *at)
{
    int column = 1;
    for (const char *c = p->whole.at; c < at; c++)
        column += ((unsigned char)*c & 0xC0) != 0x80;
    return column;
}

/* What stands there, made fit for printing. */
static void add_found(es_text *text, piece found)
{
    if (found.length == 0) {
        es_text_add(text, "nothing");
        return;
    }
    size_t shown = found.length < 30 ? found.length : 30;
    es_text_add(text, "\"");
    for (size_t i = 0; i < shown; i++) {
        unsigned char c = (unsigned char)found.at[i];
        es_text_add(text, "%c", c >= ' ' && c < 0x7F ? (char)c : '?');
    }
    es_text_add(text, shown < found.length ? "...\"" : "\"");
}

static es_status expected(parser *p, piece found, const char *wanted)
{
    char room[80];
    es_text text = es_text_over(room, sizeof room);
    add_found(&text, found);
    return es_fail(p->error, ES_ERR_INPUT, "scenario-text",
                   "Line %d, column %d: expected %s, found %s.", p->line, column_of(p, found.at),
                   wanted, room);
}

static es_status expected_value(parser *p, piece found, const es_scenario_key *key)
{
    char room[256];
    es_text text = es_text_over(room, sizeof room);
    es_scenario_key_wants(&text, key);
    es_text_add(&text, " for %s", key->name);
    return expected(p, found, room);
}

/* --- pieces -------------------------------------------------------------------------- */

static int is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r';
}

static piece trimmed(piece t)
{
    for (; t.length && is_blank(t.at[0]); t.length--)
        t.at++;
    while (t.length && is_blank(t.at[t.length - 1]))
        t.length--;
    return t;
}

static piece until(piece t, char mark)
{
    const char *end = memchr(t.at, mark, t.length);
    return (piece){t.at, end ? (size_t)(end - t.at) : t.length};
}

static piece after(piece t, size_t used)
{
    return (piece){t.at + used, t.length - used};
}

static int is_word(piece t, const char *word)
{
    return t.length == strlen(word) && memcmp(t.at, word, t.length) == 0;
}

/* --- values -------------------------------------------------------------------------- */

static es_status take_number(parser *p, const es_scenario_key *key, piece value)
{
    double *field = es_scenario_number(p->scenario, key);
    es_decimal number;
    if (key->kind == ES_KEY_LEVEL && is_word(value, "none")) {
        *field = key->none;
        return ES_OK;
    }
    size_t used = es_decimal_read(value.at, value.length, &number);
    if (used == 0)
        return expected_value(p, value, key);
    piece unit = trimmed(after(value, used));
    if (!is_word(unit, key->unit))
        return expected_value(p, unit, key);
    *field = es_decimal_value(number, key->shift);
    if (!isfinite(*field) || !es_scenario_key_holds(p->scenario, key))
        return expected_value(p, value, key);
    return ES_OK;
}

static es_status take_seed(parser *p, const es_scenario_key *key, piece value)
{
    uint64_t seed = 0;
    for (size_t i = 0; i < value.length; i++) {
        if (value.at[i] < '0' || value.at[i] > '9' || seed > ES_SEED_MOST / 10)
            return expected_value(p, value, key);
        seed = seed * 10 + (uint64_t)(value.at[i] - '0');
    }
    if (value.length == 0 || seed > ES_SEED_MOST)
        return expected_value(p, value, key);
    p->scenario->seed = seed;
    return ES_OK;
}

static es_status take_word(parser *p, const es_scenario_key *key, piece value)
{
    for (unsigned i = 0; i < sizeof key->words / sizeof *key->words && key->words[i]; i++)
        if (is_word(value, key->words[i])) {
            *es_scenario_word(p->scenario, key) = i;
            return ES_OK;
        }
    return expected_value(p, value, key);
}

static es_status take_class(parser *p, const es_scenario_key *key, piece value)
{
    if (p->sizes)
        return es_fail(p->error, ES_ERR_INPUT, "scenario-text",
                       "Line %d, column %d: class sets the usual sizes and must stand before the "
                       "sizes, the first of which is on line %d.",
                       p->line, column_of(p, p->whole.at), p->sizes);
    for (int i = 0; i < ES_TRANSPORT_CLASS_COUNT; i++)
        if (is_word(value, es_transport_name((es_transport_class)i))) {
            es_scenario_set_class(p->scenario, (es_transport_class)i);
            return ES_OK;
        }
    return expected_value(p, value, key);
}

static es_status take_like(parser *p, const es_scenario_key *key, piece value)
{
    char name[ES_SCENARIO_NAME] = "";
    es_scenario start;
    if (p->first)
        return es_fail(p->error, ES_ERR_INPUT, "scenario-text",
                       "Line %d, column %d: like must be the first setting, but line %d has one.",
                       p->line, column_of(p, p->whole.at), p->first);
    if (!es_scenario_name_is_sound(value.at, value.length))
        return expected_value(p, value, key);
    memcpy(name, value.at, value.length);
    if (es_scenario_find(name, &start) != ES_OK)
        return expected_value(p, value, key);
    memcpy(start.name, p->scenario->name, sizeof start.name);
    memcpy(start.about, p->scenario->about, sizeof start.about);
    *p->scenario = start;
    return ES_OK;
}

static es_status take_text(parser *p, const es_scenario_key *key, piece value)
{
    int is_name = key->kind == ES_KEY_NAME;
    if (is_name ? !es_scenario_name_is_sound(value.at, value.length)
                : !es_scenario_about_is_sound(value.at, value.length))
        return expected_value(p, value, key);
    char *field = is_name ? p->scenario->name : p->scenario->about;
    memset(field, 0, is_name ? sizeof p->scenario->name : sizeof p->scenario->about);
    memcpy(field, value.at, value.length);
    return ES_OK;
}

static es_status take_value(parser *p, const es_scenario_key *key, piece value)
{
    switch (key->kind) {
    case ES_KEY_LIKE:
        return take_like(p, key, value);
    case ES_KEY_NAME:
    case ES_KEY_ABOUT:
        return take_text(p, key, value);
    case ES_KEY_SEED:
        return take_seed(p, key, value);
    case ES_KEY_CLASS:
        return take_class(p, key, value);
    case ES_KEY_WORD:
        return take_word(p, key, value);
    case ES_KEY_NUMBER:
    case ES_KEY_LEVEL:
        return take_number(p, key, value);
    }
    return ES_ERR_INTERNAL;
}

/* --- lines --------------------------------------------------------------------------- */

/* Index of the key of that name, or the count of keys. */
static size_t find_key(piece name)
{
    size_t i = 0;
    while (i < es_scenario_key_count() && !is_word(name, es_scenario_key_at(i)->name))
        i++;
    return i;
}

static es_status take_line(parser *p)
{
    piece line = trimmed(until(p->whole, '#'));
    if (line.length == 0)
        return ES_OK;
    piece left = until(line, '='), name = trimmed(left);
    size_t index = find_key(name);
    if (index == es_scenario_key_count())
        return expected(p, name, "the name of a setting (docs/scenarios.md lists them)");
    if (left.length == line.length)
        return expected(p, after(line, line.length), "\"=\" after the name of the setting");
    const es_scenario_key *key = es_scenario_key_at(index);
    if (p->given_on[index])
        return es_fail(p->error, ES_ERR_INPUT, "scenario-text",
                       "Line %d, column %d: %s is given for the second time; it stands on line %d "
                       "already.",
                       p->line, column_of(p, name.at), key->name, p->given_on[index]);
    es_status status = take_value(p, key, trimmed(after(line, left.length + 1)));
    p->given_on[index] = p->line;
    p->first = p->first ? p->first : p->line;
    if (key->size && !p->sizes)
        p->sizes = p->line;
    return status;
}

static es_status take_lines(parser *p, piece rest)
{
    static const char mark[] = "\xEF\xBB\xBF"; /* some editors put it in front of UTF-8 */
    if (rest.length >= 3 && memcmp(rest.at, mark, 3) == 0)
        rest = after(rest, 3);
    while (rest.length) {
        p->whole = until(rest, '\n');
        p->line++;
        es_status status = take_line(p);
        if (status != ES_OK)
            return status;
        size_t used = p->whole.length;
        rest = after(rest, used < rest.length ? used + 1 : used);
    }
    return ES_OK;
}

es_status es_scenario_parse(const char *text, size_t length, es_scenario *out, es_error *error)
{
    es_scenario read = es_scenario_defaults();
    parser p = {.scenario = &read, .error = error};
    *out = read;
    es_status status = es_scenario_key_count() <= KEYS_MOST ? ES_OK : ES_ERR_INTERNAL;
    if (status == ES_OK)
        status = take_lines(&p, (piece){text, length});
    if (status == ES_OK)
        status = es_scenario_check(&read, 0.0, error);
    if (status == ES_OK)
        *out = read;
    return status;
}
