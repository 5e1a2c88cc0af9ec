#include "json/trust_json.h"

#include "evenspool/base/text.h"
#include "json/ledger_json.h"

static const char *name_of(const es_trust_result *r, size_t deck)
{
    return deck == ES_NO_DECK ? NULL : r->decks[deck].name;
}

static const char *kind_name(es_trust_kind kind)
{
    return kind == ES_TRUST_PLAY ? "play" : "anchor";
}

static void epoch_or_null(es_json *json, es_json_part *to, const char *key,
                          const es_trust_result *r, size_t deck)
{
    if (deck == ES_NO_DECK)
        es_json_null(json, to, key);
    else
        es_json_count(json, to, key, r->decks[deck].number);
}

/* --- parts ----------------------------------------------------------------------------------- */

void es_trust_deck_to_json(es_json *json, es_json_part *to, const es_trust_deck *d)
{
    es_json_text(json, to, "name", d->name);
    es_json_count(json, to, "epoch", d->number);
    es_json_number(json, to, "error_percent", d->error_percent);
    es_json_number(json, to, "u95_percent", d->u95_percent);
    es_json_truth(json, to, "tied", d->tied);
    es_json_truth(json, to, "latest", d->latest);
    es_json_text(json, to, "class", d->transport);
    es_json_number(json, to, "u_percent", d->u_percent);
    es_json_number(json, to, "degrees_of_freedom", d->dof);
    es_json_text(json, to, "day", es_text_or_null(d->day));
    es_json_text(json, to, "tied_to", es_text_or_null(d->tied_to));
    es_json_count(json, to, "group", (int64_t)d->group);
    es_json_count(json, to, "deck_id", d->deck);
    es_json_count(json, to, "epoch_id", d->epoch);
}

static void write_tapes(es_json *json, es_json_part *root, const es_trust_result *r)
{
    es_json_part *list = es_json_array(json, root, "tapes");
    for (size_t i = 0; i < r->tape_count; i++) {
        const es_trust_tape *t = &r->tapes[i];
        es_json_part *to = es_json_object(json, list, NULL);
        es_json_text(json, to, "name", t->name);
        es_json_number(json, to, "error_percent", t->error_percent);
        es_json_number(json, to, "u95_percent", t->u95_percent);
        es_json_text(json, to, "path", es_text_or_null(t->path));
        es_json_truth(json, to, "tied", t->tied);
        es_json_text(json, to, "recorded_on", name_of(r, t->deck));
        epoch_or_null(json, to, "recorded_on_epoch", r, t->deck);
        es_json_number(json, to, "u_percent", t->u_percent);
        es_json_number(json, to, "degrees_of_freedom", t->dof);
        es_json_count(json, to, "id", t->tape);
    }
}

static void write_ends(es_json *json, es_json_part *to, const es_trust_result *r,
                       const es_trust_link *k)
{
    if (k->kind == ES_TRUST_PLAY) {
        es_json_text(json, to, "recorded_on", name_of(r, k->from));
        epoch_or_null(json, to, "recorded_on_epoch", r, k->from);
        es_json_text(json, to, "played_on", name_of(r, k->to));
        epoch_or_null(json, to, "played_on_epoch", r, k->to);
        es_json_text(json, to, "tape", es_text_or_null(k->tape));
        return;
    }
    es_json_text(json, to, "deck", name_of(r, k->to));
    epoch_or_null(json, to, "epoch", r, k->to);
    es_json_text(json, to, "method", k->method);
    es_json_text(json, to, "method_name", k->name);
}

static void write_links(es_json *json, es_json_part *root, const es_trust_result *r)
{
    static const char *const roles[] = {[ES_TRUST_USED] = "used",
                                        [ES_TRUST_DRIFT_CHECK] = "drift-check",
                                        [ES_TRUST_REMOVED] = "removed"};
    es_json_part *list = es_json_array(json, root, "links");
    for (size_t i = 0; i < r->link_count; i++) {
        const es_trust_link *k = &r->links[i];
        es_json_part *to = es_json_object(json, list, NULL);
        es_json_text(json, to, "kind", kind_name(k->kind));
        es_json_count(json, to, "id", k->id);
        write_ends(json, to, r, k);
        es_json_text(json, to, "day", es_text_or_null(k->day));
        es_json_number(json, to, "value_percent", k->value_percent);
        es_json_number(json, to, "u_percent", k->u_percent);
        es_json_text(json, to, "role", roles[k->role]);
        es_json_number(json, to, "weight", k->weight);
        es_json_number(json, to, "residual_percent", k->residual_percent);
        es_json_number(json, to, "normalised_residual", k->normalised);
        es_json_number(json, to, "gross_error_percent", k->gross_error_percent);
        es_json_truth(json, to, "suspect", k->suspect);
    }
}

