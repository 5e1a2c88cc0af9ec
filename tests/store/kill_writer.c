/*
 * Writes to a records file until it is killed, and says on standard output, one line a time, what
 * was acknowledged: kill_writer FILE SEED
 *
 *   deck ID NAME | reading ID TOKEN | play ID | job ID | anchor ID    is kept
 *   removing ID                                                       a deck may be gone from now on
 *   removed ID                                                        is gone
 * A job comes with NUDGES nudges, a remark, its as-found reading and a new epoch in one
 * transaction; an anchor with ANSWERS answers and LINES budget lines.
 */
#include "evenspool/base/record_kinds.h"
#include "store/anchors.h"
#include "store/decks.h"
#include "store/jobs.h"
#include "store/plays.h"
#include "store/readings.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { NUDGES = 3, ANSWERS = 3, LINES = 4, PAD_MOST = 20000 };

typedef struct writer {
    es_store *store;
    uint64_t seed;
    unsigned run, count;
    int64_t deck, epoch; /* that all but removals refer to */
    es_error error;
} writer;

static unsigned draw(writer *w, unsigned below)
{
    w->seed = w->seed * 6364136223846793005u + 1442695040888963407u; /* Knuth's MMIX */
    return (unsigned)(w->seed >> 33) % below;
}

static int64_t add_deck(writer *w)
{
    es_deck_record deck;
    int64_t id;
    es_record_blank(ES_RECORD_DECK, &deck);
    snprintf(deck.name, sizeof deck.name, "deck-%u-%u", w->run, w->count);
    strcpy(deck.transport, "cassette");
    if (es_store_add_deck(w->store, &deck, "", &id, &w->error) == ES_OK)
        printf("deck %" PRId64 " %s\n", id, deck.name);
    return id;
}

static es_status add_reading(writer *w, int64_t job, int64_t *id)
{
    static char document[PAD_MOST + 200];
    es_reading_record reading;
    es_record_blank(ES_RECORD_READING, &reading);
    reading.deck = w->deck;
    reading.job = job;
    strcpy(reading.schema, "evenspool.check/1");
    snprintf(document, sizeof document, "{\"token\": \"%u-%u\", \"pad\": \"%0*d\"}", w->run,
             w->count, (int)draw(w, PAD_MOST) + 1, 0);
    reading.document = document;
    return es_store_add_reading(w->store, &reading, id, &w->error);
}

static void write_reading(writer *w)
{
    int64_t id;
    if (add_reading(w, 0, &id) == ES_OK)
        printf("reading %" PRId64 " %u-%u\n", id, w->run, w->count);
}

static void write_play(writer *w)
{
    es_play_record play;
    int64_t id;
    es_record_blank(ES_RECORD_PLAY, &play);
    play.recorded_on = play.played_on = w->epoch;
    play.heard_percent = draw(w, 1000) / 1000.0;
    play.u_percent = 0.1;
    play.dof = 3.0;
    if (es_store_add_play(w->store, &play, &id, &w->error) == ES_OK)
        printf("play %" PRId64 "\n", id);
}

static es_status fill_job(writer *w, es_job_record *job)
{
    es_nudge_record nudges[NUDGES];
    es_remark_record remark = {.job = job->id, .text = "Grease is old."};
    es_epoch_record epoch;
    for (int i = 0; i < NUDGES; i++)
        nudges[i] = (es_nudge_record){.time_s = i, .size_percent = 0.1 * i};
    es_status status = es_store_add_nudges(w->store, job->id, nudges, NUDGES, &w->error);
    if (status == ES_OK)
        status = es_store_add_remark(w->store, &remark, NULL, &w->error);
    if (status == ES_OK)
        status = add_reading(w, job->id, &job->as_found);
    if (status == ES_OK)
        status = es_store_edit_job(w->store, job, &w->error);
    es_record_blank(ES_RECORD_EPOCH, &epoch);
    epoch.deck = w->deck;
    return status == ES_OK ? es_store_start_epoch(w->store, &epoch, NULL, &w->error) : status;
}

static void write_job(writer *w)
{
    es_job_record job;
    es_record_blank(ES_RECORD_JOB, &job);
    job.deck = w->deck;
    es_status status = es_store_begin(w->store, &w->error);
    if (status == ES_OK)
        status = es_store_add_job(w->store, &job, &job.id, &w->error);
    if (status == ES_OK)
        status = fill_job(w, &job);
    if (status == ES_OK && es_store_commit(w->store, &w->error) == ES_OK)
        printf("job %" PRId64 "\n", job.id);
}

static void write_anchor(writer *w)
{
    es_anchor_record anchor;
    es_answer_record answers[ANSWERS];
    es_budget_record lines[LINES];
    int64_t id;
    es_record_blank(ES_RECORD_ANCHOR, &anchor);
    anchor.epoch = w->epoch;
    strcpy(anchor.method, "counter");
    anchor.error_percent = 0.1;
    anchor.u_percent = 0.05;
    anchor.dof = 2.0;
    for (int i = 0; i < ANSWERS; i++) {
        es_record_blank(ES_RECORD_ANSWER, &answers[i]);
        snprintf(answers[i].key, sizeof answers[i].key, "q%d", i);
    }
    for (int i = 0; i < LINES; i++) {
        es_record_blank(ES_RECORD_BUDGET, &lines[i]);
        strcpy(lines[i].what, "watch");
        lines[i].u_percent = 0.01;
    }
    es_anchor_parts parts = {answers, ANSWERS, lines, LINES};
    if (es_store_add_anchor(w->store, &anchor, &parts, &id, &w->error) == ES_OK)
        printf("anchor %" PRId64 "\n", id);
}

static void remove_deck(writer *w)
{
    int64_t id = add_deck(w);
    printf("removing %" PRId64 "\n", id);
    if (es_store_remove_deck(w->store, id, ES_REMOVE_WITH_HISTORY, &w->error) == ES_OK)
        printf("removed %" PRId64 "\n", id);
}

static void write_something(writer *w)
{
    w->count++;
    switch (draw(w, 8)) {
    case 0:
        add_deck(w);
        break;
    case 1:
        write_play(w);
        break;
    case 2:
        write_anchor(w);
        break;
    case 3:
        remove_deck(w);
        break;
    case 4:
    case 5:
        write_job(w);
        break;
    default:
        write_reading(w);
    }
}

int main(int count, char **word)
{
    if (count != 3)
        return 2;
    writer w = {.run = (unsigned)strtoul(word[2], NULL, 10)};
    w.seed = w.run;
    setvbuf(stdout, NULL, _IOLBF, 1 << 12); /* a line goes out as a whole and at once */
    if (es_store_open(word[1], ES_STORE_CREATE, &w.store, &w.error) == ES_OK)
        w.deck = add_deck(&w);
    es_epoch_record epoch;
    if (w.deck > 0 && es_store_latest_epoch(w.store, w.deck, &epoch, &w.error) == ES_OK)
        w.epoch = epoch.id;
    while (w.error.status == ES_OK)
        write_something(&w);
    fprintf(stderr, "%s: %s\n", w.error.code, w.error.text);
    es_store_close(w.store);
    return 1;
}
