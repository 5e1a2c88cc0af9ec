#include "json/ledger_json.h"

#include "json/trust_json.h"

#include <math.h>
#include <string.h>

/* --- one record ------------------------------------------------------------------------------ */

static void write_field(es_json *json, es_json_part *into, const es_record_field *field,
                        const void *record)
{
    const void *at = (const char *)record + field->offset;
    int64_t whole;
    switch (field->type) {
    case ES_FIELD_TEXT:
        es_json_text(json, into, field->name, ((const char *)at)[0] ? at : NULL);
        return;
    case ES_FIELD_NUMBER:
        es_json_number(json, into, field->name, *(const double *)at);
        return;
    case ES_FIELD_DOCUMENT:
        return;
    case ES_FIELD_ID:
    case ES_FIELD_REFERENCE:
    case ES_FIELD_WHOLE:
        break;
    }
    whole = *(const int64_t *)at;
    if (whole == 0 && field->type != ES_FIELD_WHOLE)
        es_json_null(json, into, field->name);
    else
        es_json_count(json, into, field->name, whole);
}

void es_record_to_json(es_json *json, es_json_part *into, es_record_type type, const void *record)
{
    const es_record_kind *kind = &es_record_kinds()[type];
    for (size_t i = 0; i < kind->field_count; i++)
        write_field(json, into, &kind->fields[i], record);
}

/* An object of its own within a list; returned for what else belongs to it. */
static es_json_part *add_record(es_json *json, es_json_part *list, es_record_type type,
                                const void *record)
{
    es_json_part *to = es_json_object(json, list, NULL);
    es_record_to_json(json, to, type, record);
    return to;
}

/* --- histories ------------------------------------------------------------------------------- */

static void write_jobs(es_json *json, es_json_part *into, const es_history *h)
{
    es_json_part *list = es_json_array(json, into, "jobs");
    for (size_t i = 0; i < h->job_count; i++) {
        es_json_part *job = add_record(json, list, ES_RECORD_JOB, &h->jobs[i]);
        es_json_part *nudges = es_json_array(json, job, "nudges");
        for (size_t k = 0; k < h->nudge_count; k++)
            if (h->nudges[k].job == h->jobs[i].id)
                add_record(json, nudges, ES_RECORD_NUDGE, &h->nudges[k]);
        es_json_part *remarks = es_json_array(json, job, "remarks");
        for (size_t k = 0; k < h->remark_count; k++)
            if (h->remarks[k].job == h->jobs[i].id)
                add_record(json, remarks, ES_RECORD_REMARK, &h->remarks[k]);
    }
}

static void write_plays(es_json *json, es_json_part *into, const es_history *h)
{
    es_json_part *list = es_json_array(json, into, "plays");
    for (size_t i = 0; i < h->play_count; i++) {
        const es_told_play *p = &h->plays[i];
        es_json_part *to = add_record(json, list, ES_RECORD_PLAY, &p->play);
        es_json_text(json, to, "recorded_on_deck", p->recorded_deck);
        es_json_count(json, to, "recorded_on_epoch", p->recorded_number);
        es_json_text(json, to, "played_on_deck", p->played_deck);
        es_json_count(json, to, "played_on_epoch", p->played_number);
        es_json_text(json, to, "tape_name", p->tape[0] ? p->tape : NULL);
    }
}

static void write_anchors(es_json *json, es_json_part *into, const es_history *h)
{
    es_json_part *list = es_json_array(json, into, "anchors");
    for (size_t i = 0; i < h->anchor_count; i++) {
        const es_told_anchor *a = &h->anchors[i];
        es_json_part *to = add_record(json, list, ES_RECORD_ANCHOR, &a->anchor);
        es_json_text(json, to, "deck", a->deck);
        es_json_count(json, to, "epoch_number", a->number);
        es_json_text(json, to, "method_name", a->name);
        es_json_part *answers = es_json_array(json, to, "answers");
        for (size_t k = 0; k < h->answer_count; k++)
            if (h->answers[k].anchor == a->anchor.id)
                add_record(json, answers, ES_RECORD_ANSWER, &h->answers[k]);
        es_json_part *budget = es_json_array(json, to, "budget");
        for (size_t k = 0; k < h->budget_count; k++)
            if (h->budget[k].anchor == a->anchor.id)
                add_record(json, budget, ES_RECORD_BUDGET, &h->budget[k]);
    }
}

/* How far the deck as it is now can be believed. */
static void write_trust(es_json *json, es_json_part *into, const es_history *h,
                        const es_trust_result *trust)
{
    for (size_t i = 0; trust && i < trust->deck_count; i++)
        if (trust->decks[i].latest && trust->decks[i].deck == h->deck.id) {
            es_trust_deck_to_json(json, es_json_object(json, into, "trust"), &trust->decks[i]);
            return;
        }
    es_json_null(json, into, "trust");
}

es_status es_history_to_json(const es_history *h, const es_trust_result *trust, char **out)
{
    es_json *json;
    *out = NULL;
    if (es_json_begin("evenspool.deck/1", &json) != ES_OK)
        return ES_ERR_NOMEM;
    es_json_part *root = es_json_root(json);
    es_record_to_json(json, es_json_object(json, root, "deck"), ES_RECORD_DECK, &h->deck);
    write_trust(json, root, h, trust);
    es_json_part *epochs = es_json_array(json, root, "epochs");
    for (size_t i = 0; i < h->epoch_count; i++)
        add_record(json, epochs, ES_RECORD_EPOCH, &h->epochs[i]);
    write_jobs(json, root, h);
    es_json_part *readings = es_json_array(json, root, "readings");
    for (size_t i = 0; i < h->reading_count; i++)
        add_record(json, readings, ES_RECORD_READING, &h->readings[i]);
    write_plays(json, root, h);
    write_anchors(json, root, h);
    return es_json_end(json, 1, out);
}

