#include "live/ledger_inside.h"

#include "evenspool/base/nearest.h"
#include "evenspool/base/record_kinds.h"
#include "evenspool/base/text.h"
#include "evenspool/trust/anchors.h"
#include "store/anchors.h"

#include <math.h>
#include <string.h>

/* --- forms ------------------------------------------------------------------------------------- */

int es_ledger_anchor_form(size_t index, es_anchor_form *out)
{
    if (index >= ES_ANCHOR_METHOD_COUNT)
        return 0;
    out->about = &es_anchor_methods()[index];
    out->questions = es_anchor_questions((es_anchor_method)index, &out->question_count);
    return 1;
}

/* The method that was probably meant, or NULL. */
static const char *nearest_method(const char *key)
{
    const char *keys[ES_ANCHOR_METHOD_COUNT];
    for (size_t i = 0; i < ES_ANCHOR_METHOD_COUNT; i++)
        keys[i] = es_anchor_methods()[i].key;
    return es_nearest_word(key, keys, ES_ANCHOR_METHOD_COUNT);
}

static es_status no_such_method(const char *key, es_error *error)
{
    char list[240];
    es_text text = es_text_over(list, sizeof list);
    const char *near = nearest_method(key);
    for (size_t i = 0; i < ES_ANCHOR_METHOD_COUNT; i++)
        es_text_add(&text, "%s%s", i ? ", " : "", es_anchor_methods()[i].key);
    return es_fail(error, ES_ERR_ARG, "no-method",
                   "There is no method \"%.40s\" to anchor a deck%s%s%s; there are %s.", key,
                   near ? " (did you mean " : "", near ? near : "", near ? "?)" : "", list);
}

static es_status find_method(const char *key, es_anchor_method *out, es_error *error)
{
    return es_anchor_find(key, out) == ES_OK ? ES_OK : no_such_method(key ? key : "", error);
}

es_status es_ledger_anchor_form_named(const char *method, es_anchor_form *out, es_error *error)
{
    es_anchor_method found;
    es_status status = find_method(method, &found, error);
    if (status == ES_OK)
        es_ledger_anchor_form((size_t)found, out);
    return status;
}

es_anchor_entry es_ledger_blank_anchor(void)
{
    double unknown = (double)NAN;
    return (es_anchor_entry){.error_percent = unknown, .u95_percent = unknown};
}

/* --- answers ----------------------------------------------------------------------------------- */

static es_status no_such_question(const es_anchor_form *form, const char *key, es_error *error)
{
    const char *keys[ES_QUESTIONS_MOST];
    for (size_t i = 0; i < form->question_count; i++)
        keys[i] = form->questions[i].key;
    const char *near = es_nearest_word(key, keys, form->question_count);
    return es_fail(error, ES_ERR_ARG, "no-question",
                   "The method %s asks for no \"%.40s\"%s%s%s; evenspool trust anchor --method %s "
                   "--questions lists what it asks.",
                   form->about->key, key, near ? " (did you mean " : "", near ? near : "",
                   near ? "?)" : "", form->about->key);
}

/* Each question's answer, NaN where there is none. */
static es_status sort_answers(const es_anchor_entry *entry, const es_anchor_form *form,
                              double *answers, es_error *error)
{
    for (size_t i = 0; i < form->question_count; i++)
        answers[i] = (double)NAN;
    for (size_t k = 0; k < entry->answer_count; k++) {
        size_t i = 0;
        while (i < form->question_count && strcmp(form->questions[i].key, entry->keys[k]) != 0)
            i++;
        if (i == form->question_count)
            return no_such_question(form, entry->keys[k], error);
        answers[i] = entry->values[k];
    }
    return ES_OK;
}

/* --- as stated --------------------------------------------------------------------------------- */

static int is_stated(const es_anchor_entry *entry)
{
    return !isnan(entry->error_percent) || !isnan(entry->u95_percent);
}

