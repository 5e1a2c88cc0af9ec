/* What the solved network says, as the record that the faces show. */
#include "live/ledger_inside.h"

#include "evenspool/base/text.h"
#include "evenspool/trust/certificate.h"
#include "store/tapes.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define PATHS_MOST 256 /* decks whose tie is told in words: each costs a walk through the network */

es_trust_asked es_trust_asked_defaults(void)
{
    return (es_trust_asked){.level = ES_LEVEL_95, .play_u_percent = (double)NAN};
}

/* --- decks --------------------------------------------------------------------------------------- */

/* "recorded on deck B, which was tied to ..." without its beginning. */
static void tell_tie(es_ledger_net *n, size_t epoch, es_trust_deck *out)
{
    es_certificate_names names = {n->epoch_name, n->method_name, n->day_name};
    es_certificate c;
    char before[ES_NAME_ROOM + 96];
    es_text text = es_text_over(before, sizeof before);
    es_text tie = es_text_over(out->tied_to, sizeof out->tied_to);
    if (es_certificate_make(n->network, &names, epoch, n->unknowns[epoch].asked_day, &c) != ES_OK)
        return;
    es_text_add(&text, "recorded on %s, which %s ", n->epoch_name[epoch], c.tied ? "was" : "is");
    int whole = strncmp(c.path, before, text.length) == 0;
    es_text_add(&tie, "%s", whole ? c.path + text.length : c.path);
}

static void write_deck(es_ledger_net *n, size_t epoch, es_trust_deck *out)
{
    const es_epoch_record *e = &n->epochs[epoch];
    const es_deck_record *deck = &n->decks[n->deck_of[epoch]];
    const es_epoch_result *r = &es_network_epochs(n->network)[epoch];
    out->deck = e->deck;
    out->epoch = e->id;
    out->number = e->number;
    memcpy(out->name, deck->name, sizeof out->name);
    memcpy(out->transport, deck->transport, sizeof out->transport);
    out->latest = n->latest[epoch];
    out->tied = r->tied;
    out->group = r->group;
    out->error_percent = 100.0 * r->estimate.value;
    out->u_percent = 100.0 * r->estimate.u;
    out->dof = r->estimate.dof;
    out->u95_percent = 100.0 * r->estimate.u95;
    es_day_write(n->unknowns[epoch].asked_day, out->day, sizeof out->day);
    if (n->epoch_count <= PATHS_MOST)
        tell_tie(n, epoch, out);
}

/* --- links --------------------------------------------------------------------------------------- */

static void write_figures(const es_ledger_net *n, size_t row, es_trust_link *out)
{
    static const es_trust_role roles[] = {[ES_ROLE_USED] = ES_TRUST_USED,
                                          [ES_ROLE_DRIFT_CHECK] = ES_TRUST_DRIFT_CHECK,
                                          [ES_ROLE_REMOVED] = ES_TRUST_REMOVED};
    const es_observation_result *r = &es_network_observations(n->network)[row];
    memcpy(out->day, n->day_text[row], sizeof out->day);
    out->role = roles[r->role];
    out->weight = r->weight;
    out->residual_percent = 100.0 * r->residual;
    out->normalised = r->normalised;
    out->gross_error_percent = 100.0 * r->gross_error;
    out->suspect = r->suspect;
    out->share = (double)NAN;
}

static const char *name_of_tape(const es_tape_record *tapes, size_t count, int64_t id)
{
    for (size_t i = 0; i < count && id; i++)
        if (tapes[i].id == id)
            return tapes[i].name;
    return "";
}

static void write_play(const es_ledger_net *n, size_t row, const char *tape, es_trust_link *out)
{
    const es_play_record *p = &n->plays[row];
    out->kind = ES_TRUST_PLAY;
    out->id = p->id;
    out->from = n->values[row].recorded_on;
    out->to = n->values[row].deck;
    out->value_percent = p->heard_percent;
    out->u_percent = p->u_percent;
    es_text name = es_text_over(out->tape, sizeof out->tape);
    es_text_add(&name, "%s", tape);
    write_figures(n, row, out);
}

