/* evenspool deck remark: what was noticed while a deck was on the bench. */
#include "command/deck.h"
#include "command/say.h"

enum { REMARK_JOB, REMARK_RECORDS, REMARK_JSON, REMARK_OPTIONS };

static const es_option options[REMARK_OPTIONS] = {
    [REMARK_JOB] = {"job", 0, ES_OPTION_NUMBER, "NUMBER",
                    "The job it belongs to, as deck show numbers them; without it the last.", 1.0,
                    9007199254740991.0, NULL},
    [REMARK_RECORDS] = ES_RECORDS_OPTION,
    [REMARK_JSON] = ES_RECORDS_JSON_OPTION,
};

static int remark(const es_ledger_use *use, es_ledger *l, const es_arguments *a)
{
    const es_option_value *v = a->values;
    int64_t job = v[REMARK_JOB].given ? (int64_t)v[REMARK_JOB].number : 0;
    es_error error = {0};
    return es_ledger_add_remark(l, a->operands[0], job, a->operands[1], &error) == ES_OK
               ? es_use_done(use, "The remark is kept with the job.")
               : es_use_fail(use, &error);
}

static int run(const es_arguments *a)
{
    es_ledger_use use = {a->values[REMARK_RECORDS].text, a->values[REMARK_JSON].given};
    return es_use_with(&use, ES_LEDGER_WRITE, remark, a);
}

static const char *const details[] = {
    "Keeps a remark with a job of the deck: what was noticed, cleaned, replaced or left alone. A "
    "job "
    "is what the coach kept (evenspool trim --deck, or the page).",
    NULL};

static const char *const examples[] = {
    "evenspool deck remark Workshop \"Pinch roller cleaned; take-up clutch worn, left as it is.\"",
    "For the next time this deck comes in.", NULL};

const es_verb es_verb_deck_remark = {.name = "deck remark",
                                     .about = "keep what was noticed in a job",
                                     .operands = "NAME TEXT",
                                     .operands_least = 2,
                                     .operands_most = 2,
                                     .operand_kind = "",
                                     .options = options,
                                     .option_count = REMARK_OPTIONS,
                                     .details = details,
                                     .examples = examples,
                                     .run = run};