static es_status refuse_statement(const es_anchor_entry *entry, es_error *error)
{
    if (entry->answer_count > 0)
        return es_fail(error, ES_ERR_ARG, "contradiction",
                       "Give the error with its uncertainty, or the answers from which both are "
                       "reckoned; not both.");
    if (isnan(entry->error_percent) || isnan(entry->u95_percent))
        return es_fail(error, ES_ERR_ARG, "half-stated",
                       "An error needs its uncertainty and the other way round; give both.");
    if (!(entry->u95_percent >= 1e-5 && entry->u95_percent <= 100.0))
        return es_fail(error, ES_ERR_ARG, "bad-uncertainty",
                       "An anchor needs an uncertainty above zero (0.00001 to 100 %%): no "
                       "measurement is without doubt.");
    return ES_OK;
}

/* The form "another measurement" with the same k as u95 has everywhere here. */
static es_status state(const es_anchor_entry *entry, es_anchor *out, es_error *error)
{
    es_anchor_form other;
    double answers[ES_QUESTIONS_MOST];
    const es_anchor_entry same = {.answer_count = 3,
                                  .keys = {"error_percent", "u95_percent", "k"},
                                  .values = {entry->error_percent, entry->u95_percent,
                                             es_coverage_factor(ES_LEVEL_95, (double)INFINITY)}};
    es_status status = refuse_statement(entry, error);
    if (status == ES_OK)
        status = es_ledger_anchor_form_named("other", &other, error);
    if (status == ES_OK)
        status = sort_answers(&same, &other, answers, error);
    return status == ES_OK
               ? es_anchor_evaluate(ES_ANCHOR_OTHER, answers, other.question_count, out, error)
               : status;
}

/*
 * The key under which a stated figure is kept: a method's, or a word of the person's own, for which there
 * is no form. What looks like a method misspelt is no such word.
 */
static es_status take_label(const char *given, char out[ES_KEY_ROOM], es_error *error)
{
    es_anchor_method known;
    es_text label = es_text_over(out, ES_KEY_ROOM);
    for (const char *c = given; *c; c++)
        es_text_add(&label, "%c", *c == ' ' ? '-' : *c >= 'A' && *c <= 'Z' ? *c - 'A' + 'a' : *c);
    if (es_anchor_find(out, &known) == ES_OK)
        return ES_OK;
    return label.cut || !out[0] || nearest_method(out) ? no_such_method(given, error) : ES_OK;
}

/* --- into records ------------------------------------------------------------------------------ */

static void write_line(const es_budget_part *part, int64_t place, es_budget_record *line)
{
    static const char *const shapes[] = {[ES_SHAPE_NORMAL] = "normal",
                                         [ES_SHAPE_RECTANGULAR] = "rectangular",
                                         [ES_SHAPE_TRIANGULAR] = "triangular",
                                         [ES_SHAPE_U] = "u"};
    es_record_blank(ES_RECORD_BUDGET, line);
    es_text what = es_text_over(line->what, sizeof line->what);
    es_text formula = es_text_over(line->formula, sizeof line->formula);
    es_text source = es_text_over(line->source, sizeof line->source);
    es_text shape = es_text_over(line->shape, sizeof line->shape);
    es_text_add(&what, "%s", part->what);
    es_text_add(&formula, "%s", part->formula);
    es_text_add(&source, "%s", part->source);
    es_text_add(&shape, "%s", shapes[part->shape]);
    line->place = place;
    line->u_percent = 100.0 * part->u;
    line->dof = part->dof;
}

static void write_anchor(const es_anchor *from, const char *method, es_anchor_outcome *out)
{
    es_anchor_record *a = &out->anchor;
    es_text key = es_text_over(a->method, sizeof a->method);
    es_text_add(&key, "%s", method);
    a->error_percent = 100.0 * from->estimate.value;
    a->u_percent = 100.0 * from->estimate.u;
    a->dof = from->estimate.dof;
    a->u95_percent = 100.0 * from->estimate.u95;
    a->u95_by_shape_percent = 100.0 * from->u95_by_shape;
    out->budget_count = from->budget.count;
    for (size_t i = 0; i < from->budget.count; i++)
        write_line(&from->budget.at[i], (int64_t)i + 1, &out->budget[i]);
    memcpy(out->caution, from->caution, sizeof out->caution);
    out->heard_percent = 100.0 * from->heard.value;
    out->heard_u95_percent = 100.0 * from->heard.u95;
}