static void write_anchor(const es_ledger_net *n, size_t row, es_trust_link *out)
{
    const es_anchor_record *a = &n->anchors[row - n->play_count];
    out->kind = ES_TRUST_ANCHOR;
    out->id = a->id;
    out->from = ES_NO_DECK;
    out->to = n->values[row].deck;
    out->value_percent = a->error_percent;
    out->u_percent = a->u_percent;
    memcpy(out->method, a->method, sizeof out->method);
    es_text name = es_text_over(out->name, sizeof out->name);
    es_text_add(&name, "%s", n->method_name[row]);
    write_figures(n, row, out);
}

/* --- suspects ------------------------------------------------------------------------------------ */

static void begin_suspect(const es_trust_result *r, const es_trust_link *k, es_text *text)
{
    const char *on = k->day[0] ? " on " : "";
    if (k->kind == ES_TRUST_PLAY)
        es_text_add(text, "Play %lld (recorded on %.120s, played on %.120s%s%s)", (long long)k->id,
                    r->decks[k->from].name, r->decks[k->to].name, on, k->day);
    else
        es_text_add(text, "Anchor %lld (%s of %.120s%s%s)", (long long)k->id, k->name,
                    r->decks[k->to].name, on, k->day);
}

static void write_suspect(const es_trust_result *r, size_t link, size_t all, es_trust_suspect *out)
{
    const es_trust_link *k = &r->links[link];
    es_text text = es_text_over(out->text, sizeof out->text);
    out->link = link;
    begin_suspect(r, k, &text);
    es_text_add(&text,
                " says %+.3f %%; all the others together speak for %+.3f %%. So far off is %.1f "
                "times what chance usually does.",
                k->value_percent, k->value_percent - k->gross_error_percent, fabs(k->normalised));
    es_text_add(&text,
                all > 1 ? " Nothing in the records tells which of the %zu named is wrong: look at "
                          "them again, or measure once more by another way."
                        : " Look at it again, or measure it anew;",
                all);
    if (all == 1)
        es_text_add(&text, " evenspool trust remove %s %lld takes it out.",
                    k->kind == ES_TRUST_PLAY ? "play" : "anchor", (long long)k->id);
}

static void write_suspects(es_trust_result *r, size_t all)
{
    for (size_t i = 0; i < r->link_count; i++)
        if (r->links[i].suspect)
            write_suspect(r, i, all, &r->suspects[r->suspect_count++]);
}

/* --- tapes --------------------------------------------------------------------------------------- */

static es_status write_tape(es_ledger_net *n, const es_tape_record *kept, es_trust_tape *out,
                            es_error *error)
{
    es_tape_record tape = *kept;
    es_status status = es_ledger_certify(n, &tape, error);
    out->tape = tape.id;
    memcpy(out->name, tape.name, sizeof out->name);
    out->tied = !isnan(tape.certificate_percent);
    out->error_percent = tape.certificate_percent;
    out->u_percent = tape.certificate_u_percent;
    out->dof = tape.certificate_dof;
    out->u95_percent = tape.certificate_u95_percent;
    memcpy(out->path, tape.certificate_path, sizeof out->path);
    size_t epoch = es_ledger_net_epoch(n, tape.recorded_epoch);
    out->deck = epoch == ES_NONE ? ES_NO_DECK : epoch;
    return status;
}

/* --- the whole ----------------------------------------------------------------------------------- */

static void write_summary(const es_ledger_net *n, const es_trust_asked *asked, es_trust_result *r)
{
    es_day_write(es_ledger_today(), r->asked_day, sizeof r->asked_day);
    r->level = asked->level;
    r->shares_of = ES_NO_DECK;
    r->p = r->critical = r->walk_share = (double)NAN;
    if (!n->network)
        return;
    static const es_trust_consistency words[] = {[ES_UNTESTED] = ES_TRUST_UNTESTED,
                                                 [ES_CONSISTENT] = ES_TRUST_CONSISTENT,
                                                 [ES_CONTRADICTORY] = ES_TRUST_CONTRADICTORY};
    const es_network_summary *s = es_network_summarise(n->network);
    r->chi_square = s->chi_square;
    r->degrees_of_freedom = s->degrees_of_freedom;
    r->p = s->p;
    r->consistency = words[s->consistency];
    r->critical = s->critical;
    r->removed = s->removed;
    r->groups = s->groups;
    for (size_t i = 0; i < r->deck_count; i++)
        r->untied_decks += r->decks[i].latest && !r->decks[i].tied;
}

