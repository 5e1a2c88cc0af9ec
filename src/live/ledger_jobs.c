#include "live/ledger_jobs.h"

#include "evenspool/base/record_figures.h"
#include "live/ledger_inside.h"
#include "store/decks.h"
#include "store/jobs.h"
#include "store/readings.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* All that the jobs refer to. */
typedef struct bench_day_book {
    size_t job_count, deck_count, reading_count;
    es_job_record *jobs;
    es_deck_record *decks;
    es_reading_record *readings; /* sorted by id */
} bench_day_book;

static int by_id(const void *a, const void *b)
{
    int64_t x = ((const es_reading_record *)a)->id, y = ((const es_reading_record *)b)->id;
    return (x > y) - (x < y);
}

static es_status read_book(es_store *store, bench_day_book *b, es_error *error)
{
    es_status status = es_store_list_jobs(store, 0, &b->jobs, &b->job_count, error);
    if (status == ES_OK)
        status = es_store_list_decks(store, &b->decks, &b->deck_count, error);
    if (status == ES_OK)
        status = es_store_list_readings(store, 0, &b->readings, &b->reading_count, error);
    if (status == ES_OK && b->reading_count > 0)
        qsort(b->readings, b->reading_count, sizeof *b->readings, by_id);
    return status;
}

static void tell_figure(const bench_day_book *b, int64_t reading, es_adjust adjust, double *error,
                        double *u95)
{
    const es_reading_record key = {.id = reading};
    es_reading_record *found = reading && b->reading_count > 0
                                   ? bsearch(&key, b->readings, b->reading_count, sizeof key, by_id)
                                   : NULL;
    *error = found ? *es_reading_error(found, adjust) : (double)NAN;
    *u95 = found ? *es_reading_u95(found, adjust) : (double)NAN;
}

static es_status tell_job(es_store *store, const bench_day_book *b, const es_job_record *job,
                          es_told_job *out, es_error *error)
{
    es_nudge_record *nudges = NULL;
    out->job = *job;
    for (size_t i = 0; i < b->deck_count; i++)
        if (b->decks[i].id == job->deck)
            memcpy(out->deck, b->decks[i].name, sizeof out->deck);
    tell_figure(b, job->as_found, es_job_adjust(job), &out->found, &out->found_u95);
    tell_figure(b, job->as_left, es_job_adjust(job), &out->left, &out->left_u95);
    es_status status = es_store_list_nudges(store, job->id, &nudges, &out->nudge_count, error);
    free(nudges);
    return status;
}

static es_status tell_all(es_store *store, const bench_day_book *b, es_told_job **out,
                          es_error *error)
{
    es_status status = ES_OK;
    *out = calloc(b->job_count + 1, sizeof **out);
    if (!*out)
        return es_ledger_no_memory(error);
    for (size_t i = 0; i < b->job_count && status == ES_OK; i++)
        status = tell_job(store, b, &b->jobs[i], &(*out)[i], error);
    return status;
}

es_status es_ledger_jobs(es_ledger *ledger, es_told_job **out, size_t *count, es_error *error)
{
    bench_day_book book = {0};
    *out = NULL;
    *count = 0;
    es_status status = read_book(ledger->store, &book, error);
    if (status == ES_OK)
        status = tell_all(ledger->store, &book, out, error);
    if (status == ES_OK)
        *count = book.job_count;
    free(book.jobs);
    free(book.decks);
    free(book.readings);
    if (status != ES_OK) {
        free(*out);
        *out = NULL;
    }
    return status;
}
