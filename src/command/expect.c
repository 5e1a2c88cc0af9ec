#include "command/expect.h"

#include "command/options.h"
#include "command/say.h"
#include "evenspool/base/text.h"

#include <math.h>
#include <string.h>

/* "error" names "error_percent", "drift" names "drift_percent_per_min". */
static int names(const char *key, const char *name, size_t length)
{
    static const char *const units[] = {"", "_percent", "_percent_per_min", "_us", "_db"};
    if (strncmp(key, name, length) != 0)
        return 0;
    for (size_t i = 0; i < sizeof units / sizeof *units; i++)
        if (strcmp(key + length, units[i]) == 0)
            return 1;
    return 0;
}

static const es_check_figure *figure_named(const char *name, size_t length)
{
    const es_check_figure *figure;
    for (size_t i = 0; (figure = es_check_figure_at(i)); i++)
        if (figure->limited && length > 0 && names(figure->key, name, length))
            return figure;
    return NULL;
}

static es_status no_such_figure(const char *name, size_t length, es_error *error)
{
    char room[1024];
    es_text list = es_text_over(room, sizeof room);
    const es_check_figure *figure;
    const char *keys[ES_EXPECT_MOST];
    size_t count = 0;
    for (size_t i = 0; (figure = es_check_figure_at(i)); i++)
        if (figure->limited && count < ES_EXPECT_MOST)
            keys[count++] = figure->key;
    char word[64];
    es_text bare = es_text_over(word, sizeof word);
    es_text_add(&bare, "%.*s", length > 60 ? 60 : (int)length, name);
    const char *near = es_nearest_word(word, keys, count);
    if (near)
        es_text_add(&list, "did you mean %s?", near);
    else
        es_text_add(&list, "the manual page lists them (error_percent, drift_percent_per_min, "
                           "weighted_two_sigma_percent ...).");
    return es_fail(error, ES_ERR_ARG, "usage", "--expect knows no figure \"%s\"; %s", word, room);
}

static es_status take_limit(const char *item, size_t length, es_expect *out, es_error *error)
{
    char number[64] = "";
    size_t name = strcspn(item, "=");
    size_t digits = name < length ? length - name - 1 : 0;
    if (digits == 0 || digits >= sizeof number)
        return es_fail(
            error, ES_ERR_ARG, "usage",
            "--expect wants NAME=LIMIT,..., for example error_percent=0.5, not \"%.60s\".", item);
    const es_check_figure *figure = figure_named(item, name);
    if (!figure)
        return no_such_figure(item, name, error);
    memcpy(number, item + name + 1, digits);
    double limit;
    if (!es_number_read(number, &limit) || limit < 0.0)
        return es_fail(error, ES_ERR_ARG, "usage",
                       "The limit of %s in --expect is a number of 0 or more, not \"%s\".",
                       figure->key, number);
    if (out->count == ES_EXPECT_MOST)
        return es_fail(error, ES_ERR_ARG, "usage", "--expect takes at most %d limits.",
                       ES_EXPECT_MOST);
    out->at[out->count].figure = figure;
    out->at[out->count++].limit = limit;
    return ES_OK;
}

es_status es_expect_read(const char *text, es_expect *out, es_error *error)
{
    *out = (es_expect){0};
    for (;;) {
        size_t length = strcspn(text, ",");
        es_status status = take_limit(text, length, out, error);
        if (status != ES_OK || text[length] == '\0')
            return status;
        text += length + 1;
    }
}

int es_expect_judge(const es_expect *expect, const es_check_result *result, const char *file)
{
    int outside = 0;
    for (size_t i = 0; i < expect->count; i++) {
        const es_check_figure *figure = expect->at[i].figure;
        double value = es_check_figure_of(figure, result), limit = expect->at[i].limit;
        if (fabs(value) <= limit)
            continue;
        outside++;
        if (isnan(value))
            es_say(file, "%s is not known, so it can't be said to be within %g.", figure->key,
                   limit);
        else
            es_say(file, "%s is %.6g, outside the limit of %g.", figure->key, value, limit);
    }
    return outside;
}
