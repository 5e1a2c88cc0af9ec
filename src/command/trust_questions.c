/* The questions of an anchor: printed, read from a list of answers, or asked on the terminal. */
#include "command/options.h"
#include "command/say.h"
#include "command/trust.h"
#include "evenspool/base/text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#define ANSWER_ROOM 128

/* --- reading ----------------------------------------------------------------------------------- */

/* A number, or the beginning of one of the choices. 0: neither. */
static int read_value(const es_anchor_question *q, const char *text, double *value)
{
    if (es_number_read(text, value))
        return 1;
    for (size_t i = 0; text[0] && i < ES_CHOICES_MOST && q->choice[i].text; i++)
        if (strncasecmp(q->choice[i].text, text, strlen(text)) == 0) {
            *value = q->choice[i].value;
            return 1;
        }
    return 0;
}

static const es_anchor_question *question_of(const es_anchor_form *form, const char *key)
{
    for (size_t i = 0; i < form->question_count; i++)
        if (strcmp(form->questions[i].key, key) == 0)
            return &form->questions[i];
    return NULL;
}

static es_status read_one(char *pair, const es_anchor_form *form, es_anchor_entry *entry,
                          es_error *error)
{
    static const es_anchor_question any; /* of a key that is unknown: the ledger says so */
    char *equals = strchr(pair, '=');
    if (!equals || equals == pair || !equals[1])
        return es_fail(error, ES_ERR_ARG, "usage",
                       "--answer wants KEY=VALUE,KEY=VALUE ..., not \"%.60s\".", pair);
    *equals = '\0';
    const es_anchor_question *q = question_of(form, pair);
    double value;
    if (entry->answer_count == ES_QUESTIONS_MOST)
        return es_fail(error, ES_ERR_ARG, "usage", "There are more answers than questions.");
    if (!read_value(q ? q : &any, equals + 1, &value))
        return es_fail(error, ES_ERR_ARG, "usage", "%s=%.60s can't be read: %s.", pair, equals + 1,
                       q && q->only ? "write the beginning of one of the answers offered"
                                    : "write a number, with a point as in 0.4");
    entry->keys[entry->answer_count] = pair;
    entry->values[entry->answer_count++] = value;
    return ES_OK;
}

es_status es_trust_read_answers(char *text, const es_anchor_form *form, es_anchor_entry *entry,
                                es_error *error)
{
    es_status status = ES_OK;
    char *rest;
    for (char *pair = strtok_r(text, ",", &rest); pair && status == ES_OK;
         pair = strtok_r(NULL, ",", &rest))
        status = read_one(pair, form, entry, error);
    return status;
}

/* --- printing ---------------------------------------------------------------------------------- */

static void add_limits(es_text *text, const es_anchor_question *q)
{
    if (q->only)
        return;
    es_text_add(text, " From %g to %g%s%s", q->low, q->high, q->unit[0] ? " " : "", q->unit);
    if (!isnan(q->standard))
        es_text_add(text, "; %g without an answer", q->standard);
    else
        es_text_add(text, "; %s", q->needed ? "must be answered" : "may stay open");
    es_text_add(text, ".");
}

static void add_choices(es_text *text, const es_anchor_question *q)
{
    for (size_t i = 0; i < ES_CHOICES_MOST && q->choice[i].text; i++)
        es_text_add(text, "%s%g: %s%s", i ? ", " : " (", q->choice[i].value, q->choice[i].text,
                    q->only && q->choice[i].value == q->standard ? ", as without an answer" : "");
    if (q->choice[0].text)
        es_text_add(text, "%s)", q->only && q->needed ? "; must be answered" : "");
}

void es_trust_print_form(const es_anchor_form *form)
{
    char room[800];
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "%s: %s.", form->about->key, form->about->name);
    es_wrap(stdout, "", "  ", room);
    es_wrap(stdout, "  ", "  ", form->about->text);
    text = es_text_over(room, sizeof room);
    es_text_add(&text, "Speed error: %s.", form->about->formula);
    es_wrap(stdout, "  ", "  ", room);
    for (size_t i = 0; i < form->question_count; i++) {
        const es_anchor_question *q = &form->questions[i];
        text = es_text_over(room, sizeof room);
        es_text_add(&text, "%s", q->text);
        add_choices(&text, q);
        add_limits(&text, q);
        printf("\n  %s\n", q->key);
        es_wrap(stdout, "      ", "      ", room);
    }
}

/* --- asking ------------------------------------------------------------------------------------ */

static void print_question(const es_anchor_question *q)
{
    char room[400];
    es_text text = es_text_over(room, sizeof room);
    putchar('\n');
    es_wrap(stdout, "", "", q->text);
    for (size_t i = 0; i < ES_CHOICES_MOST && q->choice[i].text; i++)
        printf("  %g  %s\n", q->choice[i].value, q->choice[i].text);
    if (!isnan(q->standard))
        es_text_add(&text, "[%g] ", q->standard);
    else if (!q->needed)
        es_text_add(&text, "[leave open] ");
    printf("%s%s%s> ", q->unit, q->unit[0] ? " " : "", room);
    fflush(stdout);
}

/* One line without its end; 0: there is none. */
static int read_line(char *line, size_t size)
{
    if (!fgets(line, (int)size, stdin))
        return 0;
    if (!strchr(line, '\n'))
        for (int c = getchar(); c != '\n' && c != EOF; c = getchar())
            continue; /* the rest of a line that is too long to be an answer */
    line[strcspn(line, "\n")] = '\0';
    return 1;
}

static int is_offered(const es_anchor_question *q, double value)
{
    for (size_t i = 0; q->only && i < ES_CHOICES_MOST && q->choice[i].text; i++)
        if (value == q->choice[i].value)
            return 1;
    return !q->only && value >= q->low && value <= q->high;
}

/* NaN: left to the default. 0: the answers ended. */
static int ask_one(const es_anchor_question *q, double *value)
{
    char line[ANSWER_ROOM];
    for (;;) {
        print_question(q);
        *value = (double)NAN;
        if (!read_line(line, sizeof line))
            return 0;
        if (!line[0] && (!q->needed || !isnan(q->standard)))
            return 1;
        if (read_value(q, line, value) && is_offered(q, *value))
            return 1;
        if (q->only)
            puts("Choose one of these, by its number or its first letters.");
        else
            printf("A number from %g to %g is wanted.\n", q->low, q->high);
    }
}

int es_trust_ask(const es_anchor_form *form, es_anchor_entry *entry)
{
    es_wrap(stdout, "", "", form->about->text);
    puts("An empty answer takes what stands in brackets.");
    for (size_t i = 0; i < form->question_count; i++) {
        double value;
        if (!ask_one(&form->questions[i], &value))
            return 0;
        if (isnan(value))
            continue;
        entry->keys[entry->answer_count] = form->questions[i].key;
        entry->values[entry->answer_count++] = value;
    }
    putchar('\n');
    return 1;
}