static int take_room(const es_ledger_net *n, size_t tapes, es_trust_result *r)
{
    size_t links = n->play_count + n->anchor_count;
    size_t suspects = n->network ? es_network_summarise(n->network)->suspects : 0;
    r->decks = calloc(n->epoch_count + 1, sizeof *r->decks);
    r->tapes = calloc(tapes + 1, sizeof *r->tapes);
    r->links = calloc(links + 1, sizeof *r->links);
    r->suspects = calloc(suspects + 1, sizeof *r->suspects);
    return r->decks && r->tapes && r->links && r->suspects;
}

static es_status write_all(es_ledger_net *n, const es_tape_record *tapes, size_t tape_count,
                           es_trust_result *r, es_error *error)
{
    if (!take_room(n, tape_count, r))
        return es_ledger_no_memory(error);
    for (; r->deck_count < n->epoch_count; r->deck_count++)
        write_deck(n, r->deck_count, &r->decks[r->deck_count]);
    for (; r->link_count < n->play_count; r->link_count++)
        write_play(n, r->link_count, name_of_tape(tapes, tape_count, n->plays[r->link_count].tape),
                   &r->links[r->link_count]);
    for (; r->link_count < n->play_count + n->anchor_count; r->link_count++)
        write_anchor(n, r->link_count, &r->links[r->link_count]);
    if (n->network)
        write_suspects(r, es_network_summarise(n->network)->suspects);
    es_status status = ES_OK;
    for (; r->tape_count < tape_count && status == ES_OK; r->tape_count++)
        status = write_tape(n, &tapes[r->tape_count], &r->tapes[r->tape_count], error);
    return status;
}

static es_status write_shares(es_ledger_net *n, int64_t deck, es_trust_result *r, es_error *error)
{
    size_t epoch = es_ledger_net_latest(n, deck);
    double *share = calloc(r->link_count + 1, sizeof *share);
    if (!share)
        return es_ledger_no_memory(error);
    es_network_shares(n->network, epoch, share, &r->walk_share);
    for (size_t i = 0; i < r->link_count; i++)
        r->links[i].share = share[i];
    r->shares_of = epoch;
    free(share);
    return ES_OK;
}

static es_status compose(es_ledger_net *n, es_ledger *l, const es_trust_asked *asked,
                         es_trust_result *r, es_error *error)
{
    es_tape_record *tapes;
    es_deck_record deck;
    size_t tape_count;
    es_status status = es_store_list_tapes(l->store, &tapes, &tape_count, error);
    if (status == ES_OK)
        status = write_all(n, tapes, tape_count, r, error);
    free(tapes);
    write_summary(n, asked, r);
    if (status == ES_OK && asked->deck)
        status = es_ledger_deck(l, asked->deck, &deck, error);
    if (status == ES_OK && asked->deck)
        status = write_shares(n, deck.id, r, error);
    return status == ES_OK && n->network ? es_ledger_next(n, asked, r, error) : status;
}

es_status es_ledger_solve(es_ledger *l, const es_trust_asked *asked, es_trust_result **out,
                          es_error *error)
{
    es_ledger_net net;
    *out = NULL;
    es_trust_result *result = calloc(1, sizeof *result);
    if (!result)
        return es_ledger_no_memory(error);
    es_status status = es_ledger_net_make(l, asked, &net, error);
    if (status == ES_OK)
        status = compose(&net, l, asked, result, error);
    es_ledger_net_clear(&net);
    if (status != ES_OK) {
        es_trust_result_destroy(result);
        return status;
    }
    *out = result;
    return ES_OK;
}