es_status es_entries_to_json(const es_history *h, char **out)
{
    es_json *json;
    *out = NULL;
    if (es_json_begin("evenspool.entries/1", &json) != ES_OK)
        return ES_ERR_NOMEM;
    es_json_part *root = es_json_root(json);
    write_plays(json, root, h);
    write_anchors(json, root, h);
    return es_json_end(json, 1, out);
}

/* --- tapes ----------------------------------------------------------------------------------- */

es_status es_certificate_to_json(const es_tape_record *tape, char **out)
{
    es_json *json;
    *out = NULL;
    if (es_json_begin("evenspool.certificate/1", &json) != ES_OK)
        return ES_ERR_NOMEM;
    es_json_part *root = es_json_root(json);
    es_json_truth(json, root, "tied", !isnan(tape->certificate_percent));
    es_record_to_json(json, root, ES_RECORD_TAPE, tape);
    return es_json_end(json, 1, out);
}

es_status es_certificates_to_json(const es_tape_record *tapes, size_t count, char **out)
{
    es_json *json;
    *out = NULL;
    if (es_json_begin("evenspool.certificates/1", &json) != ES_OK)
        return ES_ERR_NOMEM;
    es_json_part *root = es_json_root(json);
    es_json_part *list = es_json_array(json, root, "tapes");
    for (size_t i = 0; i < count; i++)
        add_record(json, list, ES_RECORD_TAPE, &tapes[i]);
    return es_json_end(json, 1, out);
}

/* --- anchors --------------------------------------------------------------------------------- */

es_status es_anchor_to_json(const es_anchor_outcome *o, char **out)
{
    es_json *json;
    *out = NULL;
    if (es_json_begin("evenspool.anchor/1", &json) != ES_OK)
        return ES_ERR_NOMEM;
    es_json_part *root = es_json_root(json);
    es_record_to_json(json, root, ES_RECORD_ANCHOR, &o->anchor);
    es_json_part *answers = es_json_array(json, root, "answers");
    for (size_t i = 0; i < o->answer_count; i++) {
        es_json_part *to = es_json_object(json, answers, NULL);
        es_json_text(json, to, "key", o->answers[i].key);
        es_json_number(json, to, "value", o->answers[i].value);
    }
    es_json_part *budget = es_json_array(json, root, "budget");
    for (size_t i = 0; i < o->budget_count; i++) {
        es_json_part *to = es_json_object(json, budget, NULL);
        es_json_text(json, to, "what", o->budget[i].what);
        es_json_text(json, to, "formula", o->budget[i].formula);
        es_json_text(json, to, "source", o->budget[i].source);
        es_json_text(json, to, "shape", o->budget[i].shape);
        es_json_number(json, to, "u_percent", o->budget[i].u_percent);
        es_json_number(json, to, "dof", o->budget[i].dof);
    }
    es_json_text(json, root, "caution", o->caution[0] ? o->caution : NULL);
    es_json_number(json, root, "heard_percent", o->heard_percent);
    es_json_number(json, root, "heard_u95_percent", o->heard_u95_percent);
    return es_json_end(json, 1, out);
}

static void write_question(es_json *json, es_json_part *list, const es_anchor_question *q)
{
    es_json_part *to = es_json_object(json, list, NULL);
    es_json_text(json, to, "key", q->key);
    es_json_text(json, to, "text", q->text);
    es_json_text(json, to, "unit", q->unit[0] ? q->unit : NULL);
    es_json_number(json, to, "default", q->standard);
    es_json_truth(json, to, "needed", q->needed);
    es_json_number(json, to, "low", q->low);
    es_json_number(json, to, "high", q->high);
    es_json_truth(json, to, "only_choices", q->only);
    es_json_part *choices = es_json_array(json, to, "choices");
    for (size_t i = 0; i < ES_CHOICES_MOST && q->choice[i].text; i++) {
        es_json_part *choice = es_json_object(json, choices, NULL);
        es_json_text(json, choice, "text", q->choice[i].text);
        es_json_number(json, choice, "value", q->choice[i].value);
    }
}

static void write_form(es_json *json, es_json_part *to, const es_anchor_form *form)
{
    es_json_text(json, to, "method", form->about->key);
    es_json_text(json, to, "name", form->about->name);
    es_json_text(json, to, "text", form->about->text);
    es_json_text(json, to, "formula", form->about->formula);
    es_json_number(json, to, "usual_u_percent", 100.0 * form->about->usual_u);
    es_json_part *questions = es_json_array(json, to, "questions");
    for (size_t i = 0; i < form->question_count; i++)
        write_question(json, questions, &form->questions[i]);
}

es_status es_anchor_form_to_json(const es_anchor_form *form, char **out)
{
    es_json *json;
    *out = NULL;
    if (es_json_begin("evenspool.form/1", &json) != ES_OK)
        return ES_ERR_NOMEM;
    es_json_part *root = es_json_root(json);
    write_form(json, root, form);
    return es_json_end(json, 1, out);
}

es_status es_anchor_forms_to_json(const es_anchor_form *forms, size_t count, char **out)
{
    es_json *json;
    *out = NULL;
    if (es_json_begin("evenspool.forms/1", &json) != ES_OK)
        return ES_ERR_NOMEM;
    es_json_part *root = es_json_root(json);
    es_json_part *list = es_json_array(json, root, "forms");
    for (size_t i = 0; i < count; i++)
        write_form(json, es_json_object(json, list, NULL), &forms[i]);
    return es_json_end(json, 1, out);
}