static void write_answers(const es_anchor_form *form, const double *answers, es_anchor_outcome *out)
{
    out->answer_count = form->question_count;
    for (size_t i = 0; i < form->question_count; i++) {
        es_answer_record *answer = &out->answers[i];
        es_record_blank(ES_RECORD_ANSWER, answer);
        es_text key = es_text_over(answer->key, sizeof answer->key);
        es_text_add(&key, "%s", form->questions[i].key);
        answer->place = (int64_t)i + 1;
        answer->value = answers[i];
    }
}

static void forget(es_anchor_outcome *out)
{
    memset(out, 0, sizeof *out);
    es_record_blank(ES_RECORD_ANCHOR, &out->anchor);
    out->heard_percent = out->heard_u95_percent = (double)NAN;
}

static es_status reckon_stated(const es_anchor_entry *entry, es_anchor_outcome *out,
                               es_error *error)
{
    es_anchor anchor;
    char label[ES_KEY_ROOM];
    es_status status = take_label(entry->method ? entry->method : "", label, error);
    if (status == ES_OK)
        status = state(entry, &anchor, error);
    if (status == ES_OK)
        write_anchor(&anchor, label, out);
    return status;
}

static es_status reckon_answered(const es_anchor_entry *entry, es_anchor_outcome *out,
                                 es_error *error)
{
    es_anchor anchor;
    es_anchor_method method;
    es_anchor_form form;
    double answers[ES_QUESTIONS_MOST];
    es_status status = find_method(entry->method, &method, error);
    if (status != ES_OK)
        return status;
    es_ledger_anchor_form((size_t)method, &form);
    status = sort_answers(entry, &form, answers, error);
    if (status == ES_OK)
        status = es_anchor_evaluate(method, answers, form.question_count, &anchor, error);
    if (status != ES_OK)
        return status;
    write_anchor(&anchor, form.about->key, out);
    write_answers(&form, answers, out);
    return ES_OK;
}

es_status es_ledger_reckon_anchor(const es_anchor_entry *entry, es_anchor_outcome *out,
                                  es_error *error)
{
    forget(out);
    return is_stated(entry) ? reckon_stated(entry, out, error) : reckon_answered(entry, out, error);
}

/* --- door -------------------------------------------------------------------------------------- */

static es_status keep(es_ledger *l, const es_anchor_outcome *out, int64_t *id, es_error *error)
{
    es_anchor_parts parts = {out->answers, out->answer_count, out->budget, out->budget_count};
    return es_store_add_anchor(l->store, &out->anchor, &parts, id, error);
}

es_status es_ledger_add_anchor(es_ledger *l, const es_anchor_entry *entry, const char *deck,
                               int64_t epoch, const char *made_at, const char *note,
                               es_anchor_outcome *out, es_error *error)
{
    es_epoch_record found;
    int64_t id = 0;
    char now[ES_TIME_ROOM];
    es_ledger_now(now);
    es_status status = es_ledger_reckon_anchor(entry, out, error);
    if (status == ES_OK)
        status = es_ledger_epoch_of(l, deck, epoch, made_at, &found, error);
    if (status == ES_OK)
        status = es_ledger_time(made_at, now, out->anchor.made_at, error);
    if (status == ES_OK)
        status = es_ledger_text("note", note, out->anchor.note, sizeof out->anchor.note, error);
    if (status == ES_OK) {
        out->anchor.epoch = found.id;
        status = keep(l, out, &id, error);
    }
    if (status != ES_OK)
        forget(out);
    out->anchor.id = id;
    return status;
}

es_status es_ledger_remove_anchor(es_ledger *l, int64_t id, es_error *error)
{
    return es_store_remove_anchor(l->store, id, error);
}