static void write_suspects(es_json *json, es_json_part *root, const es_trust_result *r)
{
    es_json_part *list = es_json_array(json, root, "suspects_of_blunder");
    for (size_t i = 0; i < r->suspect_count; i++) {
        const es_trust_link *k = &r->links[r->suspects[i].link];
        es_json_part *to = es_json_object(json, list, NULL);
        es_json_text(json, to, "kind", kind_name(k->kind));
        es_json_count(json, to, "id", k->id);
        es_json_number(json, to, "normalised_residual", k->normalised);
        es_json_number(json, to, "gross_error_percent", k->gross_error_percent);
        es_json_text(json, to, "text", r->suspects[i].text);
    }
}

static void write_next(es_json *json, es_json_part *root, const es_trust_result *r)
{
    es_json_part *list = es_json_array(json, root, "next");
    for (size_t i = 0; i < r->next_count; i++) {
        const es_trust_next *n = &r->next[i];
        es_json_part *to = es_json_object(json, list, NULL);
        es_json_text(json, to, "measurement", n->measurement);
        es_json_text(json, to, "deck", name_of(r, n->deck));
        es_json_number(json, to, "predicted_u95_percent", n->predicted_u95_percent);
        es_json_text(json, to, "kind", kind_name(n->kind));
        es_json_text(json, to, "other_deck", name_of(r, n->other));
        es_json_text(json, to, "method", es_text_or_null(n->method));
        es_json_number(json, to, "now_u95_percent", n->now_u95_percent);
        es_json_number(json, to, "assumed_u_percent", n->u_percent);
    }
}

/* true, false, or null: nothing that could contradict. */
static void write_consistency(es_json *json, es_json_part *root, const es_trust_result *r)
{
    es_json_number(json, root, "chi_square", r->chi_square);
    es_json_count(json, root, "degrees_of_freedom", (int64_t)r->degrees_of_freedom);
    if (r->consistency == ES_TRUST_UNTESTED)
        es_json_null(json, root, "consistent");
    else
        es_json_truth(json, root, "consistent", r->consistency == ES_TRUST_CONSISTENT);
    es_json_number(json, root, "p", r->p);
    es_json_number(json, root, "critical_residual", r->critical);
    es_json_count(json, root, "removed", (int64_t)r->removed);
    es_json_count(json, root, "groups", (int64_t)r->groups);
    es_json_count(json, root, "untied_decks", (int64_t)r->untied_decks);
}

static es_status begin(const char *schema, const es_trust_result *r, es_json **json)
{
    es_status status = es_json_begin(schema, json);
    if (status != ES_OK)
        return status;
    es_json_text(*json, es_json_root(*json), "day", r->asked_day);
    es_json_number(*json, es_json_root(*json), "level", r->level);
    return ES_OK;
}

/* --- documents ------------------------------------------------------------------------------- */

es_status es_trust_to_json(const es_trust_result *r, char **out)
{
    es_json *json;
    *out = NULL;
    if (begin("evenspool.trust/1", r, &json) != ES_OK)
        return ES_ERR_NOMEM;
    es_json_part *root = es_json_root(json), *decks = es_json_array(json, root, "decks");
    for (size_t i = 0; i < r->deck_count; i++)
        es_trust_deck_to_json(json, es_json_object(json, decks, NULL), &r->decks[i]);
    write_tapes(json, root, r);
    write_consistency(json, root, r);
    write_suspects(json, root, r);
    write_next(json, root, r);
    write_links(json, root, r);
    return es_json_end(json, 1, out);
}

es_status es_decks_to_json(const es_deck_record *decks, size_t count, const es_trust_result *r,
                           char **out)
{
    es_json *json;
    *out = NULL;
    if (begin("evenspool.decks/1", r, &json) != ES_OK)
        return ES_ERR_NOMEM;
    es_json_part *list = es_json_array(json, es_json_root(json), "decks");
    for (size_t i = 0; i < count; i++) {
        es_json_part *to = es_json_object(json, list, NULL);
        es_record_to_json(json, to, ES_RECORD_DECK, &decks[i]);
        for (size_t k = 0; k < r->deck_count; k++)
            if (r->decks[k].latest && r->decks[k].deck == decks[i].id)
                es_trust_deck_to_json(json, to, &r->decks[k]);
    }
    return es_json_end(json, 1, out);
}

static void write_shares(es_json *json, es_json_part *root, const es_trust_result *r)
{
    es_json_part *list = es_json_array(json, root, "shares");
    for (size_t i = 0; i < r->link_count; i++) {
        const es_trust_link *k = &r->links[i];
        if (!(k->share > 0.0))
            continue;
        es_json_part *to = es_json_object(json, list, NULL);
        es_json_text(json, to, "kind", kind_name(k->kind));
        es_json_count(json, to, "id", k->id);
        write_ends(json, to, r, k);
        es_json_number(json, to, "share_percent", 100.0 * k->share);
    }
    es_json_number(json, root, "drift_share_percent", 100.0 * r->walk_share);
}

es_status es_next_to_json(const es_trust_result *r, char **out)
{
    es_json *json;
    *out = NULL;
    if (begin("evenspool.next/1", r, &json) != ES_OK)
        return ES_ERR_NOMEM;
    es_json_part *root = es_json_root(json);
    es_trust_deck_to_json(json, root, &r->decks[r->shares_of]);
    write_next(json, root, r);
    write_shares(json, root, r);
    return es_json_end(json, 1, out);
}
