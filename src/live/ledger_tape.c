#include "live/ledger_inside.h"

#include "evenspool/base/record_kinds.h"
#include "evenspool/base/text.h"
#include "store/tapes.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

es_tape_record es_ledger_blank_tape(void)
{
    es_tape_record tape;
    es_record_blank(ES_RECORD_TAPE, &tape);
    memcpy(tape.transport, "cassette", sizeof "cassette");
    return tape;
}

/* --- where its error comes from ----------------------------------------------------------------- */

static void forget_certificate(es_tape_record *tape)
{
    tape->certificate_percent = tape->certificate_u_percent = (double)NAN;
    tape->certificate_dof = tape->certificate_u95_percent = (double)NAN;
    tape->certificate_at[0] = tape->certificate_path[0] = '\0';
}

/* A bought tape: as its maker states it. */
static es_status take_statement(es_tape_record *tape, es_error *error)
{
    if (isnan(tape->certificate_percent) && isnan(tape->certificate_u95_percent)) {
        forget_certificate(tape);
        return ES_OK;
    }
    if (!(tape->certificate_u95_percent >= 1e-5 && tape->certificate_u95_percent <= 100.0))
        return es_fail(error, ES_ERR_ARG, "bad-uncertainty",
                       "A stated error needs its uncertainty, above zero: nobody makes a tape "
                       "without doubt.");
    if (!(fabs(tape->certificate_percent) < 50.0))
        return es_fail(error, ES_ERR_ARG, "bad-value",
                       "The stated error is no speed error of a tape; give percent of nominal "
                       "speed.");
    tape->certificate_u_percent = es_ledger_u_of(tape->certificate_u95_percent);
    tape->certificate_dof = (double)INFINITY;
    es_text path = es_text_over(tape->certificate_path, sizeof tape->certificate_path);
    es_text_add(&path, "as stated by its maker");
    if (!tape->certificate_at[0])
        es_ledger_now(tape->certificate_at);
    return ES_OK;
}

static es_status take_recording(es_ledger *l, const es_recording *r, es_tape_record *tape,
                                es_error *error)
{
    es_epoch_record epoch;
    char now[ES_TIME_ROOM];
    es_ledger_now(now);
    if (!isnan(tape->certificate_percent))
        return es_fail(error, ES_ERR_ARG, "contradiction",
                       "A tape's error is either stated by its maker or that of the deck that "
                       "recorded it; give one of both.");
    es_status status = es_ledger_time(r->at, now, tape->recorded_at, error);
    if (status == ES_OK)
        status = es_ledger_epoch_of(l, r->deck, r->epoch, r->at, &epoch, error);
    tape->recorded_epoch = status == ES_OK ? epoch.id : 0;
    return status;
}

static es_status settle_origin(es_ledger *l, es_tape_record *tape, const es_recording *r,
                               es_error *error)
{
    es_status status = es_ledger_class(tape->transport, error);
    if (status != ES_OK)
        return status;
    if (!r)
        return ES_OK;
    tape->recorded_epoch = 0;
    tape->recorded_at[0] = '\0';
    return r->deck ? take_recording(l, r, tape, error) : take_statement(tape, error);
}

/* --- certificate --------------------------------------------------------------------------------- */

/* Finds it anew and, where the ledger may write, keeps it. */
static es_status refresh(es_ledger *l, es_tape_record *tape, es_error *error)
{
    if (!tape->recorded_epoch)
        return ES_OK;
    es_ledger_net net;
    es_trust_asked asked = es_trust_asked_defaults();
    es_status status = es_ledger_net_make(l, &asked, &net, error);
    if (status == ES_OK)
        status = es_ledger_certify(&net, tape, error);
    es_ledger_net_clear(&net);
    if (status == ES_OK && l->mode != ES_LEDGER_READ)
        status = es_store_edit_tape(l->store, tape, error);
    return status;
}

/* --- door ---------------------------------------------------------------------------------------- */

static es_status add(es_ledger *l, const es_tape_record *tape, const es_recording *recording,
                     es_error *error)
{
    static const es_recording bought;
    es_tape_record kept = *tape;
    kept.id = 0;
    es_status status = settle_origin(l, &kept, recording ? recording : &bought, error);
    if (status == ES_OK)
        status = es_store_add_tape(l->store, &kept, &kept.id, error);
    return status == ES_OK ? refresh(l, &kept, error) : status;
}

es_status es_ledger_add_tape(es_ledger *l, const es_tape_record *tape,
                             const es_recording *recording, es_error *error)
{
    es_status status = es_ledger_begin(l, error);
    return status == ES_OK ? es_ledger_end(l, add(l, tape, recording, error), error) : status;
}

static es_status edit(es_ledger *l, const es_tape_record *tape, const es_recording *recording,
                      es_error *error)
{
    es_tape_record kept = *tape;
    es_status status = settle_origin(l, &kept, recording, error);
    if (status == ES_OK)
        status = es_store_edit_tape(l->store, &kept, error);
    return status == ES_OK ? refresh(l, &kept, error) : status;
}

es_status es_ledger_edit_tape(es_ledger *l, const es_tape_record *tape,
                              const es_recording *recording, es_error *error)
{
    es_status status = es_ledger_begin(l, error);
    return status == ES_OK ? es_ledger_end(l, edit(l, tape, recording, error), error) : status;
}

es_status es_ledger_tape(es_ledger *l, const char *name, es_tape_record *out, es_error *error)
{
    es_status status = es_ledger_tape_named(l, name, out, error);
    return status == ES_OK ? refresh(l, out, error) : status;
}

es_status es_ledger_tapes(es_ledger *l, es_tape_record **out, size_t *count, es_error *error)
{
    es_ledger_net net;
    es_trust_asked asked = es_trust_asked_defaults();
    es_status status = es_store_list_tapes(l->store, out, count, error);
    if (status != ES_OK)
        return status;
    status = es_ledger_net_make(l, &asked, &net, error);
    for (size_t i = 0; i < *count && status == ES_OK; i++)
        status = es_ledger_certify(&net, &(*out)[i], error);
    es_ledger_net_clear(&net);
    if (status != ES_OK) {
        free(*out);
        *out = NULL;
        *count = 0;
    }
    return status;
}

es_status es_ledger_remove_tape(es_ledger *l, const char *name, int with_history, es_error *error)
{
    es_tape_record tape;
    es_status status = es_ledger_tape_named(l, name, &tape, error);
    return status == ES_OK
               ? es_store_remove_tape(l->store, tape.id,
                                      with_history ? ES_REMOVE_WITH_HISTORY : ES_REMOVE_UNUSED,
                                      error)
               : status;
}

es_status es_ledger_tape_certificate(const char *path, const char *name, es_tape_record *out,
                                     es_error *error)
{
    es_ledger *l;
    *out = es_ledger_blank_tape();
    es_status status = es_ledger_open(path, ES_LEDGER_READ, &l, error);
    if (status != ES_OK)
        return status;
    status = es_ledger_tape(l, name, out, error);
    es_ledger_close(l);
    if (status != ES_OK || !isnan(out->certificate_percent))
        return status;
    if (!out->recorded_epoch)
        return es_fail(error, ES_ERR_INPUT, "not-tied",
                       "The error of the tape \"%.80s\" is not known; evenspool trust tape takes "
                       "what its maker states (--stated) or which deck recorded it.",
                       out->name);
    return es_fail(error, ES_ERR_INPUT, "not-tied",
                   "The error of the tape \"%.60s\" is not known: it was %.160s. Tie that deck "
                   "first; evenspool trust next says how.",
                   out->name, out->certificate_path);
}
